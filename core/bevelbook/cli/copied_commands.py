"""Commands that the tool prints to be copied: with the database and the folder of plugins that were named before the
command, so that a copy opens the same ones."""

from __future__ import annotations

from typing import Final

from bevelbook.display.unbroken import print_commands_as
from bevelbook.manual.commands_to_copy import BY, DATABASE, PLUGINS, naming

_named: Final[dict[str, str]] = {}


def name_database(path: str | None) -> None:
    """Say which database was named on the command line of this process; None for none."""
    _name(DATABASE, path)


def name_plugins(folder: str | None) -> None:
    """The same for the folder of plugins."""
    _name(PLUGINS, folder)


def name_person(name: str | None) -> None:
    """The same for the person who writes."""
    _name(BY, name)


def _name(option: str, value: str | None) -> None:
    _named.pop(option, None)
    if value is not None:
        _named[option] = value
    print_commands_as(with_database if _named else None)


def with_database(text: str) -> str:
    """A text in which each command for this laptop names the database that was named before this one, and the folder of
    plugins where it calls any; one that goes by who writes, the person.

    Lines for people get it where they are printed; only a command that goes into data or a file asks for it.

    >>> name_database("sunday.db")
    >>> with_database("Make one with 'bevelbook new'.")
    "Make one with 'bevelbook --db sunday.db new'."
    >>> name_database(None)
    """
    return naming(text, _named)
