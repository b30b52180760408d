"""Waiting until another program that writes is done: who has waited longer asks more often.

SQLite's own waiting favours whoever comes last: its pauses grow. Under many writers one of them would then wait until
it is refused, while others write again and again.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextvars import ContextVar
from random import uniform
from time import monotonic, sleep
from typing import Final

BEFORE_IT_IS_SAID_S: Final = 3.0
"""How long a person is left waiting without a word; our own figure."""
_FIRST_PAUSE_S: Final = 0.02
_SHORTEST_PAUSE_S: Final = 0.0005

say_waiting: ContextVar[Callable[[], None] | None] = ContextVar("say_waiting", default=None)
"""What is called once where a wait becomes long; None where nobody is to hear of it."""


def begin_writing(connection: sqlite3.Connection) -> None:
    """BEGIN IMMEDIATE, once it is this connection's turn; it waits as long as the connection is to wait for a lock.

    Raises sqlite3.OperationalError where another program writes all the time.
    """
    _in_turn(connection, "BEGIN IMMEDIATE")


def wait_until_readable(connection: sqlite3.Connection) -> None:
    """Wait where another program keeps even readers out; it waits as long as the connection is to wait for a lock.

    Raises sqlite3.OperationalError where that does not end, and sqlite3.DatabaseError where the file is not a database.
    """
    _in_turn(connection, "SELECT count(*) FROM sqlite_master")


def _in_turn(connection: sqlite3.Connection, statement: str) -> None:
    patience_ms = connection.execute("PRAGMA busy_timeout").fetchone()[0]
    connection.execute("PRAGMA busy_timeout = 0")
    try:
        _tried_again(connection, statement, patience_ms / 1000)
    finally:
        connection.execute(f"PRAGMA busy_timeout = {patience_ms}")


def _tried_again(connection: sqlite3.Connection, statement: str, patience_s: float) -> None:
    began = monotonic()
    say = say_waiting.get()
    while True:
        try:
            connection.execute(statement)
        except sqlite3.OperationalError as fault:
            waited_s = monotonic() - began
            if "locked" not in str(fault) or waited_s >= patience_s:
                raise
        else:
            return
        if say is not None and waited_s >= BEFORE_IT_IS_SAID_S:
            say()
            say = None
        pause_s = max(_SHORTEST_PAUSE_S, _FIRST_PAUSE_S / (1 + waited_s) ** 2)
        sleep(min(uniform(0.5, 1.5) * pause_s, patience_s))
