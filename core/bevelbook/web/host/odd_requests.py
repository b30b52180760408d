"""A request that Datasette cannot read: which argument of the address it is, or that nothing answers the method.

Datasette 0.65 answers these as faults of the server.
"""

from __future__ import annotations

import errno
import json
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from traceback import walk_tb
from typing import Any, Final

from bevelbook.web.host.addresses import Owner, owner_of

METHOD: Final = "Only GET and HEAD are answered here: the database is served read-only."
NO_PAGE: Final = "There is no such page."
READING_METHODS: Final = ("GET", "HEAD")
_OURS: Final = str(Path(__file__).parents[2])
_SORTS: Final = ("_sort", "_sort_desc")


def _is_whole(text: str) -> bool:
    with suppress(ValueError):
        int(text)
        return True
    return False


def _is_through(text: str) -> bool:
    with suppress(ValueError):
        found = json.loads(text)
        return isinstance(found, dict) and {"table", "column", "value"} <= found.keys()
    return False


def _is_list(text: str) -> bool:
    with suppress(ValueError):
        return not text.startswith("[") or isinstance(json.loads(text), list)
    return False


def _is_facet(text: str) -> bool:
    with suppress(ValueError):
        return not text.startswith("{") or isinstance(json.loads(text), dict)
    return False


_READ_BY: Final[tuple[tuple[str, Callable[[str], bool], str], ...]] = (
    ("_timelimit", _is_whole, "it takes milliseconds"),
    ("_through", _is_through, "it takes JSON with table, column and value"),
    ("_facet", _is_facet, "it takes the name of a column"),
    ("__in", _is_list, "it takes values with commas between them, or a list in JSON"),
    ("__notin", _is_list, "it takes values with commas between them, or a list in JSON"),
    ("_next", _is_whole, "it takes what the link to the next page has"),
)
"""Arguments, or the ends of their names, that have to be in some form, with a test of it."""


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
    for ending, can_be_read, form in _READ_BY:
        for name, value in given:
            if (name == ending or (ending.startswith("__") and name.endswith(ending))) and not can_be_read(value):
                return 400, f"The argument {name}={value[:80]} of the address cannot be read: {form}."
    if not given:
        return None
    names = ", ".join(dict.fromkeys(name for name, _ in given))
    return 400, f"The address cannot be read: look at {names} in it."


def _names_no_file(fault: Exception) -> bool:
    """Whether an address was looked for as a file, under a name that no file can have."""
    if isinstance(fault, OSError):
        return fault.errno in (errno.ENAMETOOLONG, errno.EINVAL)
    return isinstance(fault, ValueError) and "null byte" in str(fault)


def words_of_refused_argument(request: Any, message: str) -> str:
    """Datasette's words on an argument of the address, with the argument."""
    sorts = [f"{name}={value[:80]}" for name, value in _arguments(request) if name in _SORTS]
    return f"{message}: {' and '.join(sorts)}" if sorts and "sort" in message.lower() else message


def _arguments(request: Any) -> list[tuple[str, str]]:
    """Those that Datasette reads in its own way: names with a line below at the beginning or twice inside."""
    return [
        (name, value)
        for name in request.args
        if name.startswith("_") or "__" in name
        for value in request.args.getlist(name)
    ]


def _came_through_ours(fault: Exception) -> bool:
    return any(frame.f_code.co_filename.startswith(_OURS) for frame, _ in walk_tb(fault.__traceback__))
