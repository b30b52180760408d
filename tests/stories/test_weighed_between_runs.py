"""A diff is weighed between the runs of one day, and nobody counts the runs. All figures are constructed."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from conftest import Begin, Outcome

Run = Callable[..., Outcome]
DAY = "2026-11-24"


@pytest.fixture
def garage(bevelbook: Run, begin: Begin, db: Path) -> Run:
    """A diff filled with 1.90 g of oil, 22.36 g closed, before a race day."""

    def run(*words: str) -> Outcome:
        done = bevelbook("--db", db, *words)
        assert done.code == 0, done.err
        return done

    masses = ("dry_mass=12.43", "filled_mass=14.33", "closed_mass=22.36", "scale=pocket")
    begin(
        run,
        db,
        ("record", "scale", "name=pocket", "step_g=0.01", "repeatability=0.005", "day_to_day=0"),
        ("record", "diff", "label=a", "housing_material=aluminium"),
        ("record", "build", "diff=a", "built_on=2026-11-20", *masses),
    )
    return run


def read(db: Path, sql: str) -> list[Any]:
    with closing(sqlite3.connect(db)) as connection:
        return connection.execute(sql).fetchall()


def ran(garage: Run, *times: str) -> None:
    for time in times:
        garage("record", "run", f"run_on={DAY}", f"started_at={time}", "rear=a")


def weighed(garage: Run, mass: str, *more: str) -> Outcome:
    return garage("record", "weighing", "build=a", f"mass={mass}", f"weighed_on={DAY}", *more)


def test_a_leak_on_a_race_day_is_not_outvoted_by_the_weighings_of_the_morning(garage: Run) -> None:
    ran(garage, "09:00")
    assert "Counted as weighed after 1 run; if that is not so, give its runs" in weighed(garage, "22.35").out
    ran(garage, "11:00")
    assert "Counted as weighed after 2 runs" in weighed(garage, "22.34").out
    ran(garage, "13:00", "14:00")
    said = weighed(garage, "21.95").out
    assert "STOP: lost 0.41 g of 1.90 g" in said
    assert "in 4 runs" in said
    assert "Shelf: a was 'ready', is now 'open it'" in said
    garage("record", "weighing", "a/1#1", "runs=1")
    (said_again,) = garage("record", "weighing", "a/1#2", "runs=2", "--json").json["weighings_say"]
    assert (said_again["verdict"], said_again["loss_g"]) == ("stop", 0.41), "the same with the runs counted by hand"


def test_a_weighing_at_lunch_says_nothing_of_the_afternoon(garage: Run, db: Path) -> None:
    ran(garage, "09:00", "11:00")
    weighed(garage, "22.35")
    ran(garage, "13:00", "15:00")
    found = read(db, "SELECT fill_state, count(*) FROM run_diff_facts GROUP BY 1 ORDER BY 1")
    assert found == [("full", 2), ("unknown", 2)]


def test_a_loss_between_two_runs_of_a_day_is_a_loss(garage: Run) -> None:
    ran(garage, "09:00")
    weighed(garage, "22.35")
    ran(garage, "11:00")
    assert "caution: lost 0.14 g" in weighed(garage, "22.22").out


def test_runs_that_are_said_count_whatever_was_written_first(garage: Run) -> None:
    ran(garage, "09:00", "11:00")
    said = weighed(garage, "22.35", "runs=1").out
    assert "Counted as" not in said
    assert "in 1 run (" in said


def notes(folder: Path, name: str, *rows: str) -> Path:
    path = folder / name
    head = "date,diff,dry_mass_g,oil_mass_g,total_mass_g,fluid,position,grip,diff_temp_c,runs,call"
    path.write_text("\n".join((head, *rows)) + "\n", encoding="utf-8")
    return path


BUILT = "2026-11-20,b,12.40,1.86,22.40,house 7k,,,,,"
DRIVEN = f"{DAY},b,,,,,rear,low,{{}},,keep"
WEIGHED = f"{DAY},b,,,{{}},,,,,,"


def weighed_after(db: Path) -> list[tuple[float, float]]:
    return read(db, "SELECT runs, mass_g FROM masses WHERE taken = 'weighed' ORDER BY mass_g DESC")


def test_in_notes_the_lines_of_a_day_are_its_order(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    rows = (BUILT, WEIGHED.format("22.39"), *map(DRIVEN.format, (31, 32, 33, 34)), WEIGHED.format("22.38"))
    bevelbook("--db", db, "import", notes(tmp_path, "notes.csv", *rows))
    assert weighed_after(db) == [(0.0, 22.39), (4.0, 22.38)]


@pytest.mark.parametrize("is_grown_first", [False, True])
def test_a_sheet_imported_at_lunch_and_in_the_evening_keeps_its_order(
    bevelbook: Run, db: Path, tmp_path: Path, is_grown_first: bool
) -> None:
    lunch = (BUILT, *map(DRIVEN.format, (31, 32)), WEIGHED.format("22.39"))
    evening = (*lunch, *map(DRIVEN.format, (33, 34)), WEIGHED.format("22.05"))
    for place, rows in enumerate((evening, lunch) if is_grown_first else (lunch, evening)):
        (tmp_path / str(place)).mkdir()
        bevelbook("--db", db, "import", notes(tmp_path / str(place), "notes.csv", *rows))
    assert weighed_after(db) == [(2.0, 22.39), (4.0, 22.05)]
