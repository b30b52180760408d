"""The name that people read for a record."""

from __future__ import annotations

import sqlite3

from bevelbook.records import Kind
from bevelbook.store.schema import quoted


def name_of(connection: sqlite3.Connection, kind: Kind, row_id: str) -> str | None:
    """The name of a row: a bottle by its fluid and lot, others without a label by kind, build and day.

    None if the row does not exist.
    """
    if kind.name == "bottle":
        row = connection.execute(
            "SELECT fluids.label, lot FROM bottles JOIN fluids ON fluids.id = fluid WHERE bottles.id = ?", (row_id,)
        ).fetchone()
        return None if row is None else ", ".join(part for part in row if part)
    if kind.name == "run_diff":
        row = connection.execute(
            "SELECT runs.label, builds.label FROM run_diffs JOIN runs ON runs.id = run "
            "JOIN builds ON builds.id = build WHERE run_diffs.id = ?",
            (row_id,),
        ).fetchone()
        return None if row is None else f"{row[1]} in {row[0]}"
    if "build" in kind.columns:
        day = f"{kind.table}.{quoted(kind.day)}" if kind.day else "NULL"
        row = connection.execute(
            f"SELECT builds.label, {day} FROM {kind.table} JOIN builds ON builds.id = build WHERE {kind.table}.id = ?",
            (row_id,),
        ).fetchone()
        return None if row is None else " ".join(part for part in (kind.name.replace("_", " "), *row) if part)
    column = quoted(kind.label or kind.day or "id")
    row = connection.execute(f"SELECT {column} FROM {kind.table} WHERE id = ?", (row_id,)).fetchone()
    if row is None:
        return None
    return str(row[0]) if row[0] not in (None, "") else f"{kind.name.replace('_', ' ')} {row_id[-6:]}"
