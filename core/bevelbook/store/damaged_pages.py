"""What SQLite itself finds wrong with a file: pages, indexes, empty values where there must be one, values that a
column or a CHECK does not take."""

from __future__ import annotations

import sqlite3
from typing import Final

from bevelbook.declare.late_pattern import late_pattern

_ABOUT_A_VALUE: Final = late_pattern(r"CHECK constraint failed in |NULL value in |(?:non-)?[A-Z]+ value in ")


def damaged_pages(connection: sqlite3.Connection, most: int) -> list[str]:
    """The first sentences of SQLite about it; none where the file is whole. On a read-only connection SQLite knows no
    CHECK, so what these refuse is not among them (``values_refused``). Raises sqlite3.Error."""
    found = [str(row[0]) for row in connection.execute(f"PRAGMA main.integrity_check({most})").fetchall()]
    return [] if found == ["ok"] else [" ".join(one.split()) for one in found]


def is_about_a_value(sentence: str) -> bool:
    """Whether such a sentence is about a value that does not belong where it is, and not about damage of the file.

    >>> is_about_a_value("CHECK constraint failed in runs"), is_about_a_value("row 3 missing from index runs_by_label")
    (True, False)
    """
    return _ABOUT_A_VALUE.match(sentence) is not None
