"""Databases of released versions, made from the dumps under ``schema/``: all that is in them is invented."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from bevelbook.store.opening import open_for_writing

SCHEMAS = Path(__file__).parent / "schema"
DUMPS = sorted(SCHEMAS.glob("*.sql"))
LAST_RELEASE = SCHEMAS / "0.1.0.sql"


def released(path: Path, dump: Path = LAST_RELEASE) -> Path:
    """A database as that version left it."""
    path.write_bytes(_made(dump))
    return path


@cache
def _made(dump: Path) -> bytes:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "old.db"
        with closing(sqlite3.connect(path)) as old:
            old.execute("PRAGMA synchronous = OFF")
            old.executescript(f"BEGIN;\n{dump.read_text(encoding='utf-8')}\nCOMMIT;")
            old.execute("PRAGMA journal_mode = WAL")
        return path.read_bytes()


def brought_here(path: Path) -> Path:
    """The database of the last release, brought to this version: a copy of one, since upgrading takes half a second."""
    path.write_bytes(_brought_here())
    return path


@cache
def _brought_here() -> bytes:
    with TemporaryDirectory() as folder:
        path = released(Path(folder) / "old.db")
        open_for_writing(path).close()
        return path.read_bytes()


def rows_of(connection: sqlite3.Connection) -> dict[tuple[str, object], dict[str, Any]]:
    """Every row of every table of records by table and rowid; clashes follow from these, and no release wrote any."""
    connection.row_factory = sqlite3.Row
    tables = connection.execute(
        "SELECT name FROM pragma_table_list WHERE type = 'table' AND NOT wr AND name NOT GLOB '*sqlite_*' "
        "AND name NOT IN ('history', 'writing', 'entries', 'clashes')"
    ).fetchall()
    return {
        (table, row["_rowid_"]): {key: row[key] for key in row.keys() if key != "_rowid_"}  # noqa: SIM118
        for (table,) in tables
        for row in connection.execute(f"SELECT rowid AS _rowid_, * FROM {table}")
    }


def all_rows(path: Path) -> dict[tuple[str, object], dict[str, Any]]:
    """The same of a file."""
    with closing(sqlite3.connect(path)) as connection:
        return rows_of(connection)
