"""The table ``about``: the version of the facts, which changes of other programs a person accepted, and whether notes
of another database came in, whose rows were placed without turning any.

The mark of an invented database is a row of it too (``invented_mark.py``).
"""

from __future__ import annotations

import sqlite3
from typing import Final

ABOUT: Final = """
CREATE TABLE about (
    name TEXT PRIMARY KEY NOT NULL,
    value TEXT NOT NULL
) STRICT, WITHOUT ROWID
""".strip()
FACTS: Final = "facts"
ACCEPTED: Final = "changes of other programs accepted"
MET: Final = "notes of another database came in"
CHANGED_ELSEWHERE: Final = "changed by another program"
"""Written by the triggers in place of the version if another program changes what facts depend on."""


def accepted_changes(connection: sqlite3.Connection) -> int:
    """The row of the history up to which a person accepted changes by other programs; 0 if nobody did."""
    row = connection.execute("SELECT value FROM about WHERE name = ?", (ACCEPTED,)).fetchone()
    return int(row[0]) if row else 0


def note_accepted_changes(connection: sqlite3.Connection, history_id: int) -> None:
    """Note up to which row of the history they are accepted, inside the caller's transaction."""
    _note(connection, ACCEPTED, str(history_id))


def has_met(connection: sqlite3.Connection) -> bool:
    """Whether notes of another database came in since all rows were last placed with all that follows."""
    return connection.execute("SELECT 1 FROM about WHERE name = ?", (MET,)).fetchone() is not None


def note_meeting(connection: sqlite3.Connection) -> None:
    """Note that something came from another database, inside the caller's transaction."""
    if not has_met(connection):
        _note(connection, MET, "yes")


def forget_meeting(connection: sqlite3.Connection) -> None:
    """Note that all rows of notes were placed with all that follows, inside the caller's transaction."""
    connection.execute("DELETE FROM about WHERE name = ?", (MET,))


def facts_version(connection: sqlite3.Connection) -> str | None:
    """The version of the definitions used for the facts, or that another program changed records."""
    row = connection.execute("SELECT value FROM about WHERE name = ?", (FACTS,)).fetchone()
    return None if row is None else str(row[0])


def note_facts_version(connection: sqlite3.Connection, version: str) -> None:
    """Note the version used for them, inside the caller's transaction."""
    _note(connection, FACTS, version)


def _note(connection: sqlite3.Connection, name: str, value: str) -> None:
    connection.execute(
        "INSERT INTO about (name, value) VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value",
        (name, value),
    )
