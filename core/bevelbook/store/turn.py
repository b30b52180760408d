"""Waiting until another program that writes is done: whoever came first begins first.

SQLite's own waiting favours whoever comes last: its pauses grow. Under many writers one of them would then wait until
it is refused, while others write again and again. So those who wait stand in a queue, and only the first of them asks
SQLite.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextvars import ContextVar
from time import monotonic, sleep
from typing import Final

from bevelbook.store.queue_for_file import QueueForFile, is_queue_formed

BEFORE_IT_IS_SAID_S: Final = 3.0
"""How long a person is left waiting without a word; our own figure."""
_PAUSE_S: Final = 0.002

say_waiting: ContextVar[Callable[[], None] | None] = ContextVar("say_waiting", default=None)
"""What is called once where a wait becomes long; None where nobody is to hear of it."""


class _Patience:
    """How long is still waited, and whether it was said."""

    def __init__(self, patience_s: float) -> None:
        self._began = monotonic()
        self._patience_s = patience_s
        self._say = say_waiting.get()

    @property
    def left_s(self) -> float:
        return self._patience_s - (monotonic() - self._began)

    def before_it_is_said_s(self) -> float:
        """How long to wait until the next word, or to the end."""
        if self._say is None:
            return self.left_s
        return min(self.left_s, max(0.0, BEFORE_IT_IS_SAID_S - (monotonic() - self._began)))

    def say(self) -> None:
        """Say it once, where the wait is long."""
        if self._say is not None and monotonic() - self._began >= BEFORE_IT_IS_SAID_S:
            self._say()
            self._say = None


def begin_writing(connection: sqlite3.Connection) -> None:
    """BEGIN IMMEDIATE, once it is this connection's turn; it waits as long as the connection is to wait for a lock.

    Raises sqlite3.OperationalError where another program writes all the time.
    """
    patience_ms = connection.execute("PRAGMA busy_timeout").fetchone()[0]
    patience = _Patience(patience_ms / 1000)
    file = connection.execute("PRAGMA database_list").fetchone()[2]
    connection.execute("PRAGMA busy_timeout = 0")
    try:
        if not is_queue_formed(file) and _began_at_once(connection):
            return
        with QueueForFile(file) as queue:
            while queue.is_waiting and patience.left_s > 0:
                queue.wait(patience.before_it_is_said_s())
                patience.say()
            _try_again(connection, "BEGIN IMMEDIATE", patience)
    finally:
        connection.execute(f"PRAGMA busy_timeout = {patience_ms}")


def _began_at_once(connection: sqlite3.Connection) -> bool:
    try:
        connection.execute("BEGIN IMMEDIATE")
    except sqlite3.OperationalError as fault:
        if "locked" not in str(fault):
            raise
        return False
    return True


def wait_until_readable(connection: sqlite3.Connection) -> None:
    """Wait where another program keeps even readers out; it waits as long as the connection is to wait for a lock.

    Raises sqlite3.OperationalError where that does not end, and sqlite3.DatabaseError where the file is not a database.
    """
    patience_ms = connection.execute("PRAGMA busy_timeout").fetchone()[0]
    connection.execute("PRAGMA busy_timeout = 0")
    try:
        _try_again(connection, "SELECT count(*) FROM sqlite_master", _Patience(patience_ms / 1000))
    finally:
        connection.execute(f"PRAGMA busy_timeout = {patience_ms}")


def _try_again(connection: sqlite3.Connection, statement: str, patience: _Patience) -> None:
    while True:
        try:
            connection.execute(statement)
        except sqlite3.OperationalError as fault:
            if "locked" not in str(fault) or patience.left_s <= 0:
                raise
        else:
            return
        patience.say()
        from random import uniform

        sleep(min(uniform(0.5, 1.5) * _PAUSE_S, max(0.0, patience.left_s)))
