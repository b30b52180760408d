"""What a database holds, table by table, as counts and one hash: by that a copy is held against what it was made of."""

from __future__ import annotations

import marshal
import sqlite3
from collections.abc import Mapping
from hashlib import sha256
from pathlib import Path
from typing import Final, NamedTuple

from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.store.damaged_pages import damaged_pages
from bevelbook.store.schema import quoted

_FORM: Final = 2
"""The form in which marshal writes a row: equal rows give equal bytes up to this one."""
_ENOUGH: Final = 3
"""How many of SQLite's sentences about a damaged file are repeated."""


class HeldContent(NamedTuple):
    """The rows of each table, and a hash over all of them."""

    rows: Mapping[str, int]
    digest: str


def held_content(connection: sqlite3.Connection) -> HeldContent:
    """What is in every table of the file, read row by row, so that memory does not grow with it. Raises sqlite3.Error.

    Virtual tables are left out: what they are made of lies in plain tables beside them.
    """
    kept, connection.text_factory = connection.text_factory, bytes
    try:
        cursor = connection.cursor()
        cursor.row_factory = None
        listed = cursor.execute(
            "SELECT name FROM main.sqlite_master WHERE type = 'table' AND sql NOT LIKE 'CREATE VIRTUAL%' ORDER BY name"
        )
        rows: dict[str, int] = {}
        whole = sha256()
        for name in [str(row[0], "utf-8") for row in listed.fetchall()]:
            whole.update(name.encode())
            count = 0
            for row in cursor.execute(f"SELECT * FROM main.{quoted(name)} NOT INDEXED"):
                whole.update(marshal.dumps(row, _FORM))
                count += 1
            rows[name] = count
        return HeldContent(rows, whole.hexdigest())
    finally:
        connection.text_factory = kept


def refuse_unsound(connection: sqlite3.Connection, path: Path, remedy: str) -> None:
    """Raise DatabaseError ("damaged") where SQLite finds the file not whole. Raises sqlite3.Error."""
    found = damaged_pages(connection, _ENOUGH)
    if found:
        raise DatabaseError(
            "the file is damaged",
            code="damaged",
            place=Place(str(path)),
            found="; ".join(found[:_ENOUGH]),
            remedy=remedy,
        )


def count_broken_references(connection: sqlite3.Connection) -> int:
    """How many rows refer to something that is gone. Raises sqlite3.Error."""
    return sum(1 for _ in connection.execute("PRAGMA main.foreign_key_check"))
