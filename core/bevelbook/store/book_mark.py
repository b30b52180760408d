"""The mark of a database: a row of the table ``about`` by which the phones paired with it are known as its own.

It moves with the file, and a copy has the same one.
"""

from __future__ import annotations

import re
import sqlite3
from secrets import token_hex
from typing import Final

MARK: Final = "mark"
_FORM: Final = re.compile(r"[0-9a-f]{32}")


def is_mark(text: str) -> bool:
    """Whether a text has the form of a mark: 32 hexadecimal digits."""
    return _FORM.fullmatch(text) is not None


def mark_of(connection: sqlite3.Connection) -> str:
    """The mark, made where there is none yet, of a database that is open for writing. One that is damaged is renewed.

    Raises sqlite3.Error.
    """
    made = token_hex(16)
    connection.execute("INSERT INTO about (name, value) VALUES (?, ?) ON CONFLICT (name) DO NOTHING", (MARK, made))
    found = str(connection.execute("SELECT value FROM about WHERE name = ?", (MARK,)).fetchone()[0])
    if is_mark(found):
        return found
    connection.execute("UPDATE about SET value = ? WHERE name = ?", (made, MARK))
    return made
