"""A run is written down once, with the diffs that were in it: constructed records, all invented."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from asked import asked_here
from conftest import Begin, Outcome

Run = Callable[..., Outcome]


@pytest.fixture
def team(bevelbook: Run, begin: Begin) -> Run:
    """Two rear diffs and a front one, built on 3 May."""
    commands: list[tuple[str, ...]] = [
        ("new",),
        ("record", "fluid", "label=house 7k", "viscosity=7000", "viscosity_source=its bottle"),
        ("record", "scale", "name=bench", "step_g=0.01", "repeatability_g=0.005", "day_to_day=0"),
    ]
    for label, dry, oil in (("rear-a", 12.42, 1.86), ("rear-b", 12.40, 1.84), ("front-a", 11.90, 1.50)):
        masses = (f"dry_mass={dry}", f"oil_mass={oil}")
        commands.append(("record", "diff", f"label={label}", "housing_material=aluminium"))
        commands.append(("record", "build", f"diff={label}", "built_on=2026-05-03", *masses, "fluid=house 7k"))
    begin(bevelbook, Path("bevelbook.db"), *commands)
    return bevelbook


ROWS = "SELECT r.label, x.position, b.label, x.diff_temp_c FROM run_diffs x JOIN runs r ON r.id = x.run JOIN builds b ON b.id = x.build ORDER BY 1, 2"  # noqa: E501
RUNS = "SELECT b.label, f.runs FROM build_facts f JOIN builds b ON b.id = f.build ORDER BY 1"


def test_the_temperature_is_written_with_the_run_and_the_run_counts_once(team: Run) -> None:
    done = team("record", "run", "run_on=2026-05-10", "rear=rear-a", "front=front-a", "rear_temp=38",
                "rear_temp_taken=in the pits")  # fmt: skip
    assert done.code == 0
    assert done.out.splitlines()[3:5] == ["  front: front-a/1", "  rear: rear-a/1, 38 °C, in the pits"]
    assert asked_here(ROWS) == [
        ("2026-05-10/1", "front", "front-a/1", None),
        ("2026-05-10/1", "rear", "rear-a/1", 38.0),
    ]
    assert ("rear-a/1", 1.0) in asked_here(RUNS)


def test_a_temperature_that_comes_later_is_added_to_the_run_and_not_counted_as_another(team: Run) -> None:
    team("record", "run", "run_on=2026-05-10", "rear=rear-a")
    done = team("record", "run_diff", "run=2026-05-10/1", "build=rear-a/1", "position=rear", "diff_temp=38")
    assert done.out.startswith("Changed")
    team("record", "run_diff", "run=2026-05-10/1", "position=rear", "diff_temp=41")
    assert asked_here(ROWS) == [("2026-05-10/1", "rear", "rear-a/1", 41.0)]
    assert team("record", "run", "2026-05-10/1", "rear_temp=104 °F").code == 0
    assert asked_here(ROWS) == [("2026-05-10/1", "rear", "rear-a/1", 40.0)]
    assert ("rear-a/1", 1.0) in asked_here(RUNS)


def test_who_was_rear_is_corrected_in_the_run(team: Run) -> None:
    team("record", "run", "run_on=2026-05-10", "rear=rear-a", "rear_temp=38")
    done = team("record", "run", "2026-05-10/1", "rear=rear-b")
    assert "  rear: rear-b/1, 38 °C, was rear-a/1, 38 °C" in done.out.splitlines()
    assert asked_here(ROWS) == [("2026-05-10/1", "rear", "rear-b/1", 38.0)]
    assert asked_here(RUNS) == [("front-a/1", 0.0), ("rear-a/1", 0.0), ("rear-b/1", 1.0)]
    team("record", "run_diff", "run=2026-05-10/1", "build=rear-a", "position=rear")
    assert asked_here(ROWS) == [("2026-05-10/1", "rear", "rear-a/1", 38.0)]


def test_a_diff_typed_at_the_wrong_place_moves_with_its_temperature(team: Run) -> None:
    team("record", "run", "run_on=2026-05-10", "front=rear-a", "front_temp=38")
    assert "would be in this run twice" in team("record", "run", "2026-05-10/1", "rear=rear-a").err
    assert team("record", "run", "2026-05-10/1", "front=", "rear=rear-a").code == 0
    assert asked_here(ROWS) == [("2026-05-10/1", "rear", "rear-a/1", 38.0)]


def test_another_build_of_the_same_diff_takes_its_place_in_the_run(team: Run) -> None:
    team("record", "build", "diff=rear-a", "built_on=2026-05-09", "dry_mass=12.42", "oil_mass=1.86")
    team("record", "run", "run_on=2026-05-10", "rear=rear-a")
    assert asked_here(ROWS) == [("2026-05-10/1", "rear", "rear-a/2", None)]
    assert team("record", "run", "2026-05-10/1", "rear=rear-a/1").code == 0
    assert asked_here(ROWS) == [("2026-05-10/1", "rear", "rear-a/1", None)]


def test_two_laptops_make_the_same_diff_of_a_run(team: Run) -> None:
    team("record", "run", "run_on=2026-05-10")
    (before,) = asked_here("SELECT id FROM runs")
    team("record", "run", "2026-05-10/1", "rear=rear-a")
    here = asked_here("SELECT id FROM run_diffs")
    with sqlite3.connect("bevelbook.db") as connection:
        connection.execute("DELETE FROM run_diffs")
    connection.close()
    team("record", "run_diff", "run=2026-05-10/1", "position=rear", "build=rear-b/1")
    assert asked_here("SELECT id FROM run_diffs") == here
    assert str(here[0][0])[:13] == str(before[0])[:13]


def test_one_diff_is_not_front_and_rear_at_once(team: Run) -> None:
    done = team("record", "run", "run_on=2026-05-10", "rear=rear-a", "front=rear-a")
    assert done.code == 2
    assert "rear-a would be in this run twice" in done.err
    assert asked_here("SELECT count(*) FROM runs") == [(0,)]


def test_a_temperature_needs_a_diff_that_had_it(team: Run) -> None:
    done = team("record", "run", "run_on=2026-05-10", "rear_temp=38")
    assert (done.code, "rear_temp: nothing is written at the rear" in done.err) == (2, True)
    assert "Say which diff was there: rear=..." in done.err
    odd = team("record", "run", "run_on=2026-05-10", "rear=rear-a", "rear_temp=160")
    assert "bevelbook: rear_temp: " in odd.err


def test_a_run_or_a_weighing_before_its_build_is_refused_with_the_day_of_the_build(team: Run) -> None:
    early = team("record", "run", "run_on=2026-05-01", "rear=rear-a")
    assert "rear-a/1 was built later, on 2026-05-03" in early.err
    assert "No build of rear-a was in use then" in early.err
    team("record", "build", "diff=rear-a", "built_on=2026-05-17", "dry_mass=12.42", "oil_mass=1.86")
    named = team("record", "run", "run_on=2026-05-12", "rear=rear-a/2")
    assert "rear-a/1 was in use then" in named.err
    weighed = team("record", "weighing", "build=rear-a/2", "weighed_on=2026-05-12", "mass=22.3", "mass_basis=closed")
    assert "rear-a/2 was built later, on 2026-05-17" in weighed.err
    team("record", "run", "run_on=2026-05-17", "rear=rear-a")
    moved = team("record", "run", "2026-05-17/1", "run_on=2026-05-16")
    assert (moved.code, "rear: this run is dated 2026-05-16" in moved.err) == (2, True)
    assert asked_here("SELECT count(*) FROM runs") == [(1,)]


def test_a_past_day_means_the_build_in_use_on_that_day(team: Run) -> None:
    team("record", "build", "diff=rear-a", "built_on=2026-05-17", "dry_mass=12.42", "oil_mass=1.86")
    team("record", "run", "run_on=2026-05-12", "rear=rear-a")
    team("record", "run", "run_on=2026-05-18", "rear=rear-a")
    team("record", "weighing", "build=rear-a", "weighed_on=2026-05-12", "mass=22.3", "mass_basis=closed")
    assert [row[2] for row in asked_here(ROWS)] == ["rear-a/1", "rear-a/2"]
    assert asked_here("SELECT b.label FROM weighings w JOIN builds b ON b.id = w.build") == [("rear-a/1",)]


def test_with_two_builds_of_a_diff_on_a_day_the_build_is_asked_for(team: Run) -> None:
    for oil in (1.86, 1.84):
        team("record", "build", "diff=rear-a", "built_on=2026-05-17", "dry_mass=12.42", f"oil_mass={oil}")
    done = team("record", "run", "run_on=2026-05-17", "rear=rear-a")
    assert done.code == 2
    assert "rear-a was built 2 times on 2026-05-17, as rear-a/2 and rear-a/3" in done.err
    assert "rear=rear-a/2" in done.err
    assert "rear=rear-a/3" in done.err
    weighed = team("record", "weighing", "build=rear-a", "weighed_on=2026-05-17", "mass=22.3", "mass_basis=closed")
    assert weighed.code == 2
    assert team("record", "run", "run_on=2026-05-17", "rear=rear-a/2").code == 0


def test_old_rows_of_one_place_are_still_found_by_check(team: Run) -> None:
    team("record", "run", "run_on=2026-05-10", "rear=rear-a")
    with sqlite3.connect("bevelbook.db") as connection:
        connection.execute(
            "INSERT INTO run_diffs (id, run, build, position, created_at, updated_at) "
            "SELECT 'of another program', run, build, 'front', created_at, updated_at FROM run_diffs"
        )
    connection.close()
    assert "it is in the run 2026-05-10/1 twice" in team("check").out


def test_an_older_run_with_two_diffs_at_one_place_is_found_and_corrected(team: Run) -> None:
    team("record", "run", "run_on=2026-05-10", "rear=rear-a")
    with sqlite3.connect("bevelbook.db") as connection:
        connection.execute(
            "INSERT INTO run_diffs (id, run, build, position, created_at, updated_at) "
            "SELECT 'of another program', x.run, b.id, 'rear', x.created_at, x.updated_at "
            "FROM run_diffs x JOIN builds b ON b.label = 'rear-b/1'"
        )
    connection.close()
    found = team("check", "--json").out
    assert "place_shared_in_a_run" in found
    for words in (("rear=",), ("rear=rear-a",)):
        assert team("record", "run", "2026-05-10/1", *words).code == 0
    assert asked_here(ROWS) == [("2026-05-10/1", "rear", "rear-a/1", None)]
    assert "place_shared_in_a_run" not in team("check", "--json").out
