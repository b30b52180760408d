"""The clock and the ids of the store, steered: the same acts give the same ids, times and versions each time."""

from __future__ import annotations

import datetime as datetime_module
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta, tzinfo
from random import Random
from typing import Any, Final
from uuid import UUID

import uuid_utils

START: Final = datetime(2026, 5, 1, 8, tzinfo=UTC)
"""When every clock that is right begins."""


class Steering:
    """What the store takes for now, and where the random part of its ids comes from. Each look moves the clock on by a
    millisecond."""

    def __init__(self) -> None:
        self.at = START
        self.random = Random(0)

    def now(self) -> datetime:
        self.at += timedelta(milliseconds=1)
        return self.at

    def stamp(self) -> str:
        """The current time as the database stores it."""
        return self.now().isoformat(timespec="milliseconds").replace("+00:00", "Z")

    def uuid7(self) -> UUID:
        """A time-ordered id (RFC 9562, section 5.7)."""
        number = int(self.now().timestamp() * 1000) << 80 | self.random.getrandbits(80)
        number = number & ~(0xF << 76) | 7 << 76
        return UUID(int=number & ~(0x3 << 62) | 0x2 << 62)


@contextmanager
def steered(steering: Steering) -> Iterator[None]:
    """For the duration the store's own clock and ids are those of ``steering``."""

    class Clock(datetime):
        @classmethod
        def now(cls, tz: tzinfo | None = None) -> Clock:
            found = steering.now().astimezone(tz)
            return cls.fromisoformat(found.isoformat())

    module: Any = datetime_module
    kept = module.datetime, uuid_utils.uuid7
    module.datetime, uuid_utils.uuid7 = Clock, steering.uuid7  # type: ignore[assignment]
    try:
        yield
    finally:
        module.datetime, uuid_utils.uuid7 = kept


def steer_sql(connection: sqlite3.Connection, steering: Steering) -> None:
    """Have the triggers of a connection take the time and their random numbers from ``steering`` too."""

    def strftime(form: str, instant: str) -> str:
        assert (form, instant) == ("%Y-%m-%dT%H:%M:%fZ", "now"), "the only time that the store asks SQLite for"
        return steering.stamp()

    connection.create_function("strftime", 2, strftime)
    connection.create_function("randomblob", 1, lambda count: steering.random.randbytes(count))
