"""How large anything may be that a question to a served database makes, so that none takes all memory of the machine.

SQLite's own limits are a thousand million bytes for one value. All figures are our own.
"""

from __future__ import annotations

import sqlite3
from itertools import islice
from typing import Any, Final

LONGEST_VALUE_BYTES: Final = 2_000_000
"""Of a value, a row, or what a query puts together; more only where the file keeps something longer."""
_LIMITS: Final = {
    sqlite3.SQLITE_LIMIT_SQL_LENGTH: 1_000_000,
    sqlite3.SQLITE_LIMIT_COLUMN: 150,
    sqlite3.SQLITE_LIMIT_EXPR_DEPTH: 500,
    sqlite3.SQLITE_LIMIT_VDBE_OP: 250_000,
    sqlite3.SQLITE_LIMIT_LIKE_PATTERN_LENGTH: 1_000,
}
LONGEST_OF_VISITORS_BYTES: Final = 200_000
"""The same in a visitor's own SQL."""
_LIMITS_OF_VISITORS: Final = {
    sqlite3.SQLITE_LIMIT_LENGTH: LONGEST_OF_VISITORS_BYTES,
    sqlite3.SQLITE_LIMIT_VDBE_OP: 25_000,
}
_BESIDE_THE_FILE_BYTES: Final = 100_000
"""What else the row of a kept file may hold."""
TOO_LONG_A_VALUE: Final = (
    "a value of this query is longer than this server allows; ask for a part of it with substr(), or for fewer rows "
    "where it puts several together"
)
MOST_BYTES_OF_ROWS: Final = 16_000_000
"""Of the texts and bytes in all rows that a query gives."""
MOST_BYTES_OF_VISITORS_ROWS: Final = 4_000_000
"""The same in a visitor's own SQL: they come from another process at one go."""
MOST_CELLS: Final = 20_000
"""On one page."""
MOST_ROWS_OF_PAGE: Final = 500
"""Of a table on a page; JSON and CSV take as many as Datasette gives at a time."""
TOO_MANY_BYTES: Final = (
    "the rows of this query hold more than this server gives at a time; ask for fewer rows, or for a part of the long "
    "values with substr()"
)


class MeasuredCursor(sqlite3.Cursor):
    """A cursor that gives many rows at once only where they are not too large together."""

    def fetchmany(self, size: int | None = 1) -> list[Any]:
        """Raises sqlite3.DataError for too much."""
        found: list[Any] = []
        is_for_visitors = getattr(self.connection, "is_for_visitors", False)
        most = MOST_BYTES_OF_VISITORS_ROWS if is_for_visitors else MOST_BYTES_OF_ROWS
        held = 0
        for row in islice(self, size):
            held += sum(len(value) for value in row if isinstance(value, (str, bytes)))
            if held > most:
                raise sqlite3.DataError(TOO_MANY_BYTES)
            found.append(row)
        return found


def set_limits_of_visitors(connection: sqlite3.Connection) -> None:
    """Set those for a visitor's own SQL on a connection that has the others."""
    for limit, most in _LIMITS_OF_VISITORS.items():
        connection.setlimit(limit, most)


def set_limits(connection: sqlite3.Connection) -> None:
    """Set them on a connection to a bevelbook database."""
    cursor = connection.cursor()
    cursor.row_factory = None
    longest = 0
    for table, sizes in (("note_bytes", "length(packed)"), ("picture_bytes", "length(jpeg) + length(thumbnail)")):
        if cursor.execute("SELECT 1 FROM main.sqlite_master WHERE type = 'table' AND name = ?", (table,)).fetchone():
            longest = max(longest, cursor.execute(f"SELECT max({sizes}) FROM main.{table}").fetchone()[0] or 0)
    connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, max(LONGEST_VALUE_BYTES, longest + _BESIDE_THE_FILE_BYTES))
    for limit, most in _LIMITS.items():
        connection.setlimit(limit, most)
