"""A request that Datasette cannot read though its arguments are taken: which they are, or that nothing answers the
method.

Datasette 0.65 answers these as faults of the server.
"""

from __future__ import annotations

import errno
from pathlib import Path
from traceback import walk_tb
from typing import Any, Final

from bevelbook.declare.printable import printable
from bevelbook.web.host.addresses import Owner, owner_of

METHOD: Final = "Only GET and HEAD are answered here: the database is served read-only."
NO_PAGE: Final = "There is no such page."
READING_METHODS: Final = ("GET", "HEAD")
_OURS: Final = str(Path(__file__).parents[2])
_SORTS: Final = ("_sort", "_sort_desc")


def status_of_odd_request(datasette: Any, request: Any, fault: Exception) -> tuple[int, str] | None:
    """Status and words where an unexpected exception comes from what was asked; None where it is the server's own.

    That is so on Datasette's pages of our databases, where nothing of ours raised it.
    """
    if _came_through_ours(fault):
        return None
    if owner_of(datasette, request.path) is not Owner.DATASETTE:
        return (404, NO_PAGE) if _names_no_file(fault) else None
    if request.method not in READING_METHODS:
        return 405, METHOD
    if _names_no_file(fault):
        return 404, NO_PAGE
    given = _arguments(request)
    if not given:
        return None
    names = ", ".join(dict.fromkeys(name for name, _ in given))
    return 400, f"The address cannot be read: look at {names} in it."


def _names_no_file(fault: Exception) -> bool:
    """Whether an address was looked for as a file, under a name that no file can have."""
    if isinstance(fault, OSError):
        return fault.errno in (errno.ENAMETOOLONG, errno.EINVAL)
    return isinstance(fault, ValueError) and "null byte" in str(fault)


def words_of_refused_argument(datasette: Any, request: Any, message: str) -> str:
    """Datasette's words on an address of ours, with the arguments that they may be about: where they say none."""
    owner = owner_of(datasette, request.path)
    given = _arguments(request) if owner is Owner.DATASETTE else []
    if owner is Owner.OURS and request.method in READING_METHODS:
        given = [(name, value) for name in request.args for value in request.args.getlist(name) if value.strip()]
    sorts = [_shown(name, value) for name, value in given if name in _SORTS]
    if sorts and "sort" in message.lower():
        return f"{message}: {' and '.join(sorts)}"
    if not given or any(f"{name}=" in message or (name[:1] == "_" and name in message) for name, _ in given):
        return message
    return f"{message.rstrip('.')}. Look at {', '.join(dict.fromkeys(_shown(*one) for one in given))} in the address."


def _shown(name: str, value: str) -> str:
    return printable(f"{name}={value[:80]}")


def _arguments(request: Any) -> list[tuple[str, str]]:
    """Those that Datasette reads in its own way: names with a line below at the beginning or twice inside."""
    return [
        (name, value)
        for name in request.args
        if name.startswith("_") or "__" in name or name == "sql"
        for value in request.args.getlist(name)
    ]


def _came_through_ours(fault: Exception) -> bool:
    return any(frame.f_code.co_filename.startswith(_OURS) for frame, _ in walk_tb(fault.__traceback__))
