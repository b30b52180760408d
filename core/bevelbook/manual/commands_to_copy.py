"""Commands to copy in a text: with the database and the folder of plugins that they are for, so that a copy opens the
same ones, and with who writes where a command goes by that."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from bevelbook.declare.in_command import in_command
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.manual.commands import COMMANDS

DATABASE: Final = "--db"
PLUGINS: Final = "--plugins"
BY: Final = "--by"
_WITHOUT_DATABASE: Final = frozenset({"help", "calculators", "plugin"})
_WITH_PLUGINS: Final = frozenset(
    {"calc", "calculators", "card", "check", "enter", "import", "merge", "plan", "plugin", "record", "serve"}
)
_WITH_PERSON: Final = frozenset({"take-back"})
"""Those that without a name do another thing, or nothing."""
_COMMAND: Final = late_pattern(rf"(?<![^\s'(])bevelbook (?=(?P<name>{'|'.join(COMMANDS)})(?![\w-])(?P<rest>[^\n']*))")
"""A command without options before it, at the beginning of a line, after a blank, a quote or a bracket."""
_OF_OTHERS: Final = late_pattern(
    r"(?:(?<![^\s(])|^)(?:[Aa]sk (?:for|whoever)|[Hh]ave its owner|[Ww]hoever gets it)\b[^.]*"
    r"|'bevelbook [^'\n]*' (?:there|in another window)\b"
)
"""What somebody else is asked to do, for another laptop with a database of its own; and what runs already."""
_EITHER: Final = late_pattern(f"{_OF_OTHERS.pattern}|(?P<own>{_COMMAND.pattern})")


def naming(text: str, named: Mapping[str, str]) -> str:
    """A text in which each command for this laptop has the options of ``named`` that it takes and lacks: ``--db``,
    ``--plugins`` and ``--by`` with their values.

    >>> naming("'bevelbook new' makes one; 'bevelbook help enter', 'bevelbook --db FILE new'", {"--db": "a.db"})
    "'bevelbook --db a.db new' makes one; 'bevelbook help enter', 'bevelbook --db FILE new'"
    >>> naming("Have its owner run 'bevelbook check'. 'bevelbook check' here is another thing.", {"--db": "a.db"})
    "Have its owner run 'bevelbook check'. 'bevelbook --db a.db check' here is another thing."
    >>> naming("'bevelbook new' makes one; 'bevelbook calculators', 'bevelbook serve --plugins b'", {"--plugins": "a"})
    "'bevelbook new' makes one; 'bevelbook --plugins a calculators', 'bevelbook serve --plugins b'"
    >>> naming("'bevelbook take-back 5' undoes it; 'bevelbook check'", {"--by": "ana"})
    "'bevelbook --by ana take-back 5' undoes it; 'bevelbook check'"
    """
    if not named or "bevelbook " not in text:
        return text
    return _EITHER.sub(lambda found: _with_options(found, named) if found["own"] else found[0], text)


def _with_options(found: re.Match[str], named: Mapping[str, str]) -> str:
    """The beginning of a command, with the options that it lacks."""
    takes = {
        DATABASE: found["name"] not in _WITHOUT_DATABASE,
        PLUGINS: found["name"] in _WITH_PLUGINS,
        BY: found["name"] in _WITH_PERSON,
    }
    added = (
        f"{option} {in_command(named[option])} "
        for option in takes
        if takes[option] and option in named and not re.search(rf" {option}[ =]", found["rest"])
    )
    return f"{found[0]}{''.join(added)}"
