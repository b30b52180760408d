"""Placing the rows of a diff again: any order of files gives the same, and what was written by hand stays. All data are
constructed."""

from __future__ import annotations

import io
import sqlite3
from collections.abc import Callable
from contextlib import closing
from itertools import permutations
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from conftest import empty_database
from hypothesis import given, settings
from hypothesis import strategies as st

from bevelbook.notes.importing import import_notes
from bevelbook.notes.placed_again import place_again
from bevelbook.notes.report import Report
from bevelbook.notes.settings import Settings
from bevelbook.records import BY_NAME
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

TODAY = "2026-06-30"
Bring = Callable[..., Report]


@pytest.fixture
def bring(database: sqlite3.Connection, path: Path) -> Bring:
    """Bring a file of notes in, given as its lines."""
    return lambda name, *lines: brought(database, path, name, lines)


def brought(connection: sqlite3.Connection, path: Path, name: str, lines: Any) -> Report:
    file = io.BytesIO("\n".join([*lines, ""]).encode())
    return import_notes(file, name, connection, path, Settings(today=TODAY))


def asked(database: sqlite3.Connection, sql: str) -> list[tuple[Any, ...]]:
    return [tuple(row) for row in database.execute(sql)]


RUNS = "SELECT r.note, b.label FROM run_diffs x JOIN builds b ON b.id = x.build JOIN runs r ON r.id = x.run ORDER BY 1"
PLACED = (
    "SELECT 'build', id, version, built_on, diff, fluid, viscosity_cst, oil_mass_g, note FROM builds "
    "UNION ALL SELECT 'weighing', id, version, weighed_on, build, mass_g, note, venue, '' FROM weighings "
    "UNION ALL SELECT 'run', r.id, r.version, r.run_on, x.build, r.runs, r.note, r.venue, '' FROM runs r "
    "JOIN run_diffs x ON x.run = r.id "
    "UNION ALL SELECT 'fact', diff, '', current_build, word, '', '', '', '' FROM diff_facts "
    "UNION ALL SELECT 'runs', build, '', runs, oil_in_g, '', '', '', '' FROM build_facts ORDER BY 1, 2"
)
CELLS = (
    st.sampled_from(["", "1.80", "1.90"]),
    st.sampled_from(["", "", "14.20"]),
    st.sampled_from(["", "", "5000", "7000"]),
    st.sampled_from(["", "1", "2"]),
    st.sampled_from(["", "wet", "loose"]),
)
ROW = st.tuples(st.integers(1, 4), st.sampled_from("ab"), *CELLS).map(
    lambda row: ",".join([f"2026-05-0{row[0]}", row[1], *row[2:]])
)
HEAD = "date,diff,oil_mass_g,total_mass_g,viscosity_cst,runs,result_note"


@pytest.mark.long
@settings(max_examples=10)
@given(st.lists(st.lists(ROW, min_size=1, max_size=6), min_size=2, max_size=3))
def test_files_give_the_same_builds_and_runs_in_any_order(files: list[list[str]]) -> None:
    """Rows that several files share belong to whichever came first, so each file has rows of its own here."""
    sheets = [(f"{number}.csv", [HEAD, *(f"{row}{number}" for row in rows)]) for number, rows in enumerate(files)]
    found = []
    with TemporaryDirectory() as folder:
        for number, order in enumerate(permutations(sheets)):
            path = empty_database(Path(folder) / f"{number}.db")
            with closing(open_for_writing(path)) as connection:
                for name, lines in order:
                    brought(connection, path, name, lines)
                found.append(without_versions_of_returned(asked(connection, PLACED)))
                assert asked(connection, "PRAGMA foreign_key_check") == []
                again: list[str] = [row[0] for row in connection.execute("SELECT id FROM diffs")]
                with transaction(connection, path, asked="placed again"):
                    placed = place_again(connection, again)
                assert (placed.moved, placed.turned) == ((), ()), "it is settled"
    assert all(one == found[0] for one in found)


