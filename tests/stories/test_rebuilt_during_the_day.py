"""A diff is rebuilt between two runs of a day, and the runs are completed afterwards. All records are constructed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from asked import asked_here
from conftest import Begin, Outcome

Run = Callable[..., Outcome]

ON = "SELECT r.label, x.position, b.label FROM run_diffs x JOIN runs r ON r.id = x.run JOIN builds b ON b.id = x.build ORDER BY 1"  # noqa: E501
DAY = "run_on=2026-05-10"


@pytest.fixture
def rebuilt(bevelbook: Run, begin: Begin) -> Run:
    """The diff ra ran at nine, was opened and was built again on that day."""
    begin(
        bevelbook,
        Path("bevelbook.db"),
        ("new",),
        ("record", "diff", "label=ra", "housing_material=aluminium"),
        ("record", "car", "name=blue"),
        ("record", "build", "diff=ra", "built_on=2026-05-02"),
        ("record", "car-diff", "car=blue", "position=rear", "diff=ra", "from_on=2026-05-02"),
        ("record", "run", DAY, "car=blue", "started_at=9.00"),
        ("record", "opening", "build=ra", "opened_on=2026-05-10", "reason=leak"),
        ("record", "build", "diff=ra", "built_on=2026-05-10", "like=ra/1"),
    )
    return bevelbook


def test_a_temperature_added_with_the_diffs_name_leaves_the_run_on_its_build(rebuilt: Run) -> None:
    done = rebuilt("record", "run", "2026-05-10/1", "rear=ra", "rear_temp=39")
    assert done.code == 0, done.err
    assert "  rear: ra/1, 39 °C, was ra/1" in done.out.splitlines()
    rebuilt("record", "run_diff", "run=2026-05-10/1", "build=ra", "diff_temp=40")
    rebuilt("record", "run", "2026-05-10/1", "rear=", "front=ra")
    assert asked_here(ON) == [("2026-05-10/1", "front", "ra/1")]
    assert rebuilt("record", "run", "2026-05-10/1", "front=ra/2").code == 0
    assert asked_here(ON) == [("2026-05-10/1", "front", "ra/2")]


def test_a_weighing_completed_with_the_diffs_name_stays_with_its_build(rebuilt: Run) -> None:
    done = rebuilt(
        "record",
        "weighing",
        "build=ra/1",
        "weighed_on=2026-05-10",
        "mass=22.3",
        "mass_basis=closed",
        "--before-opening",
    )
    assert done.code == 0, done.err
    assert rebuilt("record", "weighing", "ra/1#1", "build=ra", "note=on the bench").code == 0
    assert asked_here("SELECT b.label, w.note FROM weighings w JOIN builds b ON b.id = w.build") == [
        ("ra/1", "on the bench")
    ]


@pytest.mark.parametrize("time", ["8.30", "9.00"])
def test_a_run_before_one_on_the_first_build_was_on_that_too(rebuilt: Run, time: str) -> None:
    done = rebuilt("record", "run", DAY, "car=blue", f"started_at={time}", "laps=20")
    assert done.code == 0, done.err
    assert "rebuilt on that day after 2026-05-10/1, so after this run too" in " ".join(done.out.split())
    assert ("2026-05-10/2", "rear", "ra/1") in asked_here(ON)


def test_the_places_in_the_day_say_it_without_times(rebuilt: Run) -> None:
    rebuilt("record", "run", "2026-05-10/1", "day_order=2", "started_at=")
    done = rebuilt("record", "run", DAY, "car=blue", "day_order=1")
    assert done.code == 0, done.err
    assert ("2026-05-10/2", "rear", "ra/1") in asked_here(ON)


@pytest.mark.parametrize("words", [(), ("started_at=11.00",)])
def test_a_run_after_the_rebuild_is_on_the_new_build(rebuilt: Run, words: tuple[str, ...]) -> None:
    assert rebuilt("record", "run", DAY, "car=blue", *words).code == 0
    assert ("2026-05-10/2", "rear", "ra/2") in asked_here(ON)


def test_a_run_between_those_on_the_two_builds_is_asked_about(rebuilt: Run) -> None:
    rebuilt("record", "run", DAY, "car=blue", "started_at=11.00")
    asked = rebuilt("record", "run", DAY, "car=blue", "started_at=10.00")
    assert asked.code == 2
    assert "ra was rebuilt on 2026-05-10" in asked.err
    assert "ra was" in asked.err and "found" not in asked.err
    assert "rear=ra/1" in asked.err
    assert "rear=ra/2" in asked.err
    assert rebuilt("record", "run", DAY, "car=blue", "started_at=10.00", "rear=ra/1").code == 0
    assert rebuilt("record", "run", DAY, "car=blue", "started_at=12.00").code == 0
    assert [row[2] for row in asked_here(ON)] == ["ra/1", "ra/2", "ra/1", "ra/2"]


def test_a_diff_without_a_place_in_the_run_gets_the_place(rebuilt: Run) -> None:
    rebuilt("record", "run", DAY, "label=from the notes", "rear=")
    rebuilt("record", "run_diff", "run=from the notes", "build=ra/1")
    done = rebuilt("record", "run", "from the notes", "rear=ra")
    assert "  rear: ra/1, was place not said: ra/1" in done.out.splitlines()
    assert "None" not in done.out
