"""Commands that the tool prints to be copied: with the database that was named before the command, so that a copy opens
the same one."""

from __future__ import annotations

import re
import shlex
from typing import Final

from bevelbook.manual.commands import COMMANDS

_WITHOUT_DATABASE: Final = frozenset({"help", "calculators", "plugin"})
_COMMAND: Final = re.compile(
    rf"(?<![^\s'(])bevelbook (?=(?:{'|'.join(name for name in COMMANDS if name not in _WITHOUT_DATABASE)})(?![\w-]))"
    r"(?![^\n']* --db[ =])"
)
"""A command that opens a database and names none, at the beginning of a line, after a blank, a quote or a bracket."""
_OF_OTHERS: Final = re.compile(r"(?:(?<![^\s(])|^)(?:[Aa]sk (?:for|whoever)|[Hh]ave its owner)\b[^.]*")
"""What somebody else is asked to do: a command in it is for another laptop, with a database of its own."""
_EITHER: Final = re.compile(f"{_OF_OTHERS.pattern}|(?P<own>{_COMMAND.pattern})")
_named: list[str] = []


def name_database(path: str | None) -> None:
    """Say which database was named on the command line of this process; None for none."""
    _named[:] = [] if path is None else [path]


def with_database(text: str) -> str:
    """A text in which each command for this laptop names the database that was named before this one.

    >>> name_database("sunday.db")
    >>> with_database("Make one with 'bevelbook new'; 'bevelbook help enter' and 'bevelbook --db FILE new' stay.")
    "Make one with 'bevelbook --db sunday.db new'; 'bevelbook help enter' and 'bevelbook --db FILE new' stay."
    >>> with_database("Have its owner run 'bevelbook check' there. 'bevelbook check' here is another thing.")
    "Have its owner run 'bevelbook check' there. 'bevelbook --db sunday.db check' here is another thing."
    >>> name_database(None)
    >>> with_database("'bevelbook new' makes one")
    "'bevelbook new' makes one"
    """
    if not _named or "bevelbook " not in text:
        return text
    return _EITHER.sub(lambda found: f"bevelbook --db {_quoted(_named[0])} " if found["own"] else found[0], text)


def _quoted(path: str) -> str:
    """A path as a shell takes it, also within a command that stands in single quotes where that can be."""
    whole = shlex.quote(path)
    return f'"{path}"' if whole != path and not set(path) & set("\"$`\\!'") else whole
