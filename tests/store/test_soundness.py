"""What is wrong with a file itself: named by ``check`` with the command that cures it, which then finds nothing."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from conftest import empty_database

from bevelbook.declare.errors import DatabaseError
from bevelbook.facts.views import VIEWS
from bevelbook.records import BY_NAME, FACTS, KINDS
from bevelbook.store import keeping
from bevelbook.store.closed_file import write_closed
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.schema import search_table
from bevelbook.store.searching import wrong_searches
from bevelbook.store.sqlite_errors import REBUILT
from bevelbook.store.writing import Writer

Maker = Callable[..., Any]
SEARCHED = [kind for kind in KINDS if kind.searched]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The file of a team with two builds of a diff with a weighing each, and a run."""
    db = empty_database(tmp_path_factory.mktemp("sound") / "team.db")
    with closing(open_for_writing(db)) as connection, transaction(connection, db, by="ana"):
        writer = Writer(connection, "ana")
        writer.insert(BY_NAME["diff"], {"label": "rear-a", "note": "a scratch"}, row_id="d")
        for number, note in ((1, "it weeps"), (2, "dry as a bone")):
            build = {"diff": "d", "built_on": f"2026-05-0{number}", "dry_mass_g": 12.4, "oil_mass_g": 1.86}
            row_id = writer.insert(BY_NAME["build"], build | {"label": f"rear-a/{number}", "note": note})
            weighed = {"build": row_id, "runs": 3.0, "mass_g": 14.2, "mass_basis": "closed", "note": "wiped"}
            writer.insert(BY_NAME["weighing"], weighed)
        writer.insert(BY_NAME["run"], {"label": "2026-05-03/1", "run_on": "2026-05-03", "note": "Über-grippy"})
    return db.read_bytes()


@pytest.fixture
def team(tmp_path: Path, made: bytes) -> Path:
    """That team."""
    write_closed(tmp_path / "team.db", made)
    return tmp_path / "team.db"


def edited(path: Path, *statements: str) -> None:
    """Change a file as a program that knows nothing of us may."""
    with closing(sqlite3.connect(path)) as connection, connection:
        for statement in statements:
            connection.execute(statement)


def faults(bevelbook: Maker, path: Path) -> list[str]:
    found: list[str] = bevelbook("--db", path, "check", "--json").json["faults"]
    return found


def entries(path: Path) -> list[str]:
    with closing(sqlite3.connect(path)) as connection:
        return [row[0] for row in connection.execute("SELECT asked FROM entries ORDER BY id")]


# The search


def test_a_sound_search_is_found_sound_and_left_as_it_is(team: Path) -> None:
    before = team.read_bytes()
    with closing(open_for_reading(team)) as connection:
        assert wrong_searches(connection) == []
    assert team.read_bytes() == before


@pytest.mark.parametrize(
    "statements",
    [
        ["DROP TRIGGER builds_search_changed", "UPDATE builds SET note = 'dry' WHERE note = 'it weeps'"],
        ["INSERT INTO builds_search (rowid, label, note) VALUES (77, 'rear-a/9', 'nowhere')"],
        ["INSERT INTO builds_search (builds_search) VALUES ('delete-all')"],
        [
            "DROP TRIGGER builds_search_changed",
            "UPDATE builds SET note = iif(note = 'it weeps', 'dry as a bone', 'it weeps')",
        ],
        ["UPDATE builds_search_data SET block = x'00' WHERE id > 10"],
        ["DROP TABLE builds_search"],
    ],
    ids=["a word changed", "a row too many", "empty", "two rows swapped", "damaged", "gone"],
)
def test_a_search_that_is_wrong_is_named_and_filled_again(bevelbook: Maker, team: Path, statements: list[str]) -> None:
    edited(team, *statements)
    with closing(open_for_reading(team)) as connection:
        assert [kind.name for kind in wrong_searches(connection)] == ["build"]
    assert any("search of builds" in one and "check --rebuild" in one for one in faults(bevelbook, team))
    assert bevelbook("--db", team, "check", "--rebuild").code in (0, 1)
    assert not any("search" in one for one in faults(bevelbook, team))
    with closing(sqlite3.connect(team)) as connection:
        connection.execute("INSERT INTO builds_search (builds_search, rank) VALUES ('integrity-check', 1)")
        hits = connection.execute("SELECT count(*) FROM builds_search WHERE builds_search MATCH 'bone'").fetchone()
        assert hits[0] == 1


