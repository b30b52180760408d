"""Questions in SQL that a visitor wrote have threads and connections of their own, so that no page waits for them.

One function of SQL may work for long on two long texts, and nothing breaks that off: SQLite looks at the clock between
its steps alone.
"""

from __future__ import annotations

import asyncio
import sqlite3
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Final, TypeVar
from urllib.parse import parse_qsl

T = TypeVar("T")

THREADS: Final = 2
_OWN_SQL: Final = frozenset({"sql", "_where"})
"""The arguments of an address whose value is SQL."""


def holds_own_sql(query: bytes) -> bool:
    """Whether the query of an address asks something in a visitor's own SQL."""
    return any(name in _OWN_SQL for name, _ in parse_qsl(query.decode("latin-1")))


class VisitorsThreads:
    """A few threads for one database, each with the connection that ``connect`` opens for it."""

    def __init__(self, connect: Callable[[], sqlite3.Connection]) -> None:
        self._connect = connect
        self._pool = ThreadPoolExecutor(THREADS, thread_name_prefix="visitors_sql")
        self._of_thread = threading.local()

    async def answer(self, question: Callable[[sqlite3.Connection], T], within_s: float) -> T:
        """What a question gives. Raises TimeoutError where it takes longer; then it goes on, and others wait for its
        thread."""

        def asked() -> T:
            connection: sqlite3.Connection | None = getattr(self._of_thread, "connection", None)
            if connection is None:
                connection = self._of_thread.connection = self._connect()
            return question(connection)

        return await asyncio.wait_for(asyncio.wrap_future(self._pool.submit(asked)), within_s)

    def close(self) -> None:
        """Take no more questions, and leave those that wait."""
        self._pool.shutdown(wait=False, cancel_futures=True)
