"""Rows of a database, asked for in SQL by a connection of their own."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any


def asked(path: Path | str, sql: str) -> list[tuple[Any, ...]]:
    """The rows of one query."""
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute(sql).fetchall()


def asked_here(sql: str) -> list[tuple[Any, ...]]:
    """The rows of one query to the database that commands take where none is named."""
    return asked("bevelbook.db", sql)
