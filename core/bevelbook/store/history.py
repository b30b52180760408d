"""What the history holds that a person should know of: changes of other programs, and text that is not JSON."""

from __future__ import annotations

import sqlite3
from typing import NamedTuple


class Changed(NamedTuple):
    """Records of a table that were changed or removed without an entry; ``last`` is the newest row of the history."""

    table: str
    records: int
    last: int


class Unreadable(NamedTuple):
    """A past version that is no JSON, or a kept result of which some part was none, by its row in the history."""

    id: int
    table: str
    row_id: str


def changed_by_others(connection: sqlite3.Connection, after: int = 0) -> list[Changed]:
    """Records that a program which makes no entries changed, by table, from behind a row of the history on."""
    found = connection.execute(
        "SELECT table_name, count(DISTINCT row_id), max(id) FROM history "
        "WHERE content IS NOT NULL AND replaced_in IS NULL AND id > ? GROUP BY table_name ORDER BY table_name",
        (after,),
    )
    return [Changed(*row) for row in found]


def unreadable(connection: sqlite3.Connection, after: int = 0) -> list[Unreadable]:
    """What is not JSON, from behind a row of the history on. Kept results are there only where the upgrade put them."""
    found = connection.execute(
        "SELECT id, table_name, row_id FROM history "
        "WHERE content IS NOT NULL AND id > ? AND (table_name = 'calculations' OR NOT json_valid(content)) ORDER BY id",
        (after,),
    )
    return [Unreadable(*row) for row in found]
