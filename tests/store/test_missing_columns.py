"""A database whose table lacks a column, as another program may leave it: said as a fault of SQLite, never taken for a
text or another error."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from bevelbook.records import BY_NAME
from bevelbook.store.entry_contents import EntryBook, content_columns
from bevelbook.store.sqlite_errors import explained
from bevelbook.store.take_back import Move, _move


@pytest.fixture
def lacking() -> Iterator[sqlite3.Connection]:
    """A database with builds that have no label."""
    held = sqlite3.connect(":memory:")
    held.row_factory = sqlite3.Row
    names = ["id", "version", "parents", *content_columns(BY_NAME["build"])]
    names.remove("label")
    held.execute(f"CREATE TABLE builds ({', '.join(names)})")
    held.execute("CREATE TABLE history (id, table_name, row_id, version, parents, content, replaced_in)")
    held.execute("CREATE TABLE entries (id, made_at, made_by, asked, reason, took_back)")
    held.execute("INSERT INTO builds (id, version) VALUES ('b1', 'v1')")
    yield held
    held.close()


def test_what_a_take_back_reads_names_the_missing_column(lacking: sqlite3.Connection) -> None:
    build = BY_NAME["build"]
    with pytest.raises(sqlite3.OperationalError, match="no such column") as moved:
        _move(lacking, Move(build, "b1", None, None))
    assert "a table, view or column of it is missing" in str(explained(moved.value, Path("x.db")))
    book = EntryBook.__new__(EntryBook)
    book.connection = lacking
    with pytest.raises(sqlite3.OperationalError, match=r"no such column: builds\.label"):
        [*book.states(build, "b1")]
