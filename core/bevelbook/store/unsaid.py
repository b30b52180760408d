"""Which entry was taken back by a command that has not said so yet: one that was stopped before its end.

"Take back my last entry" means another entry the second time. So where a person saw no answer and asks again, the same
command says what it did, and takes nothing else back.
"""

from __future__ import annotations

import sqlite3
from typing import Final

UNSAID: Final = "taken back, and not said yet"
"""The name of the row of ``about``; it is never sent along."""


def note_unsaid(connection: sqlite3.Connection, entry: str) -> None:
    """Note the entry that took another back, inside its transaction."""
    connection.execute("INSERT OR REPLACE INTO about (name, value) VALUES (?, ?)", (UNSAID, entry))


def unsaid(connection: sqlite3.Connection) -> str | None:
    """The id of that entry; None where all was said."""
    row = connection.execute("SELECT value FROM main.about WHERE name = ?", (UNSAID,)).fetchone()
    return None if row is None else str(row[0])


def forget_unsaid(connection: sqlite3.Connection) -> None:
    """It was said."""
    connection.execute("DELETE FROM about WHERE name = ?", (UNSAID,))
