"""Triggers of a connection, which are not in the file: made at its first transaction, and where one was dropped."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping


def make_where_missing(connection: sqlite3.Connection, triggers: Mapping[str, str]) -> None:
    """Make each trigger that the connection has not, given the SQL of each behind its name."""
    has = {name for (name,) in connection.execute("SELECT name FROM temp.sqlite_master WHERE type = 'trigger'")}
    for name, sql in triggers.items():
        if name not in has:
            connection.execute(f"CREATE TEMP TRIGGER {name} {sql}")
