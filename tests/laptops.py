"""Databases of several laptops that are put in place and copied in a millisecond: opening one takes twelve.

A connection stays open while the bytes of its file are replaced. SQLite sees by the change counter that the file is
another one, and by the schema's cookie whether it has to read the schema again: so every schema that is kept gets a
cookie made from itself.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from functools import cache
from itertools import count
from pathlib import Path
from typing import Final
from zlib import crc32

from conftest import empty_database
from steered import Steering, steer_sql

from bevelbook.records import KINDS

_COOKIE, _COUNTER, _VALID_FOR = 40, 24, 92
"""Where they are in the first page of a database (the file format of SQLite, section 1.3)."""
_COUNTERS: Final = count(4096, 4096)
"""Far apart: SQLite counts on from each with every commit, and none may come twice."""
MEMORY: Final = Path("/dev/shm")
PLAIN: Final = ("history", "note_bytes", "picture_bytes", "as_written", "also_called")
"""Tables beside those of the kinds of record that hold what people wrote."""


class Laptop:
    """A laptop with its own database, whoever writes on it, and how far its clock is off, in seconds."""

    def __init__(self, folder: Path, name: str, steering: Steering) -> None:
        self.name = name
        self.clock_off_s = 0.0
        self.path = empty_database(folder / f"{name}.db")
        self.connection = sqlite3.connect(self.path, isolation_level=None, cached_statements=3000)
        self.connection.row_factory = sqlite3.Row
        steer_sql(self.connection, steering)
        for pragma in ("foreign_keys = ON", "recursive_triggers = ON", "journal_mode = MEMORY", "synchronous = OFF"):
            self.connection.execute(f"PRAGMA {pragma}")
        self.empty = self.kept()

    def close(self) -> None:
        self.connection.close()

    def kept(self) -> bytes:
        """All of its database as it is now."""
        cookie = crc32("\n".join(map(str, map(tuple, self._schema()))).encode()) & 0x7FFFFFFF
        held = bytearray(self.path.read_bytes())
        held[_COOKIE : _COOKIE + 4] = cookie.to_bytes(4, "big")
        return bytes(held)

    def put(self, kept: bytes) -> None:
        """Have it hold what was kept."""
        held = bytearray(kept)
        for place in (_COUNTER, _VALID_FOR):
            held[place : place + 4] = next(_COUNTERS).to_bytes(4, "big")
        held[_VALID_FOR : _VALID_FOR + 4] = held[_COUNTER : _COUNTER + 4]
        with self.path.open("r+b") as file:
            file.write(held)
            file.truncate(len(held))

    def _schema(self) -> sqlite3.Cursor:
        return self.connection.execute("SELECT type, name, rootpage, sql FROM sqlite_master ORDER BY rowid")

    def to_send(self, path: Path) -> Path:
        """A copy of the database as another laptop takes it in: without triggers and views."""
        path.write_bytes(_without_triggers())
        self.connection.execute("ATTACH ? AS sent", (str(path),))
        try:
            self.connection.execute("PRAGMA sent.synchronous = OFF")
            self.connection.execute("PRAGMA sent.journal_mode = OFF")
            self.connection.execute("PRAGMA foreign_keys = OFF")
            self.connection.execute("BEGIN")
            for table in (*(kind.table for kind in KINDS), *PLAIN):
                self.connection.execute(f"INSERT INTO sent.{table} SELECT * FROM main.{table}")
            self.connection.execute("COMMIT")
        finally:
            if self.connection.in_transaction:
                self.connection.rollback()
            self.connection.execute("DETACH sent")
            self.connection.execute("PRAGMA foreign_keys = ON")
        return path


@cache
def _without_triggers() -> bytes:
    path = memory() / f"bevelbook-plain-{os.getpid()}.db"
    try:
        empty_database(path)
        with closing(sqlite3.connect(path, isolation_level=None)) as made:
            for pragma in ("journal_mode = DELETE", "writable_schema = ON"):
                made.execute(f"PRAGMA {pragma}")
            made.execute("DELETE FROM sqlite_master WHERE type IN ('trigger', 'view')")
            made.execute("PRAGMA writable_schema = RESET")
            for table in (*(kind.table for kind in KINDS), *PLAIN):
                made.execute(f"DELETE FROM {table}")
        return path.read_bytes()
    finally:
        for left in path.parent.glob(f"{path.name}*"):
            left.unlink()


def memory() -> Path:
    """A folder in memory where there is one."""
    return MEMORY if MEMORY.is_dir() and os.access(MEMORY, os.W_OK) else Path(os.environ.get("TMPDIR", "/tmp"))


def laptops(folder: Path, names: str, steering: Steering) -> list[Laptop]:
    """Laptops with empty databases in a folder."""
    return list(_laptops(folder, names, steering))


def _laptops(folder: Path, names: str, steering: Steering) -> Iterator[Laptop]:
    for name in names:
        yield Laptop(folder, name, steering)
