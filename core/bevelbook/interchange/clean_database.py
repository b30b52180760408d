"""An empty database to be filled with what came from outside: our tables, and nothing that runs by itself."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from bevelbook.store.last_step import LAST_STEP
from bevelbook.store.migrate import SchemaStep, create_at_step
from bevelbook.store.opening import PAGE_BYTES
from bevelbook.store.schema import APPLICATION_ID, HISTORY, schema_sql
from bevelbook.store.sqlite_errors import without_room

_INDEX: Final = "CREATE INDEX"
_SEARCH: Final = "CREATE VIRTUAL TABLE"


def clean_database(
    path: Path, step: int = LAST_STEP, *, steps: Sequence[SchemaStep] | None = None, indexed: bool = True
) -> sqlite3.Connection:
    """A new database file with the tables of a step, and no triggers, views and search. It is made for one reading and
    thrown away afterwards: it is not kept safe from a crash, and its connection checks no references.

    Without ``indexed`` its tables have their keys alone, and those of this version no index beside: a full table gets
    them faster (:func:`add_indexes`). Raises DatabaseError where there is no room for it, sqlite3.Error else.
    """
    connection = sqlite3.connect(path, isolation_level=None)
    try:
        _make(connection, step, steps, indexed=indexed)
    except BaseException as fault:
        connection.close()
        full = without_room(fault, path) if isinstance(fault, sqlite3.Error) else None
        if full is not None:
            raise full from fault
        raise
    return connection


def _make(connection: sqlite3.Connection, step: int, steps: Sequence[SchemaStep] | None, *, indexed: bool) -> None:
    for setting in (
        f"page_size = {PAGE_BYTES}",
        f"application_id = {APPLICATION_ID}",
        "journal_mode = OFF",
        "synchronous = OFF",
        "foreign_keys = OFF",
    ):
        connection.execute(f"PRAGMA {setting}")
    if step != LAST_STEP or steps is not None:
        create_at_step(connection, step, steps)
        connection.execute("PRAGMA foreign_keys = OFF")
        return
    for statement in schema_sql():
        if not statement.startswith(_SEARCH) and (indexed or not statement.startswith(_INDEX)):
            connection.execute(statement)
    connection.execute(f"PRAGMA user_version = {LAST_STEP}")


def add_indexes(connection: sqlite3.Connection, *, of_history_only: bool = False) -> None:
    """Make the indexes of a database of this version's tables that was made without; ``of_history_only`` makes those
    that a meeting looks up the past by."""
    for statement in HISTORY if of_history_only else schema_sql():
        if statement.startswith(_INDEX):
            connection.execute(statement)
