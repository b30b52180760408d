"""All that a database holds as one text: equal for two that hold the same, however and in whatever order it came."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from hashlib import sha256

from bevelbook.records import BY_TABLE, KINDS
from bevelbook.store.invented_mark import is_invented
from bevelbook.store.known_versions import HistoryRow, history_in_order


def whole_content(connection: sqlite3.Connection) -> str:
    """Every record, entry, file, picture and result, with all history; without what follows from these or belongs to
    this database alone."""
    return "\n".join(_lines(connection))


def _lines(connection: sqlite3.Connection) -> Iterator[str]:
    cursor = connection.cursor()
    cursor.row_factory = None
    yield f"invented {is_invented(connection)}"
    written = {
        (table, row_id, column): value
        for table, row_id, column, value in cursor.execute("SELECT * FROM as_written").fetchall()
    }
    for kind in KINDS:
        if kind.derived:
            continue
        cursor.execute(f"SELECT * FROM {kind.table} ORDER BY id")
        names = [column[0] for column in cursor.description]
        for row in cursor.fetchall():
            values = {
                name: written.get((kind.table, row[0], name), value) for name, value in zip(names, row, strict=True)
            }
            yield f"{kind.table} {json.dumps(values, ensure_ascii=False)}"
    past: dict[tuple[str, str], list[HistoryRow]] = {}
    for table, row_id, *row in cursor.execute(
        "SELECT table_name, row_id, version, parents, content, replaced_in, replaced_at FROM history ORDER BY id"
    ):
        past.setdefault((table, row_id), []).append((row[0], row[1], row[2], row[3], row[4]))
    for (table, row_id), rows in sorted(past.items()):
        in_order = history_in_order(rows) if BY_TABLE[table].own else rows
        yield from (f"history {table} {row_id} {json.dumps(row, ensure_ascii=False)}" for row in in_order)
    for table, row_id, label in cursor.execute("SELECT table_name, row_id, label FROM also_called ORDER BY 1, 2, 3"):
        yield f"also_called {table} {row_id} {label}"
    for (name,) in cursor.execute("SELECT sha256 FROM note_bytes ORDER BY 1"):
        yield f"note_bytes {name}"
    for name, thumbnail, jpeg in cursor.execute("SELECT sha256, thumbnail, jpeg FROM picture_bytes ORDER BY 1"):
        yield f"picture_bytes {name} {sha256(thumbnail).hexdigest()} {sha256(jpeg).hexdigest()}"
