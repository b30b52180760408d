"""Whether records are in clash, and then those about a record or a diff: most books have none, and a report that asks
loads nothing of what says them in words."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING

from bevelbook.records import Kind

if TYPE_CHECKING:
    from bevelbook.reports.clashes import ClashSaid


def count_clashes(connection: sqlite3.Connection) -> int:
    """How many records are in clash."""
    return int(connection.execute("SELECT count(*) FROM clashes").fetchone()[0])


def clashes_about(connection: sqlite3.Connection, kind: Kind, row_id: str) -> list[ClashSaid]:
    """The clashes that stand on the page of a record (by id): its own, and those of what is part of it."""
    if not count_clashes(connection):
        return []
    from bevelbook.reports.clashes import said_about

    return said_about(connection, kind, row_id)


def clashes_of_diff(connection: sqlite3.Connection, diff: str | None) -> list[ClashSaid]:
    """The clashes about one diff (by id), or all where none is asked about."""
    if not count_clashes(connection):
        return []
    from bevelbook.reports.clashes import said_clashes, said_of_diff

    return said_clashes(connection) if diff is None else said_of_diff(connection, diff)
