"""Text that is not UTF-8, which SQLite stores but cannot return: where it is, and what to do."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.store.schema import quoted


class Undecoded(NamedTuple):
    """A text that is not UTF-8: table, rowid, id if readable, and column."""

    table: str
    rowid: int
    row_id: str
    column: str


def is_undecoded(fault: BaseException) -> bool:
    """Whether SQLite failed to return text for that reason."""
    return isinstance(fault, sqlite3.Error) and "Could not decode to UTF-8" in str(fault)


def undecoded(connection: sqlite3.Connection, path: Path) -> DatabaseError:
    """The fault that names the first such text, table by table."""
    found = next(_texts(connection), None)
    where = f"the row {found.row_id!r} (rowid {found.rowid}) of {found.table} has" if found else "a row has"
    remedy = "Write that text again with the version that made the file, or with a SQLite shell"
    if found:
        remedy += f": UPDATE {found.table} SET {quoted(found.column)} = ... WHERE rowid = {found.rowid}"
    return DatabaseError(
        f"{where} text that is not UTF-8",
        code="not_utf8",
        place=Place(str(path), column=f"{found.table}.{found.column}" if found else None),
        remedy=f"{remedy}; then try again. Nothing was changed.",
    )


def _texts(connection: sqlite3.Connection) -> Iterator[Undecoded]:
    cursor = connection.cursor()
    cursor.row_factory = None
    tables = cursor.execute(
        "SELECT name FROM pragma_table_list WHERE schema = 'main' AND type = 'table' AND NOT wr "
        "AND name NOT LIKE 'sqlite_%' ORDER BY name"
    ).fetchall()
    for (table,) in tables:
        columns = [row[1] for row in cursor.execute(f"PRAGMA table_info({quoted(table)})")]
        key = "id" if "id" in columns else columns[0]
        for column in columns:
            asked = f"CAST({quoted(column)} AS BLOB), CAST({quoted(key)} AS BLOB)"
            text = f"typeof({quoted(column)}) = 'text'"
            for rowid, held, row_id in cursor.execute(
                f"SELECT rowid, {asked} FROM main.{quoted(table)} WHERE {text} ORDER BY rowid"
            ):
                if not _is_utf8(held):
                    yield Undecoded(table, rowid, (row_id or b"").decode(errors="backslashreplace"), column)


def _is_utf8(held: bytes) -> bool:
    try:
        held.decode()
    except UnicodeDecodeError:
        return False
    return True
