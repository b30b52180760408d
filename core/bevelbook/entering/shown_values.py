"""A record as it is shown again to whoever typed it."""

from __future__ import annotations

import sqlite3
from typing import Any

from bevelbook.records import BY_NAME, Kind
from bevelbook.store.lookup import label_of


def shown_values(connection: sqlite3.Connection, kind: Kind, row_id: str) -> dict[str, Any]:
    """A record's values with names instead of ids, empty ones left out; empty for an unknown record."""
    row = connection.execute(f"SELECT * FROM {kind.table} WHERE id = ?", (row_id,)).fetchone()
    found: dict[str, Any] = {}
    for field in kind.fields if row else ():
        value = row[field.name]
        if kind.name == "join" and field.name in ("one", "other"):
            value = label_of(connection, BY_NAME[row["kind"]], value)
        elif value is not None and field.kind == "reference" and field.target:
            value = label_of(connection, BY_NAME[field.target], value)
        if value is not None:
            found[field.name] = value
    return found
