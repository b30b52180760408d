"""The mark of a database in which everything is invented, as in the demo: a row of the table ``about``."""

from __future__ import annotations

import sqlite3
from typing import Final

INVENTED: Final = "invented"
INVENTED_WORDS: Final = "Everything in this database is invented: people, tracks, oils and numbers."


def is_invented(connection: sqlite3.Connection) -> bool:
    """Whether the database says that its data are invented, as the demo's does."""
    return connection.execute("SELECT 1 FROM about WHERE name = ?", (INVENTED,)).fetchone() is not None


def mark_invented(connection: sqlite3.Connection) -> None:
    """Make the database say so, inside the caller's transaction."""
    connection.execute("INSERT INTO about (name, value) VALUES (?, 'yes') ON CONFLICT (name) DO NOTHING", (INVENTED,))
