"""Views: what is listed beside a build, and what each row of imported notes became. All data are constructed."""

from __future__ import annotations

import io
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from conftest import empty_database
from constructed import Add, Team, adding, kept
from steps_of_plan import steps_beside_laps

from bevelbook.facts.sql import SQL_TYPE
from bevelbook.facts.views import VIEWS
from bevelbook.notes.importing import import_notes
from bevelbook.notes.settings import Settings
from bevelbook.records.note_row import NoteRow
from bevelbook.store.column_words import field_anywhere
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

# What is listed beside a build


def verdicts(connection: sqlite3.Connection) -> dict[str, str | None]:
    return dict(map(tuple, connection.execute("SELECT label, verdicts FROM build_sheet")))


def test_a_build_has_the_verdicts_that_were_kept_for_it_alone(connection: sqlite3.Connection, team: Team) -> None:
    first, second = team.build(), team.build()
    third = team.build()
    kept(connection, subject_table="builds", subject_id=first, calculator="fill", verdict="ok")
    kept(connection, subject_table="builds", subject_id=second, calculator="fill", verdict="stop")
    kept(connection, subject_table="diffs", subject_id=third, calculator="fill", verdict="caution")
    assert verdicts(connection) == {"rear-a/1": "fill: ok", "rear-a/2": "fill: stop", "rear-a/3": None}


# How a page shows a view, and what a view lists where little is noted


def test_of_kept_results_the_newest_version_counts_then_the_last_calculated_then_its_id(
    connection: sqlite3.Connection, team: Team
) -> None:
    build = team.build()
    of_build = {"calculator": "heat", "subject_table": "builds", "subject_id": build}
    for row_id, version, day, verdict in (
        ("a", 1, "2026-02-09", "stop"),
        ("b", 2, "2026-02-01", "stop"),
        ("d", 2, "2026-02-03", "ok"),
        ("c", 2, "2026-02-03", "stop"),
    ):
        kept(connection, **of_build, id=row_id, version=version, calculated_at=day, verdict=verdict)
    kept(connection, **{**of_build, "calculator": "fill"}, id="z", verdict="caution")
    found = connection.execute("SELECT id, place FROM latest_calculations ORDER BY id").fetchall()
    assert [tuple(row) for row in found] == [("d", 1), ("z", 1)]
    (verdicts,) = connection.execute("SELECT verdicts FROM build_sheet").fetchone()
    assert sorted(verdicts.split("; ")) == ["fill: caution", "heat: ok"]


@pytest.mark.parametrize("view", [view.name for view in VIEWS])
def test_every_number_of_a_view_has_a_type_by_which_it_is_compared(connection: sqlite3.Connection, view: str) -> None:
    """SQLite says with which type it compares a column of a SELECT in the table that it makes from it."""
    connection.execute(f"CREATE TEMP TABLE compared AS SELECT * FROM {view} LIMIT 0")
    types = {row[1]: row[2] for row in connection.execute("PRAGMA temp.table_info(compared)")}
    counted = {"line", "runs", "step", "uses"} | ({"place"} if view == "latest_calculations" else set())
    fields = {column: field_anywhere(column) for column in types}
    numbers = counted & types.keys() | {name for name, field in fields.items() if field and field.kind in SQL_TYPE}
    assert {name: types[name] for name in numbers if types[name] not in ("REAL", "INT", "NUM")} == {}


def test_what_has_a_day_is_shown_newest_first_and_what_has_a_label_by_its_label() -> None:
    orders = {view.name: view.order for view in VIEWS if view.order is not None}
    by_day = {name for name, order in orders.items() if order.column.endswith(("_on", "_at", "date"))}
    assert by_day == {name for name, order in orders.items() if order.newest_first}
    assert set(orders) - by_day == {"shelf"}


