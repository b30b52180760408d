"""The other database, beside the own one on one connection; and its references as they were written."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

from bevelbook.records import BY_TABLE
from bevelbook.store.schema import quoted

OTHER: Final = "other"


@contextmanager
def beside(connection: sqlite3.Connection, other: Path) -> Iterator[None]:
    """For the duration, the tables of another database are there under ``other``."""
    connection.execute("ATTACH DATABASE ? AS other", (str(other),))
    try:
        yield
    except BaseException:
        with suppress(sqlite3.Error):  # what was being read when it failed may hold the other one; the fault counts
            connection.execute("DETACH DATABASE other")
        raise
    connection.execute("DETACH DATABASE other")


def show_as_written(connection: sqlite3.Connection, schema: str) -> None:
    """Have every reference show what was written, not the record that it is one with.

    Inside the caller's transaction, while records come in; joins are applied again afterwards.
    """
    places = connection.execute(
        f"SELECT DISTINCT table_name, column_name FROM {schema}.as_written ORDER BY table_name, column_name"
    ).fetchall()
    for table, column in places:
        if table not in BY_TABLE or column not in BY_TABLE[table].columns:
            continue
        connection.execute(
            f"UPDATE {schema}.{table} AS t SET {quoted(column)} = (SELECT w.written FROM {schema}.as_written w "
            "WHERE w.table_name = ?1 AND w.row_id = t.id AND w.column_name = ?2) WHERE t.id IN "
            f"(SELECT w.row_id FROM {schema}.as_written w WHERE w.table_name = ?1 AND w.column_name = ?2)",
            (table, column),
        )
    if places:
        connection.execute(f"DELETE FROM {schema}.as_written")
