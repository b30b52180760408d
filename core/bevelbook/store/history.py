"""What a person should know about the history: changes by other programs, and text that is not JSON."""

from __future__ import annotations

import sqlite3
from typing import NamedTuple

from bevelbook.store.kept_past import NOT_VERSIONED
from bevelbook.store.schema import literal


class Changed(NamedTuple):
    """Records of a table that were changed or removed without an entry; ``last`` is the newest row of the history."""

    table: str
    records: int
    last: int


class Unreadable(NamedTuple):
    """A past version that is not JSON, or a kept result with a part that was not, by its row in the history."""

    id: int
    table: str
    row_id: str


def changed_by_others(connection: sqlite3.Connection, after: int = 0) -> list[Changed]:
    """Records that a program without entries changed, by table, after a row of the history."""
    found = connection.execute(
        "SELECT table_name, count(DISTINCT row_id), max(id) FROM history "
        "WHERE content IS NOT NULL AND replaced_in IS NULL AND replaced_at IS NOT NULL AND id > ? "
        "GROUP BY table_name ORDER BY table_name",
        (after,),
    )
    return [Changed(*row) for row in found]


def unreadable(connection: sqlite3.Connection, after: int = 0) -> list[Unreadable]:
    """Text that is not JSON, after a row of the history. Kept results are in it only if the upgrade put them there."""
    found = connection.execute(
        "SELECT id, table_name, row_id FROM history "
        "WHERE content IS NOT NULL AND id > ? "
        f"AND (table_name = 'calculations' AND version <> {literal(NOT_VERSIONED)} OR NOT json_valid(content)) "
        "ORDER BY id",
        (after,),
    )
    return [Unreadable(*row) for row in found]