def test_a_bare_diff_build_and_run_stand_in_every_view(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    """Nothing is noted beside them: no venue, no oil, no builder, no bottle."""
    add("diff", label="rear-b")
    build = team.build(scale=None)
    add("run_diff", run=add("run", label="bare", run_on="2026-02-01"), build=build)
    counts = {"shelf": 2, "build_sheet": 1, "what_worked": 1, "current_builds": 1, "build_runs": 1}
    for view, count in counts.items():
        assert connection.execute(f"SELECT count(*) FROM {view}").fetchone()[0] == count, view
    rows = connection.execute("SELECT runs, runs_after FROM build_runs").fetchall()
    assert [tuple(row) for row in rows] == [(1.0, 1.0)]
    shelf = connection.execute("SELECT label, runs FROM shelf").fetchall()
    assert [tuple(row) for row in shelf] == [("rear-a", 1.0), ("rear-b", 0.0)]


def test_each_view_has_the_columns_that_it_says_it_has(connection: sqlite3.Connection) -> None:
    for view in VIEWS:
        names = {row[1] for row in connection.execute(f"PRAGMA table_info({view.name})")}
        named = {*view.columns, *view.facets, *((view.order.column,) if view.order else ())}
        assert named <= names, view.name


@pytest.mark.parametrize("view", ["build_runs", "build_sheet", "losses", "masses", "what_worked"])
def test_a_page_of_a_long_view_is_read_no_further_than_it_goes(connection: sqlite3.Connection, view: str) -> None:
    """SQLite says so by its plan: it sorts the rows of one day or build at most, never all of them."""
    found = next(one for one in VIEWS if one.name == view)
    newest = f"{found.order.column}{' DESC' if found.order.newest_first else ''}, " if found.order else ""
    asked = f"SELECT * FROM {view} ORDER BY {newest}{', '.join(found.key)} LIMIT 51"
    steps = steps_beside_laps(connection, asked)
    assert steps and "USE TEMP B-TREE FOR ORDER BY" not in steps


def test_what_worked_in_one_build_is_found_by_the_build(connection: sqlite3.Connection) -> None:
    """What lets the newest come first does not make SQLite go through all days for one build, or one run."""
    for column, index in (("build", "run_diffs_by_build"), ("run", "run_diffs_by_run")):
        asked = f"SELECT * FROM what_worked WHERE {column} = 'a' ORDER BY run_on DESC, run_diff"
        steps = steps_beside_laps(connection, asked)
        assert any(index in step for step in steps)
        assert not any(step.startswith("SCAN") or "runs_by_run_on" in step for step in steps)


def test_a_diff_without_a_build_is_on_the_shelf_by_its_label(connection: sqlite3.Connection, add: Add) -> None:
    for label in ("rear-c", "rear-a", "rear-b"):
        Team(add, label)
    found = connection.execute("SELECT label, word, build, build_label, fluid, runs FROM shelf").fetchall()
    assert [tuple(row) for row in found] == [
        (label, "apart", None, None, None, 0.0) for label in ("rear-a", "rear-b", "rear-c")
    ]


def test_each_run_of_a_build_has_its_own_runs_and_those_after_it(connection: sqlite3.Connection, team: Team) -> None:
    build = team.build()
    team.run(build, "2026-02-01", 4.0)
    team.run(build, "2026-02-02", 2.5)
    found = connection.execute("SELECT runs, runs_after FROM build_runs ORDER BY run_on").fetchall()
    assert [tuple(row) for row in found] == [(4.0, 4.0), (2.5, 6.5)]


def test_names_are_shown_in_place_of_ids(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    fluid = add("fluid", label="house 7k", viscosity_cst=7000.0)
    bottle = add("bottle", fluid=fluid, lot="A")
    build = team.build(fluid=fluid, bottle=bottle, builder=add("person", name="ana"))
    run = add("run", label="one", run_on="2026-02-01", venue=add("venue", name="Hall", surface="carpet"))
    add("run_diff", run=run, build=build, position="rear")
    sheet = connection.execute("SELECT diff, builder, fluid, bottle, viscosity_cst FROM build_sheet").fetchone()
    assert tuple(sheet) == ("rear-a", "ana", "house 7k", "A", 7000.0)
    worked = connection.execute("SELECT diff, build_label, fluid, venue, surface, position FROM what_worked").fetchone()
    assert tuple(worked) == ("rear-a", "rear-a/1", "house 7k", "Hall", "carpet", "rear")
    shelf = connection.execute("SELECT label, build_label, fluid, viscosity_cst, runs FROM shelf").fetchone()
    assert tuple(shelf) == ("rear-a", "rear-a/1", "house 7k", 7000.0, 1.0)


# Rows of imported notes

NAMES = tuple(NoteRow.__annotations__)
FILL = {
    "date": "2026-05-01",
    "builder": "ana",
    "diff": "rear-a",
    "dry_mass_g": 12.4,
    "oil_mass_g": 1.86,
    "total_mass_g": 14.26,
    "viscosity_cst": 7000.0,
    "fluid": "house 7k",
}
RUN = {
    "date": "2026-05-02",
    "diff": "rear-a",
    "venue": "Hall",
    "position": "rear",
    "grip": "low",
    "track_temp_c": 21.0,
    "air_temp_c": 19.0,
    "diff_temp_c": 35.0,
    "runs": 4.0,
    "call": "keep",
    "result_note": "calm",
}
WEIGHED = {"date": "2026-05-03", "diff": "rear-a", "total_mass_g": 14.25}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return empty_database(tmp_path / "team.db")


@pytest.fixture
def database(path: Path) -> Iterator[sqlite3.Connection]:
    made = open_for_writing(path)
    yield made
    made.close()


def bring(database: sqlite3.Connection, path: Path, *rows: dict[str, Any], name: str = "notes.csv") -> None:
    lines = [",".join(NAMES), *(",".join(str(row.get(column, "")) for column in NAMES) for row in rows)]
    report = import_notes(
        io.BytesIO("\n".join(lines).encode()), name, database, path, Settings(today="2026-06-30"), by="ana"
    )
    assert (report.accepted, report.rejected) == (len(rows), 0)


def shown(database: sqlite3.Connection, *more: str) -> list[dict[str, Any]]:
    """The filled cells of each row of the view, by file and line."""
    columns = (*NAMES, "made", *more)
    found = database.execute(f"SELECT {', '.join(columns)} FROM imported_notes ORDER BY file, line")
    return [
        {name: value for name, value in zip(columns, row, strict=True) if value is not None}
        for row in map(tuple, found)
    ]


OIL = {"viscosity_cst": 7000.0, "fluid": "house 7k"}
"""What a row shows of the diff's build at the time."""


def test_each_row_has_its_own_cells_and_what_it_became(database: sqlite3.Connection, path: Path) -> None:
    bring(database, path, FILL, RUN, WEIGHED)
    assert shown(database) == [
        {**FILL, "made": "build"},
        {**OIL, **RUN, "made": "run"},
        {**OIL, **WEIGHED, "made": "weighing"},
    ]


def test_a_row_that_became_two_records_is_one_row(database: sqlite3.Connection, path: Path) -> None:
    both = {**RUN, **FILL}
    weighed_and_run = {**RUN, **WEIGHED, "date": "2026-05-04", "builder": "bo"}
    bring(database, path, both, weighed_and_run)
    assert shown(database) == [
        {**both, "made": "build and run"},
        {**OIL, **weighed_and_run, "made": "weighing and run"},
    ]


def test_a_row_names_the_records_that_it_made(database: sqlite3.Connection, path: Path) -> None:
    bring(database, path, FILL, RUN, WEIGHED, {**RUN, **WEIGHED, "date": "2026-05-04"})
    ids = {
        table: [row[0] for row in database.execute(f"SELECT id FROM {table} ORDER BY note_line")]
        for table in ("builds", "weighings", "runs")
    }
    made = [
        {name: row[name] for name in ("build", "weighing", "run") if name in row}
        for row in shown(database, "build", "weighing", "run")
    ]
    assert made == [
        {"build": ids["builds"][0]},
        {"run": ids["runs"][0]},
        {"weighing": ids["weighings"][0]},
        {"weighing": ids["weighings"][1], "run": ids["runs"][1]},
    ]


def test_rows_of_two_files_with_the_same_lines_keep_apart(database: sqlite3.Connection, path: Path) -> None:
    other = {**FILL, "diff": "rear-b", "builder": "bo", "fluid": "house 5k", "viscosity_cst": 5000.0}
    more = {**RUN, "diff": "rear-b", "grip": "high", "runs": 9.0}
    bring(database, path, FILL, RUN, WEIGHED, name="a.csv")
    bring(database, path, other, {**WEIGHED, "diff": "rear-b"}, more, name="b.csv")
    oil = {"fluid": "house 5k", "viscosity_cst": 5000.0}
    assert shown(database) == [
        {**FILL, "made": "build"},
        {**OIL, **RUN, "made": "run"},
        {**OIL, **WEIGHED, "made": "weighing"},
        {**other, "made": "build"},
        {**oil, **WEIGHED, "diff": "rear-b", "made": "weighing"},
        {**oil, **more, "made": "run"},
    ]


def test_records_that_were_written_by_hand_are_not_rows(database: sqlite3.Connection, path: Path) -> None:
    with transaction(database, path):
        team = Team(adding(Writer(database, "ana")))
        build = team.build(oil_mass_g=1.86)
        team.weigh(build, (6.0, 22.4))
        team.run(build, "2026-02-01", 4.0)
    assert shown(database) == []
    bring(database, path, RUN)
    assert [row["made"] for row in shown(database)] == ["run"]


def test_a_note_added_by_hand_to_a_record_of_a_row_is_shown_with_the_row(
    database: sqlite3.Connection, path: Path
) -> None:
    quiet = {name: value for name, value in RUN.items() if name != "result_note"}
    bring(database, path, FILL, quiet, WEIGHED)
    for table, words in (("runs", "windy"), ("weighings", "wiped")):
        with transaction(database, path):
            database.execute(f"UPDATE {table} SET note = ?", (words,))
    assert [row.get("result_note") for row in shown(database)] == [None, "windy", "wiped"]
    with transaction(database, path):
        database.execute("UPDATE builds SET note = 'tight'")
    assert [row["result_note"] for row in shown(database)][:2] == ["tight", "windy"]
