"""A book changed as another program changes it, which knows nothing of this tool."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path


def spoil(path: Path, *statements: str) -> Path:
    """Change a book as a program does that runs no trigger of it."""
    with closing(sqlite3.connect(path)) as connection, connection:
        triggers = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            connection.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            assert connection.execute(statement).rowcount > 0, statement
        for _, sql in triggers:
            connection.execute(sql)
    return path
