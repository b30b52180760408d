"""Search follows what is written, one by one and in bulk."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from bevelbook.notes import bulk
from bevelbook.records import BY_NAME, KINDS
from bevelbook.store.made_by_others import schema_parts
from bevelbook.store.migrate import _held, _wanted
from bevelbook.store.schema import ALL_KINDS, search_table
from bevelbook.store.writing import Writer

Run = Callable[..., Any]
HEAD = "date,diff,builder,dry_mass_g,fluid,venue,runs,result_note\n"


def hits(connection: sqlite3.Connection, word: str, table: str = "venues") -> int:
    found = connection.execute(f"SELECT count(*) FROM {table}_search WHERE {table}_search MATCH ?", (word,))
    return int(found.fetchone()[0])


def is_whole(connection: sqlite3.Connection) -> None:
    """Every index holds just the words of its table."""
    for kind in KINDS:
        if kind.searched:
            index = search_table(kind)
            connection.execute(f"INSERT INTO {index} ({index}, rank) VALUES ('integrity-check', 1)")


def test_search_follows_insert_update_and_removal(writer: Writer, connection: sqlite3.Connection) -> None:
    venue = writer.insert(BY_NAME["venue"], {"name": "Brickfield", "note": "dusty by noon"})
    assert hits(connection, "dusty") == 1
    writer.update(BY_NAME["venue"], venue, {"note": "damp by noon"})
    assert (hits(connection, "dusty"), hits(connection, "damp")) == (0, 1)
    connection.execute("DELETE FROM venues")
    assert hits(connection, "damp") == 0
    is_whole(connection)


def test_the_triggers_are_silent_while_an_import_fills_the_search(connection: sqlite3.Connection) -> None:
    connection.execute("UPDATE writing SET bulk = 1")
    Writer(connection, "ana").insert(BY_NAME["venue"], {"name": "Brickfield"})
    assert hits(connection, "Brickfield") == 0
    connection.execute("UPDATE writing SET bulk = NULL")
    Writer(connection, "ana").insert(BY_NAME["venue"], {"name": "North Quay"})
    assert hits(connection, "North") == 1


@pytest.mark.parametrize("many", [10_000, 0], ids=["with the triggers", "without"])
def test_an_import_fills_the_search_once(
    bevelbook: Run, db: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, many: int
) -> None:
    """Twice in a row, so that there is something in it before."""
    monkeypatch.setattr(bulk, "_MANY_ROWS", many)
    for number in range(2):
        rows = "".join(
            f"2026-05-{1 + n % 28:02},rear-{number},ana,9.5,house {number}k,Brickfield,2,gust {number}\n"
            for n in range(40)
        )
        (tmp_path / "notes.csv").write_text(HEAD + rows, encoding="utf-8")
        assert bevelbook("--db", db, "import", "notes.csv").code == 0
    with closing(sqlite3.connect(db)) as connection:
        is_whole(connection)
        counted = [hits(connection, word, table) for word, table in FOUND]
        assert counted == [80, 1, 2, 2]
        assert connection.execute("SELECT * FROM writing").fetchall() == [(1, None, None, None)]
        held = _held(connection, schema_parts(connection), _wanted(ALL_KINDS))
        assert {key: part.sql for key, part in held.items()} == _wanted(ALL_KINDS)


FOUND = (("gust", "runs"), ("Brickfield", "venues"), ("house", "fluids"), ("rear", "diffs"))


def test_a_name_that_an_import_brings_is_found(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    (tmp_path / "notes.csv").write_text(HEAD + "2026-05-03,rear-a,bo,9.5,house 7k,North Quay,1,\n", encoding="utf-8")
    assert bevelbook("--db", db, "import", "notes.csv").code == 0
    with closing(sqlite3.connect(db)) as connection:
        assert hits(connection, "North") == 1
        is_whole(connection)
