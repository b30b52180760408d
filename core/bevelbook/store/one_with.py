"""Which record stands for one, where two are one thing: what ``as_written`` keeps in the table ``one_with``."""

from __future__ import annotations

import sqlite3

from bevelbook.records import Kind


def stands_for_it(connection: sqlite3.Connection, kind: Kind, row_id: str) -> str:
    """The id of the record that stands for one; its own id if it stands for itself."""
    row = connection.execute("SELECT stands FROM one_with WHERE kind = ? AND id = ?", (kind.name, row_id)).fetchone()
    return row_id if row is None else str(row[0])


def one_with_it(connection: sqlite3.Connection, kind: Kind, row_id: str) -> list[str]:
    """The ids of the other records for which one stands."""
    found = connection.execute("SELECT id FROM one_with WHERE kind = ? AND stands = ? ORDER BY id", (kind.name, row_id))
    return [str(row[0]) for row in found]