@pytest.mark.parametrize("kind", SEARCHED, ids=lambda kind: kind.name)
def test_the_search_of_every_kind_is_looked_at(team: Path, kind) -> None:  # type: ignore[no-untyped-def]
    columns = ", ".join(kind.searched)
    values = ", ".join("'one word more'" for _ in kind.searched)
    edited(team, f"INSERT INTO {search_table(kind)} (rowid, {columns}) VALUES (77, {values})")
    with closing(open_for_reading(team)) as connection:
        assert wrong_searches(connection) == [kind]


# Rebuilding and accepting


def test_rebuilding_what_is_right_makes_no_entry(bevelbook: Maker, team: Path) -> None:
    before = entries(team)
    outcome = bevelbook("--db", team, "check", "--rebuild")
    assert "nothing to make again" in outcome.err
    assert entries(team) == before


def test_rebuilding_says_what_it_made_and_is_one_entry(bevelbook: Maker, team: Path) -> None:
    edited(
        team,
        "UPDATE build_facts SET oil_in_g = 99.0",
        "INSERT INTO builds_search (builds_search) VALUES ('delete-all')",
    )
    before = entries(team)
    said = bevelbook("--db", team, "check", "--rebuild").err
    assert "2 rows of build_facts worked out again" in said
    assert "the search of builds filled again" in said
    assert entries(team) == [*before, "check --rebuild"]


def test_changes_of_another_program_are_named_until_they_are_accepted(bevelbook: Maker, team: Path) -> None:
    edited(team, "UPDATE builds SET note = 'dry' WHERE label = 'rear-a/1'")
    (fault,) = [one for one in faults(bevelbook, team) if "another program" in one]
    assert "1 record of builds changed by another program" in fault
    assert "check --accept" in fault
    before = entries(team)
    outcome = bevelbook("--db", team, "--by", "ana", "check", "--accept")
    assert "Accepted the changes of 1 record." in outcome.err
    assert entries(team) == [*before, "check --accept"]
    assert faults(bevelbook, team) == []
    with closing(sqlite3.connect(team)) as connection:
        past = connection.execute("SELECT content, replaced_in FROM history").fetchall()
        assert [(json.loads(content)["note"], entry) for content, entry in past] == [("it weeps", "another program")]
    edited(team, "UPDATE builds SET note = 'damp' WHERE label = 'rear-a/1'")
    assert any("another program" in one for one in faults(bevelbook, team))


def test_accepting_nothing_makes_no_entry(bevelbook: Maker, team: Path) -> None:
    before = entries(team)
    assert "Accepted the changes of 0 records." in bevelbook("--db", team, "check", "--accept").err
    assert entries(team) == before


# Tables, views and references that are gone


@pytest.mark.parametrize("name", sorted(REBUILT))
def test_a_part_that_follows_from_the_records_is_made_again(bevelbook: Maker, team: Path, name: str) -> None:
    sort = "VIEW" if name in {*(view.name for view in VIEWS), *keeping.HIDDEN} else "TABLE"
    with closing(open_for_reading(team)) as connection:
        keys = [kind.table for kind in FACTS]
        before = [connection.execute(f"SELECT * FROM {key}").fetchall() for key in keys]
    edited(team, f"DROP {sort} {name}")
    outcome = bevelbook("--db", team, "check")
    if outcome.code == 2:
        assert "is missing" in outcome.err
        assert name in outcome.err
        assert "check --rebuild" in outcome.err
    assert bevelbook("--db", team, "check", "--rebuild").code in (0, 1)
    assert faults(bevelbook, team) == []
    with closing(open_for_reading(team)) as connection:
        assert [connection.execute(f"SELECT * FROM {key}").fetchall() for key in keys] == before
        assert connection.execute(f"SELECT count(*) FROM {name}").fetchone() is not None


