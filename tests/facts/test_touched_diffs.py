"""Facts follow every change in plain SQL: kept up diff by diff they are those of a full rebuild. Constructed.

The suite makes a few edits of each sort; so many times as many, with other values, by hand:

    BEVELBOOK_EDITS=10 python -m pytest tests/facts/test_touched_diffs.py
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from math import sqrt
from pathlib import Path
from typing import Any

import pytest
from conftest import empty_database
from constructed import Add, Team, adding
from plain_edits import DIFFS, TABLES, Edits

from bevelbook.facts import renew
from bevelbook.facts.renew import renew_touched, stale
from bevelbook.facts.touched_diffs import watch
from bevelbook.records import BY_TABLE, FACTS
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

SOUND = {kind.table: 0 for kind in FACTS}


TIMES = int(os.environ.get("BEVELBOOK_EDITS", "1"))
OTHERS_A_COLUMN = 6 * TIMES
"""Edits of each column, each to a value that the row did not have."""
OTHERS_UNSEEN = 8
"""So many where facts are looked at once, after all of them."""
NO_KEPT_FACT = frozenset({"build_parts"})
"""Of the parts of a build only the uses of seals are kept."""
FOLLOWED = sorted({*TABLES} - NO_KEPT_FACT)


def unsynced(path: Path) -> sqlite3.Connection:
    """A database to write to that waits for no disk: what survives a power cut is not asked here."""
    connection = open_for_writing(path)
    connection.execute("PRAGMA synchronous = OFF")
    return connection


def filled(path: Path, seed: int) -> Edits:
    """A team in a new database, with rows in every table."""
    connection = unsynced(empty_database(path))
    with transaction(connection, path):
        made = Edits(connection, seed)
        made.fill()
    assert stale(connection) == SOUND
    return made


@pytest.fixture(scope="module")
def original(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("touched") / "team.db"
    filled(path, 1).connection.close()
    return path


@pytest.fixture
def edits(original: Path, tmp_path: Path) -> Iterator[tuple[Path, Edits]]:
    """A copy of that team, and a way to edit it."""
    path = tmp_path / "team.db"
    path.write_bytes(original.read_bytes())
    connection = unsynced(path)
    yield path, Edits(connection, 2)
    connection.close()


@pytest.fixture
def piecemeal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Never the short way of working all facts out where most diffs are touched."""
    monkeypatch.setattr(renew, "_ALL_FROM_SHARE", 2.0)


def facts_of(connection: sqlite3.Connection) -> list[list[tuple[Any, ...]]]:
    return [[tuple(row) for row in connection.execute(f"SELECT * FROM {kind.table}")] for kind in FACTS]


def columns_read(path: Path) -> set[tuple[str, str]]:
    """The columns of records that working out all facts reads, as SQLite itself reports them."""
    found: set[tuple[str, str]] = set()

    def noted(action: int, table: str | None, column: str | None, *_: object) -> int:
        if action == sqlite3.SQLITE_READ and table in BY_TABLE and not BY_TABLE[table].fact:
            found.add((table, column or ""))
        return sqlite3.SQLITE_OK

    connection = open_for_writing(path)
    connection.set_authorizer(noted)
    stale(connection)
    connection.set_authorizer(None)
    connection.close()
    return {one for one in found if one[1]}


def test_the_tables_that_are_edited_here_are_those_that_facts_are_worked_out_from(edits: tuple[Path, Edits]) -> None:
    assert {table for table, _ in columns_read(edits[0])} == {*FOLLOWED, "note_files"}


