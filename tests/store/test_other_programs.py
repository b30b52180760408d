"""Any program that knows SQLite may change the file: history and search follow, without a function of ours."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
import sqlite_utils

from bevelbook.records import BY_NAME, KINDS
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.schema import search_table
from bevelbook.store.writing import Writer

SHADOWS = ("_data", "_idx", "_docsize", "_config")
SEARCHED = [kind for kind in KINDS if kind.searched]
ADD = "INSERT INTO builds (id, label, diff, built_on, note, created_at, updated_at) VALUES (?, ?, 'd', ?, ?, '', '')"


@pytest.fixture
def team(db: Path) -> Path:
    with closing(open_for_writing(db)) as connection, transaction(connection, db, by="ana"):
        writer = Writer(connection, "ana")
        writer.insert(BY_NAME["diff"], {"label": "rear-a"}, row_id="d")
        build = {"label": "rear-a/1", "diff": "d", "built_on": "2026-05-03", "dry_mass_g": 9.5, "note": "it weeps"}
        writer.insert(BY_NAME["build"], build, row_id="b")
    return db


@pytest.fixture(params=["recursive triggers off", "recursive triggers on"])
def other(team: Path, request: pytest.FixtureRequest) -> Iterator[sqlite3.Connection]:
    """A plain connection."""
    with closing(sqlite3.connect(team)) as connection:
        connection.row_factory = sqlite3.Row
        connection.execute(f"PRAGMA recursive_triggers = {request.param.split()[-1]}")
        yield connection


def hits(connection: sqlite3.Connection, word: str) -> list[str]:
    found = connection.execute(
        "SELECT id FROM builds WHERE rowid IN (SELECT rowid FROM builds_search WHERE builds_search MATCH ?)", (word,)
    )
    return [row[0] for row in found]


def test_it_may_add_change_and_remove(other: sqlite3.Connection) -> None:
    with other:
        other.execute(ADD, ("c", "rear-a/2", "2026-05-10", "dry as a bone"))
    assert hits(other, "bone") == ["c"]
    with other:
        other.execute("UPDATE builds SET note = 'damp at the joint' WHERE id = 'c'")
    assert (hits(other, "bone"), hits(other, "damp")) == ([], ["c"])
    with other:
        other.execute("DELETE FROM builds WHERE id = 'c'")
    assert hits(other, "damp") == []
    first, second, removal = other.execute("SELECT * FROM history WHERE row_id = 'c' ORDER BY id").fetchall()
    assert [json.loads(one["content"])["note"] for one in (first, second)] == ["dry as a bone", "damp at the joint"]
    assert first["parents"] is None
    assert json.loads(second["parents"]) == [first["version"]]
    assert json.loads(removal["parents"]) == [second["version"]]
    assert (removal["content"], removal["replaced_at"]) == (None, None)
    versions = {one["version"] for one in (first, second, removal)}
    assert len(versions) == 3
    assert all(version.startswith("another program ") for version in versions)
    assert {one["replaced_in"] for one in (first, second, removal)} == {None}


def test_its_change_of_a_record_of_ours_is_a_version_after_ours(other: sqlite3.Connection, team: Path) -> None:
    (entry,) = other.execute("SELECT id FROM entries").fetchone()
    with other:
        other.execute("UPDATE builds SET note = 'dry' WHERE id = 'b'")
        other.execute("UPDATE builds SET note = 'dry again' WHERE id = 'b'")
    row = other.execute("SELECT version, parents FROM builds WHERE id = 'b'").fetchone()
    first, second = other.execute("SELECT version, parents, replaced_in FROM history ORDER BY id").fetchall()
    assert (first["version"], first["replaced_in"]) == (entry, None)
    assert json.loads(second["parents"]) == [entry]
    assert json.loads(row["parents"]) == [second["version"]]
    assert other.execute("SELECT * FROM writing").fetchone()[:] == (1, None, None, None)
    with closing(open_for_writing(team)) as connection, transaction(connection, team) as ours:
        Writer(connection, "ana").update(BY_NAME["build"], "b", {"note": "it weeps"})
    after = other.execute("SELECT version, parents FROM builds WHERE id = 'b'").fetchone()
    assert (after["version"], json.loads(after["parents"])) == (ours.id, [row["version"]])
    assert other.execute("SELECT count(*) FROM history").fetchone()[0] == 3


def test_a_writer_outside_an_entry_is_another_program(connection: sqlite3.Connection) -> None:
    connection.execute("UPDATE writing SET entry = NULL")
    writer = Writer(connection, "ana")
    venue = writer.insert(BY_NAME["venue"], {"name": "Brickfield"})
    writer.update(BY_NAME["venue"], venue, {"surface": "clay"})
    version, parents = connection.execute("SELECT version, parents FROM venues").fetchone()
    past = connection.execute("SELECT version FROM history").fetchall()
    assert version.startswith("another program ")
    assert json.loads(parents) == [past[0]["version"]]
    assert len(past) == 1


def test_no_trigger_and_no_view_calls_a_function_of_ours(team: Path) -> None:
    """A plain connection can make every one of them, and ask every view."""
    with closing(sqlite3.connect(team)) as source, closing(sqlite3.connect(":memory:")) as plain:
        listed = source.execute("SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY rowid")
        rows = [row for row in listed if "sqlite_" not in row[1] and not row[1].endswith(SHADOWS)]
        for _, _, sql in rows:
            plain.execute(sql)
        for sort, name, _ in rows:
            if sort == "view":
                plain.execute(f"SELECT * FROM {name}").fetchall()


@pytest.mark.parametrize("kind", SEARCHED, ids=lambda kind: kind.name)
def test_other_programs_find_the_search_of_a_table(db: Path, kind) -> None:  # type: ignore[no-untyped-def]
    with closing(sqlite3.connect(db)) as connection:
        assert sqlite_utils.Database(connection)[kind.table].detect_fts() == search_table(kind)


def test_other_programs_search_by_it(team: Path) -> None:
    with closing(sqlite3.connect(team)) as connection:
        builds = sqlite_utils.Database(connection)["builds"]
        assert [row["label"] for row in builds.search("weeps")] == ["rear-a/1"]
        assert list(builds.search("bone")) == []


def test_a_version_that_it_names_itself_stays(other: sqlite3.Connection) -> None:
    with other:
        other.execute("UPDATE builds SET note = 'dry', version = 'mine', parents = json_array(version) WHERE id = 'b'")
    (entry,) = other.execute("SELECT id FROM entries").fetchone()
    row = other.execute("SELECT version, parents FROM builds WHERE id = 'b'").fetchone()
    assert (row["version"], json.loads(row["parents"])) == ("mine", [entry])
    assert [one["version"] for one in other.execute("SELECT version FROM history")] == [entry]
