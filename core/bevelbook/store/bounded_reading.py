"""What a connection to a file may do that came from anywhere: its schema is not trusted, damaged pages are seen before
they are used, and no question goes on without end.

All figures are our own.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from time import monotonic
from typing import Final

SECONDS_FOR_ANY: Final = 60.0
SECONDS_PER_MB: Final = 1.0
"""How long SQLite may work for one command that reads, without what happens between its questions: many times what the
slowest command takes on a database of that size."""
_STEPS_BETWEEN_LOOKS: Final = 20_000
_LONGEST_BETWEEN_S: Final = 0.25
"""Between two looks more than that is time in which a person or another part of the program was at work."""
_MAY_DISTRUST: Final = sqlite3.sqlite_version_info >= (3, 41)
"""SQLite before 3.41 refuses json_valid(), which our tables ask, where a schema is not trusted."""


def distrust(connection: sqlite3.Connection) -> None:
    """Trust nothing of the file's schema that reaches beyond it, and look at each page before it is used."""
    if _MAY_DISTRUST:
        connection.execute("PRAGMA trusted_schema = OFF")
    connection.execute("PRAGMA cell_size_check = ON")


def bound_work(connection: sqlite3.Connection, size_bytes: int) -> None:
    """Interrupt what a connection asks once SQLite worked longer than for any sound database of that size."""
    connection.set_progress_handler(
        _work_done(SECONDS_FOR_ANY + SECONDS_PER_MB * size_bytes / 1e6), _STEPS_BETWEEN_LOOKS
    )


def _work_done(most_s: float) -> Callable[[], bool]:
    last = monotonic()
    worked = 0.0

    def is_too_much() -> bool:
        nonlocal last, worked
        now = monotonic()
        worked += min(now - last, _LONGEST_BETWEEN_S)
        last = now
        return worked > most_s

    return is_too_much
