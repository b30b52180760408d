"""The table ``about``: the version of the facts, which changes of other programs a person accepted, and the diffs whose
note rows were placed without turning any.

The mark of an invented database is a row of it too (``invented_mark.py``).
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from typing import Final

ABOUT: Final = """
CREATE TABLE about (
    name TEXT PRIMARY KEY NOT NULL,
    value TEXT NOT NULL
) STRICT, WITHOUT ROWID
""".strip()
FACTS: Final = "facts"
ACCEPTED: Final = "changes of other programs accepted"
TO_TURN: Final = "diffs whose note rows came together"
CHANGED_ELSEWHERE: Final = "changed by another program"
"""Written by the triggers in place of the version if another program changes what facts depend on."""


def accepted_changes(connection: sqlite3.Connection) -> int:
    """The row of the history up to which a person accepted changes by other programs; 0 if nobody did."""
    row = connection.execute("SELECT value FROM about WHERE name = ?", (ACCEPTED,)).fetchone()
    return int(row[0]) if row else 0


def note_accepted_changes(connection: sqlite3.Connection, history_id: int) -> None:
    """Note up to which row of the history they are accepted, inside the caller's transaction."""
    _note(connection, ACCEPTED, str(history_id))


def diffs_to_turn(connection: sqlite3.Connection) -> list[str]:
    """The diffs, by id, whose note rows were placed without turning one into a build or out of being one."""
    row = connection.execute("SELECT value FROM about WHERE name = ?", (TO_TURN,)).fetchone()
    return [str(one) for one in json.loads(row[0])] if row else []


def note_diffs_to_turn(connection: sqlite3.Connection, diffs: Iterable[str]) -> None:
    """Add diffs, by id, to those, inside the caller's transaction; nothing is written where they are there already."""
    before = diffs_to_turn(connection)
    now = sorted({*before, *diffs})
    if now != before:
        _note(connection, TO_TURN, json.dumps(now))


def forget_diffs_to_turn(connection: sqlite3.Connection) -> None:
    """Note that none is left, inside the caller's transaction: all of them were placed with all that follows."""
    connection.execute("DELETE FROM about WHERE name = ?", (TO_TURN,))


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
