"""Commands to copy in a text: with the database and the folder of plugins that they are for, so that a copy opens the
same ones, and with who writes where a command goes by that."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from typing import Final

from bevelbook.declare.in_command import in_command
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.manual.commands import COMMANDS, WRITING, WRITING_WITH

DATABASE: Final = "--db"
PLUGINS: Final = "--plugins"
BY: Final = "--by"
_WITHOUT_DATABASE: Final = frozenset({"help", "calculators", "plugin"})
_WITH_PLUGINS: Final = frozenset(
    {"calc", "calculators", "card", "check", "enter", "import", "merge", "plan", "plugin", "record", "serve"}
)
_OF_NOBODY: Final = frozenset({"backup", "enter", "new"})
"""Those that write what has no name of a writer, or of whoever holds a phone."""
WITH_PERSON: Final[Mapping[str, Collection[str]]] = {
    **{name: frozenset() for name in WRITING - _OF_NOBODY},
    **WRITING_WITH,
    "merge": frozenset({"--settle"}),
}
"""Those that go by who writes, as what they write has that name; with the options of which one makes them write, where
they write with these alone."""
_ONLY_LISTS: Final = frozenset({"--fields", "--list"})
_WORDS: Final = r"""(?:[^'"\\\n]|\\.|"[^"\n]*"|(?<=\s)'[^'\n]*')*"""
"""What is behind a command's name, with words in quotes; the quote that ends a command in a sentence is none of it."""
_COMMAND: Final = late_pattern(rf"(?<![^\s'(])bevelbook (?=(?P<name>{'|'.join(COMMANDS)})(?![\w-])(?P<rest>{_WORDS}))")
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
    >>> naming("'bevelbook take-back 5' undoes it; 'bevelbook check', 'bevelbook check --place'", {"--by": "ana"})
    "'bevelbook --by ana take-back 5' undoes it; 'bevelbook check', 'bevelbook --by ana check --place'"
    """
    if not named or "bevelbook " not in text:
        return text
    return _EITHER.sub(lambda found: _with_options(found, named) if found["own"] else found[0], text)


def _with_options(found: re.Match[str], named: Mapping[str, str]) -> str:
    """The beginning of a command, with the options that it lacks."""
    takes = {
        DATABASE: found["name"] not in _WITHOUT_DATABASE,
        PLUGINS: found["name"] in _WITH_PLUGINS,
        BY: _goes_by_who_writes(found["name"], found["rest"]),
    }
    added = (
        f"{option} {in_command(named[option])} "
        for option in takes
        if takes[option] and option in named and not _has(found["rest"], option)
    )
    return f"{found[0]}{''.join(added)}"


def _goes_by_who_writes(command: str, rest: str) -> bool:
    writes = WITH_PERSON.get(command)
    if writes is None or any(_has(rest, option) for option in _ONLY_LISTS):
        return False
    return not writes or any(_has(rest, option) for option in writes)


def _has(rest: str, option: str) -> bool:
    """Whether the words of a command have an option."""
    return re.search(rf" {option}(?![\w-])", rest) is not None
