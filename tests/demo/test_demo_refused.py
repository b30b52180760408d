"""The demo is refused where anything else is, an older demo too, and changes nothing. All data are invented."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from released import released

from bevelbook.records import BY_NAME
from bevelbook.store.ids import content_id
from bevelbook.store.old_demo import note_files_of_old_demo
from bevelbook.store.opening import new_database, transaction
from bevelbook.store.writing import Writer

Run = Callable[..., Any]
NOTES_OF_OLD = "INSERT INTO note_files (id, name, sha256, byte_count, read_at, options, accepted, rejected, skipped) "


def note_file_of_old_demo(connection: sqlite3.Connection) -> str:
    """Write a note file of the older demo down, and give its id."""
    note_file = min(note_files_of_old_demo())
    connection.execute(f"{NOTES_OF_OLD} VALUES (?, 'notes.csv', ?, 1, 'now', '{{}}', 1, 0, 0)", (note_file, note_file))
    return note_file


@pytest.fixture
def old(tmp_path: Path) -> Path:
    """A database with a diff as the older demo made it and one of its notes, after the upgrade."""
    path = tmp_path / "old.db"
    with closing(new_database(path)) as connection, transaction(connection, path):
        writer = Writer(connection, "ana")
        diff = writer.insert(BY_NAME["diff"], {"label": "rear-x"}, row_id=content_id("1970-01-01", "diff rear-x"))
        build = writer.insert(BY_NAME["build"], {"label": "rear-x/1", "diff": diff, "built_on": "2026-05-01"})
        note_file = note_file_of_old_demo(connection)
        connection.execute("UPDATE builds SET note_file = ? WHERE id = ?", (note_file, build))
    return path


def test_an_older_demo_is_called_that_and_a_free_name_is_given(bevelbook: Run, old: Path) -> None:
    old.with_name("old-2.db").touch()
    before = old.read_bytes()
    refused = bevelbook("--db", old, "demo")
    assert refused.code == 2
    assert "this is an older demo, made by version 0.1.0" in refused.err
    assert f"bevelbook --db {old.with_name('old-3.db')} demo" in refused.err
    assert "something else" not in refused.err
    assert old.read_bytes() == before


def test_what_is_not_of_the_older_demo_is_named_as_people_call_it(bevelbook: Run, old: Path) -> None:
    assert bevelbook("--db", old, "record", "diff", "label=my-own").code == 0
    refused = bevelbook("--db", old, "demo", "--json").json
    assert (refused["code"], refused["found"]) == ("database_not_empty", "diff my-own")


def test_a_seal_fitted_by_hand_is_not_of_the_older_demo(bevelbook: Run, old: Path) -> None:
    assert bevelbook("--db", old, "record", "seal-fitting", "build=rear-x/1", "place=joint").code == 0
    refused = bevelbook("--db", old, "demo", "--json").json
    assert (refused["code"], refused["found"]) == ("database_not_empty", "seal fitting rear-x/1 joint")


def test_a_database_of_an_older_version_is_refused_as_it_is(bevelbook: Run, tmp_path: Path) -> None:
    path = released(tmp_path / "own.db")
    with closing(sqlite3.connect(path)) as connection, connection:
        note_file_of_old_demo(connection)
        people = {row[0] for row in connection.execute("SELECT name FROM people")}
    before = path.read_bytes()
    refused = bevelbook("--db", path, "demo", "--json").json
    assert refused["code"] == "database_not_empty"
    assert refused["found"].removeprefix("person ") in people
    assert "Nothing was changed." in refused["remedy"]
    assert path.read_bytes() == before
    assert [one.name for one in tmp_path.iterdir()] == ["own.db"]
