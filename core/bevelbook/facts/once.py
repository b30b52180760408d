"""Facts that several parts of one report ask for, worked out once: what a diff lost, the shelf, the parts in use.

The report says that it is being made (:func:`worked_out_once`); as long as it is, whoever asks again of that connection
gets what was found before. Outside of a report nothing is kept, as nobody could say until when it holds.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import wraps
from typing import Any, Final, TypeVar

T = TypeVar("T")

_KEPT: Final[ContextVar[tuple[sqlite3.Connection, dict[str, Any]] | None]] = ContextVar("kept", default=None)


@contextmanager
def worked_out_once(connection: sqlite3.Connection) -> Iterator[None]:
    """Keep what is worked out of this connection meanwhile. Nothing may be written with it as long as it lasts."""
    held = _KEPT.get()
    if held is not None and held[0] is connection:
        yield
        return
    token = _KEPT.set((connection, {}))
    try:
        yield
    finally:
        _KEPT.reset(token)


def kept_meanwhile(connection: sqlite3.Connection, what: str) -> dict[Any, Any]:
    """What is kept of one kind, to be looked into and added to; one of its own where no report is being made."""
    held = _KEPT.get()
    found: dict[Any, Any] = {} if held is None or held[0] is not connection else held[1].setdefault(what, {})
    return found


def once(function: Callable[[sqlite3.Connection], T]) -> Callable[[sqlite3.Connection], T]:
    """Have a function of the connection be called once while a report is made. Nobody may change what it gives."""

    @wraps(function)
    def asked(connection: sqlite3.Connection) -> T:
        kept = kept_meanwhile(connection, f"{function.__module__}.{function.__qualname__}")
        if None not in kept:
            kept[None] = function(connection)
        found: T = kept[None]
        return found

    return asked
