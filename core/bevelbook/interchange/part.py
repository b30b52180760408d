"""A part of a database as a database of its own: whole records with their past, in a file beside.

It has the tables of this version and neither triggers nor views: nothing in it follows from anything else, and nobody
writes to it. It is what is exported of a part, and what another database meets.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Final

from bevelbook.interchange.clean_database import clean_database
from bevelbook.interchange.since import Chosen
from bevelbook.records import BY_NAME, BY_TABLE, KINDS, Kind
from bevelbook.store.invented_mark import is_invented, mark_invented
from bevelbook.store.schema import columns_of, literal, quoted

_GIVEN: Final = "(SELECT value FROM json_each(?1))"
_BLOCK: Final = 500
"""Rows that are copied at once."""
_PAST: Final = ("table_name", "row_id", "version", "parents", "content", "replaced_in", "replaced_at")
_BYTES: Final = {
    "note_file": (
        "note_bytes",
        "sha256, packed",
        f"SELECT sha256 FROM main.note_files WHERE id IN {_GIVEN} UNION SELECT json_extract(content, '$.sha256') "
        f"FROM main.history WHERE table_name = 'note_files' AND row_id IN {_GIVEN} AND json_valid(content)",
    ),
    "picture": ("picture_bytes", "sha256, thumbnail, jpeg", "SELECT value FROM json_each(?1)"),
}
"""By kind: the table of the bytes, its columns, and the hashes of the bytes of some records, of removed ones too."""


def write_part(connection: sqlite3.Connection, path: Path, chosen: Chosen, *, with_files: bool) -> None:
    """Make a new database of the chosen records.

    Kept files and pictures are always records of it, each with its hash; their bytes come along ``with_files`` alone,
    as far as this database has them. Raises sqlite3.Error where a row is not what it should be.
    """
    with closing(clean_database(path)) as part:
        part.execute("BEGIN")
        for kind in KINDS:
            if not kind.derived:
                _copy_rows(connection, part, kind, json.dumps(chosen.of(kind)))
        for table, ids in sorted(chosen.records.items()):
            _copy_beside(connection, part, BY_TABLE[table], json.dumps(sorted(ids)))
        if with_files:
            for name, (table, columns, hashes) in _BYTES.items():
                given = json.dumps(chosen.of(BY_NAME[name]))
                _copy(connection, part, table, columns, f"sha256 IN ({hashes})", given)
        if is_invented(connection):
            mark_invented(part)
        part.execute("COMMIT")


def _copy_rows(connection: sqlite3.Connection, part: sqlite3.Connection, kind: Kind, given: str) -> None:
    columns = ", ".join(map(quoted, columns_of(kind)))
    _copy(connection, part, kind.table, columns, f"id IN {_GIVEN} ORDER BY id", given)


def _copy_beside(connection: sqlite3.Connection, part: sqlite3.Connection, kind: Kind, given: str) -> None:
    """Copy the past of some records, what their references say as written, and what else they were called."""
    of_records = f"table_name = {literal(kind.table)} AND row_id IN {_GIVEN}"
    _copy(connection, part, "history", ", ".join(_PAST), f"{of_records} ORDER BY row_id, id", given)
    written = "table_name, row_id, column_name, written"
    _copy(connection, part, "as_written", written, of_records, given)
    _copy(connection, part, "also_called", "table_name, row_id, label", of_records, given)


def _copy(
    connection: sqlite3.Connection, part: sqlite3.Connection, table: str, columns: str, which: str, given: str
) -> None:
    marks = ", ".join("?" * (columns.count(",") + 1))
    for block in _blocks(connection, f"SELECT {columns} FROM main.{table} WHERE {which}", given):
        part.executemany(f"INSERT INTO {table} ({columns}) VALUES ({marks})", block)


def _blocks(connection: sqlite3.Connection, sql: str, given: str) -> Iterator[list[tuple[object, ...]]]:
    cursor = connection.cursor()
    cursor.row_factory = None
    found = cursor.execute(sql, (given,))
    while block := found.fetchmany(_BLOCK):
        yield block
