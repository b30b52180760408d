"""What a person should know about the history: changes by other programs, and text that is not JSON."""

from __future__ import annotations

import sqlite3
from typing import Final, NamedTuple

from bevelbook.store.kept_past import NOT_VERSIONED
from bevelbook.store.schema import ANOTHER_PROGRAM, literal


class Changed(NamedTuple):
    """Records of a table that were changed or removed without an entry, and nobody accepted that yet."""

    table: str
    records: int


class Unreadable(NamedTuple):
    """A past version that is not JSON, or a kept result with a part that was not, by its row in the history."""

    id: int
    table: str
    row_id: str


_BY_OTHERS: Final = "content IS NOT NULL AND replaced_in IS NULL AND replaced_at IS NOT NULL"


def changed_by_others(connection: sqlite3.Connection) -> list[Changed]:
    """Records that a program without entries changed, by table, without what a person accepted."""
    found = connection.execute(
        f"SELECT table_name, count(DISTINCT row_id) FROM history WHERE {_BY_OTHERS} "
        "GROUP BY table_name ORDER BY table_name"
    )
    return [Changed(*row) for row in found]


def changed_by_others_there(connection: sqlite3.Connection, other: str) -> list[Changed]:
    """The same of the database ``other`` on this connection, without what the history here says of another program too,
    accepted or not."""
    found = connection.execute(
        f"SELECT h.table_name, count(DISTINCT h.row_id) FROM {other}.history h WHERE {_BY_OTHERS} AND NOT EXISTS "
        "(SELECT 1 FROM main.history t WHERE t.table_name = h.table_name AND t.row_id = h.row_id "
        "AND t.version = h.version AND t.replaced_at IS NOT NULL "
        f"AND (t.replaced_in IS NULL OR t.replaced_in = {literal(ANOTHER_PROGRAM)})) "
        "GROUP BY h.table_name ORDER BY h.table_name"
    )
    return [Changed(*row) for row in found]


def accept_changes_by_others(connection: sqlite3.Connection, until: int | None = None) -> None:
    """Have the history say of all these changes, or of those up to one of its rows, that another program made them:
    nobody is asked about them again, on no laptop."""
    connection.execute(
        f"UPDATE history SET replaced_in = {literal(ANOTHER_PROGRAM)} WHERE {_BY_OTHERS} AND (?1 IS NULL OR id <= ?1)",
        (until,),
    )


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
