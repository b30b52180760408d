"""A canonical dump of a database's records and facts: equal text for equal records, whatever happened in between."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Final

from bevelbook.records import FACTS, KINDS

_ASIDE: Final = {"version", "parents"}
_LEFT_OUT: Final = {"entry"}
"""The table of entries; history and search are tables of no kind of record."""


def records_dumped(connection: sqlite3.Connection) -> str:
    """All records, kept files with their rejects and cells, and kept results, by table and id, a line a row.

    Without version and parents: they say how a record came to be as it is.
    """
    lines = []
    for kind in sorted(KINDS, key=lambda one: one.table):
        if kind.name in _LEFT_OUT:
            continue
        lines += _rows(connection, kind.table, "id")
    return "\n".join(lines)


def facts_dumped(connection: sqlite3.Connection) -> str:
    """All facts, by table and key, a line a row."""
    return "\n".join(line for kind in FACTS for line in _rows(connection, kind.table, kind.columns[0]))


def dumped(path: Path) -> tuple[str, str]:
    """The records and the facts of a database."""
    with closing(sqlite3.connect(path)) as connection:
        return records_dumped(connection), facts_dumped(connection)


def _rows(connection: sqlite3.Connection, table: str, key: str) -> list[str]:
    cursor = connection.execute(f"SELECT * FROM {table} ORDER BY {key}")
    cursor.row_factory = None
    names = [column[0] for column in cursor.description]
    return [
        f"{table} {json.dumps({name: value for name, value in zip(names, row, strict=True) if name not in _ASIDE})}"
        for row in cursor
    ]
