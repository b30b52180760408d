"""Builds, runs and bottles of one name stay two, and show who wrote them; what was written is kept."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from bevelbook.declare.errors import InputError, UnknownNameError
from bevelbook.entering.equal_names import EqualNameError, refuse_equal_name
from bevelbook.records import BY_NAME
from bevelbook.store.as_written import apply_joins, out_of_step
from bevelbook.store.lookup import find_id, next_build_label, next_run_label
from bevelbook.store.opening import new_database, transaction
from bevelbook.store.record_names import name_of
from bevelbook.store.writing import Writer

Row = dict[str, object]
DIFF: Row = {"label": "rear-a"}
BUILD: Row = {"label": "rear-a/12", "built_on": "2026-05-03"}
RUN: Row = {"label": "2026-05-03/2", "run_on": "2026-05-03"}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "team.db"


@pytest.fixture
def team(path: Path) -> Iterator[sqlite3.Connection]:
    with closing(new_database(path)) as connection:
        add(connection, path, "diff", DIFF)
        yield connection


def add(connection: sqlite3.Connection, path: Path, kind: str, values: Row, by: str | None = "anna") -> str:
    if kind == "build":
        values = {"diff": connection.execute("SELECT id FROM diffs").fetchone()[0], **values}
    with transaction(connection, path, by=by):
        made = Writer(connection, by).insert(BY_NAME[kind], values)
    assert out_of_step(connection) == 0
    return made


def labels(connection: sqlite3.Connection, table: str = "builds", column: str = "label") -> list[str]:
    return [row[0] for row in connection.execute(f"SELECT {column} FROM {table} ORDER BY rowid")]


def test_each_shows_who_wrote_it_as_long_as_there_are_two(team: sqlite3.Connection, path: Path) -> None:
    add(team, path, "build", BUILD)
    assert labels(team) == ["rear-a/12"]
    of_bo = add(team, path, "build", {**BUILD, "label": "Rear-A/12"}, "bo")
    assert labels(team) == ["rear-a/12 of anna", "Rear-A/12 of bo"]
    assert team.execute("SELECT count(*) FROM history").fetchone()[0] == 0
    assert find_id(team, BY_NAME["build"], "rear-a/12 of bo") == of_bo
    found = team.execute("SELECT count(*) FROM builds_search WHERE builds_search MATCH 'bo'").fetchone()[0]
    assert found == 1, "the search finds it by what it shows"
    with transaction(team, path, by="cy"):
        Writer(team, "cy").update(BY_NAME["build"], of_bo, {"note": "lid gap 0.2"})
    assert labels(team) == ["rear-a/12 of anna", "Rear-A/12 of bo"], "who wrote it first"
    assert team.execute("SELECT content ->> 'label' FROM history").fetchone()[0] == "Rear-A/12"
    with transaction(team, path, by="bo"):
        Writer(team, "bo").update(BY_NAME["build"], of_bo, {"label": "rear-a/13"})
    assert labels(team) == ["rear-a/12", "rear-a/13"]
    assert team.execute("SELECT count(*) FROM as_written").fetchone()[0] == 0


def test_a_name_with_whose_it_is_leads_on_to_it_when_that_is_not_needed_any_more(
    team: sqlite3.Connection, path: Path
) -> None:
    of_anna = add(team, path, "build", BUILD)
    of_bo = add(team, path, "build", BUILD, "bo")
    kind = BY_NAME["build"]
    with transaction(team, path, by="bo"):
        Writer(team, "bo").remove(kind, of_bo)
    assert labels(team) == ["rear-a/12"]
    assert find_id(team, kind, "rear-a/12 of Anna") == of_anna
    assert find_id(team, kind, "rear-a/12 of anna 2026-05-03") == of_anna
    team.execute("INSERT INTO also_called (table_name, row_id, label) VALUES ('builds', ?, 'rear-a/2')", (of_anna,))
    assert find_id(team, kind, "rear-a/2 of anna") == of_anna, "the label that it had in another place"
    assert find_id(team, kind, "rear-a of anna") == of_anna, "the last build of anna's diff"
    with pytest.raises(UnknownNameError, match="rear-a/2 is a name of rear-a/12"):
        find_id(team, kind, "rear-a/2 of bo")


def test_one_that_goes_leaves_the_other_its_name(team: sqlite3.Connection, path: Path) -> None:
    first = add(team, path, "run", RUN)
    second = add(team, path, "run", RUN, "bo")
    assert labels(team, "runs") == ["2026-05-03/2 of anna", "2026-05-03/2 of bo"]
    with transaction(team, path, by="bo"):
        Writer(team, "bo").remove(BY_NAME["run"], first)
    assert labels(team, "runs") == ["2026-05-03/2"]
    assert find_id(team, BY_NAME["run"], "2026-05-03/2") == second
    assert out_of_step(team) == 0


def test_several_by_one_person_show_the_day_too_or_a_bit_of_their_id(team: sqlite3.Connection, path: Path) -> None:
    add(team, path, "build", BUILD)
    add(team, path, "build", {**BUILD, "built_on": "2026-05-10"})
    assert labels(team) == ["rear-a/12 of anna 2026-05-03", "rear-a/12 of anna 2026-05-10"]
    runs = [add(team, path, "run", RUN) for _ in range(2)]
    assert labels(team, "runs") == [f"2026-05-03/2 of anna {run[-6:]}" for run in runs]
    add(team, path, "build", {**BUILD, "label": "x/1"}, None)
    add(team, path, "build", {**BUILD, "label": "x/1"}, "bo")
    assert labels(team)[2:] == ["x/1 of 2026-05-03", "x/1 of bo 2026-05-03"]


def test_bottles_are_told_apart_where_their_fluid_is_the_same(team: sqlite3.Connection, path: Path) -> None:
    fluids = [add(team, path, "fluid", {"label": label}) for label in ("house 7k", "house 5k")]
    for fluid, by in ((fluids[0], "anna"), (fluids[1], "bo")):
        add(team, path, "bottle", {"fluid": fluid, "lot": "A"}, by)
    assert labels(team, "bottles", "lot") == ["A", "A"]
    add(team, path, "bottle", {"fluid": fluids[0], "lot": "a"}, "bo")
    assert labels(team, "bottles", "lot") == ["A of anna", "A", "a of bo"]


def test_numbers_go_on_after_those_of_both(team: sqlite3.Connection, path: Path) -> None:
    for by in ("anna", "bo"):
        add(team, path, "build", BUILD, by)
        add(team, path, "run", RUN, by)
    diff = team.execute("SELECT id FROM diffs").fetchone()[0]
    assert next_build_label(team, diff) == "rear-a/13"
    assert next_run_label(team, "2026-05-03") == "2026-05-03/3"


def test_all_are_told_apart_again_from_the_records_alone(team: sqlite3.Connection, path: Path) -> None:
    for by in ("anna", "bo"):
        add(team, path, "build", BUILD, by)
    shown = labels(team)
    with closing(sqlite3.connect(path)) as other:
        other.execute("UPDATE writing SET placing = 1")
        other.execute("DELETE FROM as_written")
        other.execute("UPDATE builds SET label = 'rear-a/12'")
        other.execute("UPDATE writing SET placing = NULL")
        other.commit()
    assert out_of_step(team) == 2
    with transaction(team, path):
        apply_joins(team)
    assert labels(team) == shown
    assert out_of_step(team) == 0


def test_a_name_that_two_have_is_not_given_a_third_time(team: sqlite3.Connection, path: Path) -> None:
    for by in ("anna", "bo"):
        add(team, path, "build", BUILD, by)
    diff = team.execute("SELECT id FROM diffs").fetchone()[0]
    values = {**BUILD, "label": "REAR-A/12", "diff": diff}
    with pytest.raises(EqualNameError, match="rear-a/12 of anna"):
        refuse_equal_name(team, BY_NAME["build"], values)


def test_what_is_asked_names_each_and_pieces_of_either_are_found_by_its_name(
    team: sqlite3.Connection, path: Path
) -> None:
    days = {"anna": "2026-05-03", "bo": "2026-05-10"}
    builds = {by: add(team, path, "build", {**BUILD, "built_on": day}, by) for by, day in days.items()}
    with pytest.raises(InputError, match="2 builds have that name") as fault:
        find_id(team, BY_NAME["build"], "REAR-A/12")
    assert fault.value.remedy == "Name one: rear-a/12 of anna (2026-05-03) or rear-a/12 of bo (2026-05-10)."
    weighed = {by: add(team, path, "weighing", {"build": row_id, "mass_g": 14.2}, by) for by, row_id in builds.items()}
    for by, row_id in weighed.items():
        assert name_of(team, BY_NAME["weighing"], row_id) == f"rear-a/12 of {by}#1"
        assert find_id(team, BY_NAME["weighing"], f"rear-a/12 of {by}#1") == row_id
    with pytest.raises(InputError, match="rear-a/12 of anna#1 or rear-a/12 of bo#1"):
        find_id(team, BY_NAME["weighing"], "rear-a/12#1")
