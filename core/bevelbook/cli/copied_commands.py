"""Commands that the tool prints to be copied: with the database and the folder of plugins that were named before the
command, so that a copy opens the same ones."""

from __future__ import annotations

import re
import shlex
from typing import Final

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.manual.commands import COMMANDS

_WITHOUT_DATABASE: Final = frozenset({"help", "calculators", "plugin"})
_WITH_PLUGINS: Final = frozenset(
    {"calc", "calculators", "card", "check", "enter", "import", "merge", "plan", "plugin", "record", "serve"}
)
_COMMAND: Final = late_pattern(rf"(?<![^\s'(])bevelbook (?=(?P<name>{'|'.join(COMMANDS)})(?![\w-])(?P<rest>[^\n']*))")
"""A command without options before it, at the beginning of a line, after a blank, a quote or a bracket."""
_OF_OTHERS: Final = late_pattern(r"(?:(?<![^\s(])|^)(?:[Aa]sk (?:for|whoever)|[Hh]ave its owner)\b[^.]*")
"""What somebody else is asked to do: a command in it is for another laptop, with a database of its own."""
_EITHER: Final = late_pattern(f"{_OF_OTHERS.pattern}|(?P<own>{_COMMAND.pattern})")
_DATABASE: Final = "--db"
_PLUGINS: Final = "--plugins"
_named: dict[str, str] = {}


def name_database(path: str | None) -> None:
    """Say which database was named on the command line of this process; None for none."""
    _name(_DATABASE, path)


def name_plugins(folder: str | None) -> None:
    """The same for the folder of plugins."""
    _name(_PLUGINS, folder)


def _name(option: str, value: str | None) -> None:
    _named.pop(option, None)
    if value is not None:
        _named[option] = value


def with_database(text: str) -> str:
    """A text in which each command for this laptop names the database that was named before this one, and the folder of
    plugins where it calls any.

    >>> name_database("sunday.db")
    >>> with_database("Make one with 'bevelbook new'; 'bevelbook help enter' and 'bevelbook --db FILE new' stay.")
    "Make one with 'bevelbook --db sunday.db new'; 'bevelbook help enter' and 'bevelbook --db FILE new' stay."
    >>> with_database("Have its owner run 'bevelbook check' there. 'bevelbook check' here is another thing.")
    "Have its owner run 'bevelbook check' there. 'bevelbook --db sunday.db check' here is another thing."
    >>> name_database(None)
    >>> name_plugins("mine")
    >>> with_database("'bevelbook new' makes one; 'bevelbook calculators', 'bevelbook serve --plugins other'")
    "'bevelbook new' makes one; 'bevelbook --plugins mine calculators', 'bevelbook serve --plugins other'"
    >>> name_plugins(None)
    """
    if not _named or "bevelbook " not in text:
        return text
    return _EITHER.sub(lambda found: _named_again(found) if found["own"] else found[0], text)


def _named_again(found: re.Match[str]) -> str:
    """The beginning of a command, with the options that it lacks."""
    wanted = {_DATABASE: found["name"] not in _WITHOUT_DATABASE, _PLUGINS: found["name"] in _WITH_PLUGINS}
    added = (
        f"{option} {_quoted(_named[option])} "
        for option in wanted
        if wanted[option] and option in _named and not re.search(rf" {option}[ =]", found["rest"])
    )
    return f"{found[0]}{''.join(added)}"


def _quoted(path: str) -> str:
    """A path as a shell takes it, also within a command that stands in single quotes where that can be."""
    whole = shlex.quote(path)
    return f'"{path}"' if whole != path and not set(path) & set("\"$`\\!'") else whole
