"""Many new rows of a table at once: without the triggers that handle each, and without indexes where that pays."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from bevelbook.facts import rows_to_place, touched_diffs
from bevelbook.records import Kind
from bevelbook.store.schema import index_sql
from bevelbook.store.triggers import added_sql

_MANY: Final = 10_000
_REBUILD_SHARE: Final = 0.5
"""If a table grows by more than twice what it holds, its indexes are made again in less time than they are kept."""


@contextmanager
def many_rows(connection: sqlite3.Connection, kind: Kind, schema: str) -> Iterator[None]:
    """For the duration, rows of a kind from another database are added without search, facts and, where they are many
    beside what is held, without indexes; the caller fills the search and notes what was touched."""
    coming, held = connection.execute(
        f"SELECT (SELECT count(*) FROM {schema}.{kind.table}), (SELECT count(*) FROM main.{kind.table})"
    ).fetchone()
    dropped: list[str] = []
    connection.execute("UPDATE writing SET bulk = 1")
    if coming > _MANY:
        touched_diffs.look_away(connection, [kind.table])
        rows_to_place.look_away(connection)
        for statement in added_sql(kind):
            connection.execute(f"DROP TRIGGER IF EXISTS main.{statement.split()[2]}")
            dropped.append(statement)
        if held < _REBUILD_SHARE * coming:
            for statement in index_sql(kind):
                connection.execute(f"DROP INDEX IF EXISTS main.{statement.split()[2]}")
                dropped.append(statement)
    yield
    for statement in dropped:
        connection.execute(statement)
    connection.execute("UPDATE writing SET bulk = NULL")
