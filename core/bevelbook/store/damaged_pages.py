"""What SQLite itself finds wrong with a file: pages, indexes, empty values where there must be one, values that a
column or a CHECK does not take."""

from __future__ import annotations

import sqlite3


def damaged_pages(connection: sqlite3.Connection, most: int) -> list[str]:
    """The first sentences of SQLite about it; none where the file is whole. Raises sqlite3.Error."""
    found = [str(row[0]) for row in connection.execute(f"PRAGMA main.integrity_check({most})").fetchall()]
    return [] if found == ["ok"] else [" ".join(one.split()) for one in found]
