"""What the registry left out of a plugin, as flaws with what to write instead."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

import bevelbook
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.examining.declared_lines import DeclaredLines
from bevelbook.examining.flaw import LACKING, LEFT_OUT, Flaw
from bevelbook.plugin.registry import Failure

_PLACE: Final = late_pattern(r" \([^()]+\.py, line \d+\)$")
_MEMORY: Final = late_pattern(r"\b(raised|imported:) MemoryError")
_NAMELESS: Final = late_pattern(r"\bNameError: name '(\w+)' is not defined")
_LACKING: Final = late_pattern("there is no unit of that name|which no plugin offers")
MEMORY: Final = "memory"
"""The code of what wants too much memory as it is loaded: here that was refused, elsewhere it would be had."""
_REMEDIES: Final = (
    ("it needs a newer bevelbook", "Install a newer bevelbook, or write it for this one."),
    ("BEVELBOOK_API is", "Write BEVELBOOK_API = 1, or the version that it was written for."),
    ("bevelbook has nothing named", "Import what there is: DEVELOPERS.md lists it."),
    ("kept results of both stand together", "Raise its version, or give it a name of its own."),
    ("replaces already", "Use one of the two."),
    ("which no plugin offers", "Put the name of a calculator behind replaces=, or leave that out."),
    ("a record is its fields alone", "Leave that out of the record, and do it in compute."),
    ("a record stands alone", "Write all its fields into that record itself."),
    ("without a type", "Put the type behind the name, as in mass_g: float = quantity(...)."),
    ("has to be a tuple of", "Put brackets around, and a comma behind each, also behind one alone: sources=(VOLUME,)."),
    ("is not a record", "Put @record on the line before that class."),
    ("is called without", "Write what is missing between the brackets of that call, each by its name."),
    ("SyntaxError", "Python cannot read the file: mend that line."),
    ("ModuleNotFoundError", "Install what it imports beside bevelbook, or leave that import out."),
    ("MemoryError", "Have it do with less: a calculator may have 1 GB."),
    ("SystemExit", "Leave out what ends the program: the file is imported, not run."),
    ("is not a hook", "Write the hook's name as one of those."),
    ("lacks the @hookimpl mark", "Put @hookimpl on the line before that function."),
    ("PluginValidationError", "Give the hook the arguments that it is declared with, and no others."),
    (
        "there is no unit of that name",
        "Declare it in a unit of 'bevelbook help units', or add your own as 'bevelbook help hooks' shows first.",
    ),
    ("no field is declared in it", "Declare it in the unit that is named, and let its name end so."),
    ("bevelbook_units returned", "Mend that Unit, or leave it out: what it says is there already may be used."),
    ("but its name says", "Have the field's name end in its unit, as in mass_g for g."),
    ("is offered by", "Give it another name."),
    ("which is not a Calculator", "Return Calculator(...) objects from bevelbook_calculators."),
    ("raised TypeError", "Return a list or a tuple from the hook, even of one."),
    ("without a specifier", "Write it as mass_g: float = quantity(...), or with whole, text, choice, date or listing."),
    ("names no source", "Say where the formula comes from: sources=(Source(...),)."),
    ("its sql", "Try the SELECT on a database made with 'bevelbook demo'."),
    ("reference table", "Put the CSV file into the package that the DataSet names, a source in each row."),
)


def flaws_of_left_out(failures: Iterable[Failure], declared: DeclaredLines) -> Iterator[Flaw]:
    """Each thing that was left out, with its line and what to do."""
    for failure in failures:
        place = declared.named_in(failure.reason)
        yield Flaw(
            _code_of(failure.reason),
            f"left out: {_PLACE.sub('', failure.reason).rstrip('.?')}",
            remedy_of(failure.reason),
            place.file,
            place.line,
            True,
        )


def _code_of(reason: str) -> str:
    if _MEMORY.search(reason):
        return MEMORY
    return LACKING if _LACKING.search(reason) else LEFT_OUT


def remedy_of(reason: str) -> str:
    """What to do about a reason of the registry.

    >>> remedy_of("cannot be imported: NameError: name 'Unit' is not defined (mine.py, line 3)")
    'Add Unit to the names that the file imports from bevelbook.'
    """
    nameless = _NAMELESS.search(reason)
    if nameless is not None:
        name = nameless[1]
        if name in bevelbook.__all__:
            return f"Add {name} to the names that the file imports from bevelbook."
        return f"Write {name} as it is called where it is made, above that line, or import it."
    return next((remedy for words, remedy in _REMEDIES if words in reason), "Mend it as the words say.")
