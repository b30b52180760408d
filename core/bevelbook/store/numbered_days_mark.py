"""The mark of a database that began with a copy without days: up to which day its days are numbered, not real ones."""

from __future__ import annotations

import sqlite3
from typing import Final

NUMBERED: Final = "numbered_days_up_to"


def numbered_up_to(connection: sqlite3.Connection) -> str | None:
    """The last numbered day, as ISO 8601; None where all days are real ones."""
    row = connection.execute("SELECT value FROM about WHERE name = ?", (NUMBERED,)).fetchone()
    return None if row is None else str(row[0])


def mark_numbered(connection: sqlite3.Connection, day: str) -> None:
    """Make the database say so."""
    connection.execute("INSERT INTO about (name, value) VALUES (?, ?)", (NUMBERED, day))


def numbered_words(day: str) -> str:
    """What is said of it wherever its days are read."""
    return (
        f"Days up to {day} came from a copy without days: they are numbered within their quarter, and none of them "
        "is a real one."
    )