def test_a_file_of_notes_that_is_renamed_is_followed(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    """The run of a later version of a sheet is below the weighing; under another name it is of another sheet."""
    build = team.build(closed_mass_g=22.4)
    for name in ("first", "second"):
        connection.execute(
            "INSERT INTO note_files (id, name, sha256, byte_count, read_at, accepted, rejected, skipped) "
            "VALUES (?1, 'sheet.csv', ?1, 0, 't', 0, 0, 0)",
            (name,),
        )
    add("weighing", build=build, weighed_on="2026-02-01", mass_g=22.3, mass_basis="closed")
    connection.execute("UPDATE weighings SET note_file = 'first', note_line = 2")
    for line, file in ((1, "first"), (3, "second")):
        run = add("run", label=file, run_on="2026-02-01", runs=1.0)
        add("run_diff", run=run, build=build)
        connection.execute("UPDATE runs SET note_file = ?, note_line = ? WHERE id = ?", (file, line, run))
    asked = "SELECT weighed_at_runs FROM build_facts"
    renew_touched(connection)
    assert connection.execute(asked).fetchone()[0] == 1.0
    for file in ("first", "second"):
        for name, runs in (("other.csv", 2.0), ("sheet.csv", 1.0)):
            connection.execute("UPDATE note_files SET name = ? WHERE id = ?", (name, file))
            renew_touched(connection)
            assert (connection.execute(asked).fetchone()[0], stale(connection)) == (runs, SOUND), (file, name)


@pytest.mark.usefixtures("piecemeal")
@pytest.mark.parametrize("table", FOLLOWED)
def test_each_column_that_facts_rest_on_is_followed_when_it_changes(edits: tuple[Path, Edits], table: str) -> None:
    """Some columns are read only to see whether their value is possible, such as a best lap."""
    path, made = edits
    columns = sorted(column for name, column in columns_read(path) if name == table and column != "id")
    changed = 0
    for column in columns:
        for _ in range(OTHERS_A_COLUMN):
            before = facts_of(made.connection)
            with transaction(made.connection, path):
                made.update(table, (column,))
            assert stale(made.connection) == SOUND, made.log[-1]
            changed += facts_of(made.connection) != before
    assert columns
    assert changed >= len(columns) / 2, "such edits do change what is kept"


@pytest.mark.usefixtures("piecemeal")
@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize("edit", [Edits.insert, Edits.delete, Edits.replace, Edits.rename, Edits.update_many])
def test_rows_that_come_go_and_are_replaced_are_followed(
    edits: tuple[Path, Edits], table: str, edit: Callable[[Edits, str], None]
) -> None:
    path, made = edits
    for _ in range(3 * TIMES):
        with transaction(made.connection, path):
            was = made.connection.total_changes
            edit(made, table)
            is_refused = made.connection.total_changes == was
        assert is_refused or stale(made.connection) == SOUND, made.log[-1]


@pytest.mark.usefixtures("piecemeal")
@pytest.mark.parametrize("table", FOLLOWED)
def test_without_its_triggers_a_change_of_a_table_would_leave_facts_behind(
    edits: tuple[Path, Edits], table: str
) -> None:
    """The edits above do touch what is kept."""
    path, made = edits
    columns = sorted(column for name, column in columns_read(path) if name == table and column != "id")
    with transaction(made.connection, path):
        names = [
            row[0] for row in made.connection.execute("SELECT name FROM temp.sqlite_master WHERE type = 'trigger'")
        ]
        of_table = [name for name in names if name.endswith(f"_of_{table}")]
        assert of_table
        for name in of_table:
            made.connection.execute(f"DROP TRIGGER temp.{name}")
        for column in columns:
            for _ in range(OTHERS_UNSEEN):
                made.update(table, (column,))
    assert stale(made.connection) != SOUND


@pytest.mark.usefixtures("piecemeal")
@pytest.mark.parametrize("way", ["build", "weighing", "opening"])
def test_a_scale_is_followed_by_each_way_that_leads_to_it(
    connection: sqlite3.Connection, writer: Writer, way: str
) -> None:
    """U of a difference is 2 sqrt(u1² + u2²) with u² = step² / 12 of each reading (JCGM 100:2008, F.2.2.1)."""
    add = adding(writer)
    add("diff", label="another")
    fine, other = (
        add("scale", name=name, step_g=0.01, repeatability_g=0.0, day_to_day_g=0.0) for name in ("fine", "other")
    )
    scales = {one: other if one == way else fine for one in ("build", "weighing", "opening")}
    build = Team(add).build(oil_mass_g=1.86, closed_mass_g=22.4, scale=scales["build"])
    if way != "opening":
        add("weighing", build=build, runs=6.0, mass_g=22.39, mass_basis="closed", scale=scales["weighing"])
    else:
        run = add("run", label="one", run_on="2026-02-01", runs=6.0)
        add("run_diff", run=run, build=build)
        add("opening", build=build, opened_on="2026-02-02", closed_mass_g=22.39, scale=scales["opening"])
    asked = "SELECT loss_uncertainty_g FROM build_facts"
    assert connection.execute(asked).fetchone()[0] == pytest.approx(2.0 * sqrt(2.0 * 0.01**2 / 12.0))
    connection.execute("UPDATE scales SET step_g = 0.1 WHERE id = ?", (other,))
    renew_touched(connection)
    assert connection.execute(asked).fetchone()[0] == pytest.approx(2.0 * sqrt((0.01**2 + 0.1**2) / 12.0))
    assert stale(connection) == SOUND


@pytest.mark.parametrize("share", [0.5, 2.0], ids=["all where most are touched", "always diff by diff"])
@pytest.mark.parametrize("seed", range(1, TIMES + 1))
def test_facts_after_two_hundred_edits_are_those_of_a_full_rebuild_after_each(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seed: int, share: float
) -> None:
    """From nothing, in transactions of one to five edits."""
    monkeypatch.setattr(renew, "_ALL_FROM_SHARE", share)
    path = tmp_path / "team.db"
    made = filled(path, seed)
    connection = made.connection
    assert connection.execute("SELECT count(*) FROM diff_facts").fetchone()[0] == DIFFS
    made.log.clear()
    while len(made.log) < 200:
        begun = len(made.log)
        with transaction(connection, path):
            for _ in range(made.random.randint(1, 5)):
                made.one()
        assert stale(connection) == SOUND, "\n".join(made.log[begun:])
    states = {row[0] for row in connection.execute("SELECT DISTINCT fill_state FROM run_diff_facts")}
    verdicts = {row[0] for row in connection.execute("SELECT DISTINCT leak FROM build_facts")}
    assert len(states) > 1
    assert len(verdicts) > 2
    connection.close()


def test_what_is_undone_leaves_the_facts_as_they_were(edits: tuple[Path, Edits]) -> None:
    path, made = edits
    before = facts_of(made.connection)

    def broken() -> None:
        with transaction(made.connection, path):
            for _ in range(20):
                made.one()
            raise RuntimeError

    with pytest.raises(RuntimeError):
        broken()
    assert facts_of(made.connection) == before
    assert stale(made.connection) == SOUND
    with transaction(made.connection, path):
        made.insert("weighings")
    assert stale(made.connection) == SOUND, "nothing is left over from the transaction that was undone"


def test_a_table_that_facts_do_not_rest_on_touches_no_diff(edits: tuple[Path, Edits]) -> None:
    path, made = edits
    with transaction(made.connection, path):
        for table, column in (("people", "name"), ("venues", "name"), ("cars", "name"), ("ideas", "text")):
            made.connection.execute(
                f"INSERT INTO {table} (id, created_at, updated_at, {column}) VALUES ('x', 't', 't', 'x')"
            )
        assert made.connection.execute("SELECT count(*) FROM temp.touched").fetchone()[0] == 0


def test_watching_again_forgets_what_was_touched_before(edits: tuple[Path, Edits]) -> None:
    _, made = edits
    made.connection.execute("BEGIN")
    watch(made.connection)
    made.connection.execute("UPDATE diffs SET usual_position = 'front'")
    assert made.connection.execute("SELECT count(*) FROM temp.touched").fetchone()[0] == DIFFS
    watch(made.connection)
    assert made.connection.execute("SELECT count(*) FROM temp.touched").fetchone()[0] == 0
    made.connection.rollback()