@pytest.mark.parametrize("table", ["builds", "weighings", "entries", "about", "limits"])
@pytest.mark.parametrize(
    "words", [["check"], ["card", "rear-a/1"], ["record", "venue", "name=x"], ["compare", "a", "b"]]
)
def test_a_missing_table_of_records_is_reported_in_words(
    bevelbook: Maker, team: Path, table: str, words: list[str]
) -> None:
    edited(team, "PRAGMA foreign_keys = OFF", f"DROP TABLE {table}")
    outcome = bevelbook("--db", team, *words)
    if outcome.code == 2 and "named" not in outcome.err:
        assert str(team) in outcome.err
        assert table in outcome.err
        assert "backup copy" in outcome.err


@pytest.mark.parametrize(
    "words", [["check"], ["card", "rear-a/1"], ["record", "venue", "name=x"], ["check", "--rebuild"]]
)
def test_damaged_pages_are_reported_in_words(bevelbook: Maker, team: Path, words: list[str]) -> None:
    with closing(sqlite3.connect(team)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        root, size = (
            connection.execute(sql).fetchone()[0]
            for sql in ("SELECT rootpage FROM sqlite_master WHERE name = 'builds'", "PRAGMA page_size")
        )
    content = bytearray(team.read_bytes())
    content[(root - 1) * size : root * size] = b"\xff" * size
    team.write_bytes(content)
    outcome = bevelbook("--db", team, *words)
    assert outcome.code in (0, 2)
    if outcome.code == 2:
        assert f"{team}: the file is damaged" in outcome.err
        assert "backup copy" in outcome.err
    assert bevelbook("--db", team, "check").code == 2


def test_whatever_sqlite_refuses_in_a_transaction_is_ours(team: Path) -> None:
    with closing(open_for_writing(team)) as connection:
        with pytest.raises(DatabaseError) as caught, transaction(connection, team):
            connection.execute("INSERT INTO people (id) VALUES ('x')")
        assert caught.value.code == "refused_by_database"
        assert str(team) in str(caught.value)


def test_records_that_point_at_nothing_are_named(bevelbook: Maker, team: Path) -> None:
    edited(team, "PRAGMA foreign_keys = OFF", "DELETE FROM diffs")
    assert any("2 records of builds point to diffs that are gone" in one for one in faults(bevelbook, team))
    outcome = bevelbook("--db", team, "card", "rear-a/1")
    assert outcome.code == 2
    assert "the diff of rear-a/1 is gone" in outcome.err
    assert f"bevelbook --db {team} record build rear-a/1 diff=" in outcome.err


def test_a_record_that_was_written_with_one_that_is_gone_is_named(bevelbook: Maker, team: Path) -> None:
    """Two diffs of one name are one: the build of the second shows the first, so no reference misses the second."""
    with closing(open_for_writing(team)) as connection, transaction(connection, team, by="bo"):
        writer = Writer(connection, "bo")
        writer.insert(BY_NAME["diff"], {"label": "front-1"}, row_id="f")
        writer.insert(BY_NAME["diff"], {"label": "Rear-A"}, row_id="e")
        writer.insert(BY_NAME["build"], {"diff": "e", "built_on": "2026-05-03", "label": "rear-a/3"})
    assert faults(bevelbook, team) == []
    edited(team, "PRAGMA foreign_keys = OFF", "DELETE FROM diffs WHERE id = 'e'")
    said = "1 record of builds (rear-a/3) was written with diffs that are gone, and shows what was one with them"
    assert [one.startswith(said) for one in faults(bevelbook, team)].count(True) == 1
    for diff in ("front-1", "rear-a"):
        assert bevelbook("--db", team, "record", "build", "rear-a/3", f"diff={diff}").code == 0
    assert not [one for one in faults(bevelbook, team) if "written with" in one]
