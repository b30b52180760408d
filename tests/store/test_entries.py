"""Entries: each act of a person that changes records, once, with what was asked for."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from asked import asked

from bevelbook.declare.errors import DatabaseError
from bevelbook.records import BY_NAME
from bevelbook.store import entries
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

Run = Callable[..., Any]
VENUE = BY_NAME["venue"]
EMPTY = [(1, None, None, None)]


@pytest.fixture
def opened(db: Path) -> Iterator[sqlite3.Connection]:
    connection = open_for_writing(db)
    yield connection
    connection.close()


def test_a_transaction_that_changes_records_is_one_entry(opened: sqlite3.Connection, db: Path) -> None:
    with transaction(opened, db, asked="record venue name=Brickfield", by="ana") as entry:
        writer = Writer(opened, "ana")
        row_id = writer.insert(VENUE, {"name": "Brickfield"})
        writer.insert(BY_NAME["person"], {"name": "ana"})
    assert UUID(entry.id).version == 7
    assert asked(db, "SELECT id, made_at, made_by, asked, took_back FROM entries") == [
        (entry.id, entry.made_at, entry.made_by, entry.asked, None)
    ]
    assert (entry.made_by, entry.asked) == ("ana", "record venue name=Brickfield")
    assert asked(db, "SELECT id, version, parents FROM venues") == [(row_id, entry.id, None)]
    assert asked(db, "SELECT version FROM people") == [(entry.id,)]
    assert asked(db, "SELECT * FROM writing") == EMPTY


def test_a_transaction_that_changes_nothing_is_none(opened: sqlite3.Connection, db: Path) -> None:
    with transaction(opened, db, asked="record venue"):
        opened.execute("DELETE FROM venues WHERE name = 'nowhere'")
    assert asked(db, "SELECT * FROM entries") == []
    assert asked(db, "SELECT * FROM writing") == EMPTY


def test_what_was_not_said_is_marked_so(opened: sqlite3.Connection, db: Path) -> None:
    with transaction(opened, db):
        Writer(opened, None).insert(VENUE, {"name": "Brickfield"})
    assert asked(db, "SELECT made_by, asked FROM entries") == [(None, "not said")]


def test_facts_follow_inside_the_transaction_and_are_no_change(opened: sqlite3.Connection, db: Path) -> None:
    with transaction(opened, db):
        Writer(opened, None).insert(BY_NAME["diff"], {"label": "rear-a"})
    with transaction(opened, db):
        pass
    assert asked(db, "SELECT word, reasons FROM diff_facts") == [("apart", "not built")]
    assert asked(db, "SELECT count(*) FROM entries") == [(1,)]


def test_the_end_of_an_entry_clears_the_settings_of_the_triggers(opened: sqlite3.Connection, db: Path) -> None:
    """Also where who wrote left it behind: the next writer, of any program, has its search and its history."""
    with transaction(opened, db):
        row_id = Writer(opened, None).insert(VENUE, {"name": "Brickfield"})
        opened.execute("UPDATE writing SET bulk = 1, placing = 1")
    assert asked(db, "SELECT * FROM writing") == EMPTY
    with transaction(opened, db):
        opened.execute("UPDATE writing SET bulk = 1, placing = 1")
        entries.end(opened, entries.begin(opened), keep=False)
        assert opened.execute("SELECT * FROM writing").fetchall()[0][:] == EMPTY[0]
    with closing(sqlite3.connect(db)) as other, other:
        other.execute("UPDATE venues SET name = 'Tannery Hall' WHERE id = ?", (row_id,))
    assert asked(db, "SELECT count(*) FROM history") == [(1,)]
    assert asked(db, "SELECT rowid FROM venues_search WHERE venues_search MATCH 'tannery'") == [(1,)]
    assert asked(db, "SELECT rowid FROM venues_search WHERE venues_search MATCH 'brickfield'") == []


def test_what_a_full_disk_keeps_from_the_file_is_written_all_the_same(db: Path) -> None:
    """The commit is in the log; only putting the log into the file finds the disk full: no fault, and no loss."""

    class Full(sqlite3.Connection):
        def execute(self, sql: str, *given: Any) -> sqlite3.Cursor:
            if "wal_checkpoint" in sql:
                raise sqlite3.OperationalError("database or disk is full")
            return super().execute(sql, *given)

    with closing(sqlite3.connect(db, isolation_level=None, factory=Full)) as connection:
        with transaction(connection, db):
            Writer(connection, None).insert(VENUE, {"name": "Brickfield"})
        assert asked(db, "SELECT name FROM venues") == [("Brickfield",)]
    assert asked(db, "SELECT name FROM venues") == [("Brickfield",)]


def test_a_disk_that_is_full_at_the_commit_is_reported_and_nothing_is_written(db: Path) -> None:
    with closing(open_for_writing(db)) as connection:
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(DatabaseError, match="the disk is full") as caught, transaction(connection, db):
            Writer(connection, None).insert(VENUE, {"name": "Brickfield", "note": "x" * 1_000_000})
        assert "Nothing was changed" in str(caught.value)
    assert asked(db, "SELECT count(*) FROM venues") == [(0,)]


def test_a_fault_while_facts_are_worked_out_leaves_nothing(
    opened: sqlite3.Connection, db: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_connection: sqlite3.Connection) -> None:
        raise RuntimeError

    monkeypatch.setattr("bevelbook.store.opening.renew_touched", broken)
    with pytest.raises(RuntimeError), transaction(opened, db):
        Writer(opened, None).insert(VENUE, {"name": "Brickfield"})
    for table in ("venues", "entries", "history"):
        assert asked(db, f"SELECT count(*) FROM {table}") == [(0,)]
    assert asked(db, "SELECT * FROM writing") == EMPTY


def test_the_row_of_what_is_being_written_comes_back_where_another_program_took_it(db: Path) -> None:
    with closing(sqlite3.connect(db)) as other, other:
        other.execute("DELETE FROM writing")
    with closing(open_for_writing(db)) as connection, transaction(connection, db) as entry:
        Writer(connection, None).insert(VENUE, {"name": "Brickfield"})
    assert asked(db, "SELECT version FROM venues") == [(entry.id,)]
    assert asked(db, "SELECT * FROM writing") == EMPTY


def test_every_command_that_writes_is_an_entry_with_the_words_typed(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    (tmp_path / "old notes.csv").write_text("date,diff,dry_mass_g\n2026-05-03,rear-a,9.5\n", encoding="utf-8")
    commands = (
        ("record", "venue", "name=Tannery Hall"),
        ("import", "old notes.csv"),
        ("record", "build", "rear-a/1", "note=it weeps"),
        ("calc", "viscosity", "--viscosity", "7000", "--temperature", "31", "--keep"),
    )
    for command in commands:
        assert bevelbook("--db", db, "--by", "ana", *command).code == 0
    assert bevelbook("--db", db, "--by", "ana", "record", "build", "rear-a/1", "note=it weeps").code == 0
    assert asked(db, "SELECT made_by, asked FROM entries ORDER BY id") == [
        ("ana", 'record venue "name=Tannery Hall"'),
        ("ana", 'import "old notes.csv"'),
        ("ana", 'record build rear-a/1 "note=it weeps"'),
        ("ana", "calc viscosity --viscosity 7000 --temperature 31 --keep"),
    ]


def test_the_log_is_put_into_the_file_without_waiting_for_a_reader(db: Path) -> None:
    """A reader that holds an older state: the command ends all the same, and the last to close leaves no log."""
    log = db.with_name(f"{db.name}-wal")
    with closing(sqlite3.connect(db)) as reader:
        reader.execute("BEGIN")
        assert reader.execute("SELECT count(*) FROM venues").fetchone()[0] == 0
        with closing(open_for_writing(db)) as connection:
            said: list[str] = []
            connection.set_trace_callback(said.append)
            with transaction(connection, db):
                Writer(connection, None).insert(VENUE, {"name": "Brickfield"})
            assert [one for one in said if "wal_checkpoint" in one] == ["PRAGMA wal_checkpoint(PASSIVE)"]
        assert reader.execute("SELECT count(*) FROM venues").fetchone()[0] == 0
        assert log.stat().st_size
        reader.execute("ROLLBACK")
    assert not log.exists()
    copy = db.with_name("copy.db")
    copy.write_bytes(db.read_bytes())
    assert asked(copy, "SELECT name FROM venues") == [("Brickfield",)]
