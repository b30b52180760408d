"""The mark of a database: a row of the table ``about`` by which the phones paired with it are known as its own.

It moves with the file, and a copy has the same one.
"""

from __future__ import annotations

import sqlite3
from typing import Final

from bevelbook.declare.late_pattern import late_pattern

MARK: Final = "mark"
_DIGITS: Final = 32
_FORM: Final = late_pattern(rf"[0-9a-f]{{{_DIGITS}}}")


def is_mark(text: str) -> bool:
    """Whether a text has the form of a mark: 32 hexadecimal digits."""
    return _FORM.fullmatch(text) is not None


def known_mark(connection: sqlite3.Connection) -> str | None:
    """The mark of a database; None where it has none yet. Raises sqlite3.Error."""
    row = connection.execute("SELECT value FROM about WHERE name = ?", (MARK,)).fetchone()
    return str(row[0]) if row and is_mark(str(row[0])) else None


def mark_of(connection: sqlite3.Connection) -> str:
    """The mark, made where there is none yet, of a database that is open for writing. One that is damaged is renewed.

    Raises sqlite3.Error.
    """
    found = known_mark(connection)
    if found is None:
        from secrets import token_hex

        connection.execute(
            "INSERT INTO about (name, value) VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value "
            f"WHERE length(about.value) <> {_DIGITS} OR about.value GLOB '*[^0-9a-f]*'",
            (MARK, token_hex(_DIGITS // 2)),
        )
        found = known_mark(connection)
    assert found is not None
    return found
