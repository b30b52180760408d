"""The shelf's word for each diff, and the builds that lost oil. All data are constructed.

A loss is held against the limits with what the scale can tell: u² = step² / 12 + s² of each reading (JCGM 100:2008,
F.2.2.1), k = 2, which is what the calculator leak-trend does; it is run beside the shelf here.
"""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Add, Team, adding

from bevelbook.registry import Registry
from bevelbook.reports.losses import lost_builds
from bevelbook.reports.shelf import shelf_rows
from bevelbook.store.writing import Writer
from bevelbook.tasks.upkeep import keep_up

WORD_OF = {"ok": "ready", "caution": "look at it", "stop": "open it", "unclear": "unclear"}


@pytest.fixture
def add(writer: Writer) -> Add:
    return adding(writer)


def word(connection: sqlite3.Connection) -> str:
    (row,) = shelf_rows(connection)
    return str(row["word"])


@pytest.mark.parametrize("step_g", [0.001, 0.01, 0.1])
@pytest.mark.parametrize("loss_g", [0.0, 0.05, 0.07, 0.075, 0.09, 0.1, 0.14, 0.15, 0.16, 0.2, 0.3])
def test_the_word_follows_what_the_scale_can_tell(
    connection: sqlite3.Connection, registry: Registry, add: Add, step_g: float, loss_g: float
) -> None:
    scale = add("scale", name="the scale", step_g=step_g, repeatability_g=step_g / 2.0)
    diff = add("diff", label="rear-x")
    build = add(
        "build", label="rear-x/1", diff=diff, built_on="2026-01-02", oil_mass_g=1.86, closed_mass_g=22.4, scale=scale
    )
    add("weighing", build=build, runs=6.0, mass_g=round(22.4 - loss_g, 3), mass_basis="closed", scale=scale)
    (found,) = keep_up(connection, registry, "build", build, None, "2026-01-03").worked_out
    assert word(connection) == WORD_OF[found.result.verdict]


def test_a_coarse_scale_cannot_call_a_diff_ready_that_a_fine_one_can(connection: sqlite3.Connection, add: Add) -> None:
    team = Team(add)
    team.weigh(team.build(oil_mass_g=1.86, closed_mass_g=22.4), (6.0, 22.36))
    assert word(connection) == "ready"
    connection.execute("UPDATE scales SET step_g = 0.1")
    assert word(connection) == "unclear"


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ({}, "unclear"),
        ({"hand_feel": "notchy"}, "look at it"),
        ({"closed_mass_g": 22.4, "oil_mass_g": 1.86}, "unclear"),
    ],
)
def test_what_was_not_weighed_since_is_not_told(
    connection: sqlite3.Connection, add: Add, values: dict[str, object], expected: str
) -> None:
    Team(add).build(**values)
    assert word(connection) == expected


def test_the_last_build_stands_on_the_shelf_and_an_opened_one_is_open(connection: sqlite3.Connection, add: Add) -> None:
    team = Team(add)
    assert word(connection) == "not built"
    team.weigh(team.build(oil_mass_g=1.86, closed_mass_g=22.4), (6.0, 22.0))
    assert word(connection) == "open it"
    last = team.build(oil_mass_g=1.86)
    assert word(connection) == "unclear"
    team.open(last)
    assert word(connection) == "open"


def test_builds_that_lost_oil_are_told_newest_first_with_grams_and_runs(
    connection: sqlite3.Connection, registry: Registry, add: Add
) -> None:
    team = Team(add)
    for last_g in (22.10, 22.39, 22.00):
        build = team.build(oil_mass_g=1.86, closed_mass_g=22.4)
        team.weigh(build, (6.0, 22.39), (13.0, last_g))
        keep_up(connection, registry, "build", build, None, "2026-02-02")
        if last_g == 22.10:
            team.open(build, "2026-02-01", leak_place="joint")
    newest, oldest = lost_builds(connection)
    assert (newest.label, newest.loss_g, newest.oil_mass_g, newest.runs) == ("rear-a/3", 0.4, 1.86, 13)
    assert newest.words == "lost 0.40 g of 1.86 g (22 %) in 13 runs"
    assert (newest.is_last, oldest.is_last) == (True, False)
    assert oldest.opened_words == "opened 2026-02-01 (joint)"
    assert [one.label for one in lost_builds(connection, 1)] == ["rear-a/3"]


def test_a_loss_that_was_a_slip_of_the_pen_is_told_no_more(
    connection: sqlite3.Connection, registry: Registry, add: Add
) -> None:
    team = Team(add)
    build = team.build(oil_mass_g=1.86, closed_mass_g=22.4)
    team.weigh(build, (6.0, 21.4))
    keep_up(connection, registry, "build", build, None, "2026-02-02T10:00")
    assert [one.label for one in lost_builds(connection)] == ["rear-a/1"]
    connection.execute("UPDATE weighings SET mass_g = 22.39")
    keep_up(connection, registry, "build", build, None, "2026-02-02T11:00")
    assert lost_builds(connection) == []