def without_versions_of_returned(rows: list[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
    """A record that went and came back has a version of its own; all else is equal."""
    return [(*row[:2], *row[3:]) for row in rows]


def test_of_two_builds_on_a_day_the_last_one_of_the_placing_is_the_current_one(
    bring: Bring, database: sqlite3.Connection
) -> None:
    """The sheet that came in first has the later name: its build is the last of the day."""
    bring("z.csv", "date,diff,oil_mass_g", "2026-05-03,a,1.90")
    assert asked(database, "SELECT day_order FROM builds") == [(None,)]
    bring("b.csv", "date,diff,oil_mass_g,runs", "2026-05-03,a,1.80,1", "2026-05-04,a,,2")
    builds = asked(database, "SELECT oil_mass_g, day_order, version = id FROM builds ORDER BY 1")
    assert builds == [(1.8, 1, 1), (1.9, 2, 1)]
    runs = "SELECT r.runs, b.oil_mass_g FROM run_diffs x JOIN builds b ON b.id = x.build JOIN runs r ON r.id = x.run"
    assert asked(database, f"{runs} ORDER BY 1") == [(1.0, 1.8), (2.0, 1.9)]
    current = "SELECT b.oil_mass_g FROM diff_facts f JOIN builds b ON b.id = f.current_build"
    assert asked(database, current) == [(1.9,)]


def test_a_build_by_hand_takes_the_rows_of_its_day_that_come_in_after_it(
    bring: Bring, database: sqlite3.Connection, path: Path
) -> None:
    """The rows of the morning were imported before it was written: they stay on the build that was in the car."""
    bring("a.csv", "date,diff,oil_mass_g,runs,result_note", "2026-05-01,a,1.86,,", "2026-05-03,a,,1,morning")
    ((diff,),) = asked(database, "SELECT id FROM diffs")
    with transaction(database, path, asked="by hand"):
        Writer(database, "ana").insert(BY_NAME["build"], {"label": "by hand", "diff": diff, "built_on": "2026-05-03"})
    bring("b.csv", "date,diff,runs,result_note", "2026-05-03,a,1,evening", "2026-05-04,a,1,next day")
    bring("c.csv", "date,diff,runs,result_note", "2026-05-02,a,1,before")
    assert asked(database, RUNS) == [
        ("before", "a/1"),
        ("evening", "by hand"),
        ("morning", "a/1"),
        ("next day", "by hand"),
    ]


def test_rows_of_another_diff_are_left_alone(bring: Bring, database: sqlite3.Connection) -> None:
    bring("a.csv", "date,diff,oil_mass_g,runs", "2026-05-01,a,1.86,1", "2026-05-01,b,1.86,1")
    before = asked(database, "SELECT * FROM run_diffs WHERE build IN (SELECT id FROM builds WHERE label LIKE 'b/%')")
    report = bring("b.csv", "date,diff,oil_mass_g", "2026-04-01,a,1.80")
    assert report.placed is not None
    assert (report.placed.moved, report.placed.turned) == ((), ())
    assert (
        asked(database, "SELECT * FROM run_diffs WHERE build IN (SELECT id FROM builds WHERE label LIKE 'b/%')")
        == before
    )


def test_moving_is_not_a_version_and_leaves_no_history(bring: Bring, database: sqlite3.Connection) -> None:
    bring("a.csv", "date,diff,oil_mass_g,runs,total_mass_g", "2026-05-01,a,1.86,,", "2026-05-03,a,,1,14.2")
    before = asked(database, "SELECT id, version, parents, updated_at FROM run_diffs")
    report = bring("b.csv", "date,diff,oil_mass_g", "2026-05-02,a,1.80")
    assert report.placed is not None
    assert [one.line() for one in report.placed.moved] == ["1 row moved from a/1 to a/2"]
    assert asked(database, "SELECT id, version, parents, updated_at FROM run_diffs") == before
    assert asked(database, "SELECT count(*) FROM history WHERE table_name IN ('weighings', 'run_diffs')") == [(0,)]


def test_a_row_that_stops_being_a_build_keeps_its_oil_total_and_remark(
    bring: Bring, database: sqlite3.Connection
) -> None:
    """Its total becomes a weighing, and its oil is kept beside it for the next time."""
    row = "2026-05-03,a,7000,14.20,half full"
    bring("a.csv", "date,diff,viscosity_cst,total_mass_g,result_note", row)
    assert asked(database, "SELECT filled_mass_g, note FROM builds") == [(14.2, "half full")]
    bring("b.csv", "date,diff,oil_mass_g,viscosity_cst", "2026-05-01,a,1.86,7000")
    assert asked(database, "SELECT built_on FROM builds") == [("2026-05-01",)]
    assert asked(database, "SELECT weighed_on, mass_g, note FROM weighings") == [("2026-05-03", 14.2, "half full")]
    assert asked(database, "SELECT cells FROM note_extras") == [('{"viscosity_cst":7000.0}',)]
    assert asked(database, "SELECT viscosity_cst, result_note FROM imported_notes WHERE file = 'a.csv'") == [
        (7000.0, "half full")
    ]
    bring("c.csv", "date,diff,oil_mass_g,viscosity_cst", "2026-05-02,a,1.86,5000")
    assert asked(database, "SELECT filled_mass_g, note, viscosity_cst FROM builds WHERE built_on = '2026-05-03'") == [
        (14.2, "half full", 7000.0)
    ]
    assert (
        asked(database, "SELECT count(*) FROM weighings")
        == asked(database, "SELECT count(*) FROM note_extras")
        == [(0,)]
    )
