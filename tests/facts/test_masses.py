"""Masses in the order of runs, and the basis that speaks for a build. All data are constructed."""

from __future__ import annotations

import sqlite3
from typing import Any

import pytest
from constructed import Add, Team

from bevelbook.facts.masses import Mass, comparable


def masses_of(connection: sqlite3.Connection, build: str) -> list[tuple[Any, ...]]:
    found = connection.execute(
        "SELECT mass_basis, runs, mass_g, taken FROM masses WHERE build = ? ORDER BY runs, step, mass_basis", (build,)
    )
    return [tuple(row) for row in found]


def facts(connection: sqlite3.Connection) -> tuple[Any, ...]:
    """What speaks for the one build: basis, how many masses, the first and the last in g, runs at the last, verdict."""
    (row,) = connection.execute(
        "SELECT weighed_as, weighings, first_mass_g, last_mass_g, weighed_at_runs, leak FROM build_facts"
    ).fetchall()
    return tuple(row)


def weigh(add: Add, build: str, runs: float, mass_g: float, basis: str | None) -> None:
    add("weighing", build=build, runs=runs, mass_g=mass_g, mass_basis=basis)


# Masses


def test_the_masses_of_a_build_stand_with_what_was_on_the_scale(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    build = team.build(
        dry_mass_g=12.40, oil_mass_g=1.86, filled_mass_g=14.26, closed_mass_g=22.40, mass_basis="open half"
    )
    team.weigh(build, (6.0, 22.39))
    team.run(build, "2026-02-01", 9.0)
    team.open(build, "2026-02-02", closed_mass_g=22.38)
    assert masses_of(connection, build) == [
        ("open half", 0.0, 14.26, "filled"),
        ("closed", 0.0, 22.40, "closed"),
        ("closed", 6.0, 22.39, "weighed"),
        ("closed", 9.0, 22.38, "before opening"),
    ]
    assert facts(connection) == ("closed", 3, 22.40, 22.38, 9.0, "ok")


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ({"dry_mass_g": 12.40, "oil_mass_g": 1.86}, [("not said", 0.0, 14.26, "filled")]),
        ({"dry_mass_g": 12.40, "oil_mass_g": 1.86, "filled_mass_g": 14.25}, [("not said", 0.0, 14.25, "filled")]),
        ({"dry_mass_g": 12.40}, []),
        ({"oil_mass_g": 1.86}, []),
        ({"oil_mass_g": 1.86, "closed_mass_g": 22.40}, [("closed", 0.0, 22.40, "closed")]),
        ({}, []),
    ],
)
def test_a_filled_mass_that_is_not_noted_is_the_sum_where_both_parts_are(
    connection: sqlite3.Connection, team: Team, values: dict[str, Any], expected: list[tuple[Any, ...]]
) -> None:
    found = masses_of(connection, team.build(**values))
    assert [(basis, runs, round(mass_g, 9), taken) for basis, runs, mass_g, taken in found] == expected


def test_a_gap_in_the_masses_leaves_the_others_to_speak(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    """Not weighed when it was closed: 0.30 g went between run 6 and 13, and nobody knows what before that."""
    build = team.build(oil_mass_g=1.86)
    for day, runs in (("2026-02-01", 4.0), ("2026-02-02", 5.0), ("2026-02-03", 4.0)):
        team.run(build, day, runs)
    weigh(add, build, 6.0, 22.35, "closed")
    assert facts(connection) == (None, None, None, None, None, None), "one mass says nothing"
    weigh(add, build, 13.0, 22.05, "closed")
    assert facts(connection) == ("closed", 2, 22.35, 22.05, 13.0, "stop")
    states = connection.execute("SELECT fill_state FROM run_diff_facts ORDER BY runs_after").fetchall()
    assert [row[0] for row in states] == ["unknown", "doubtful", "doubtful"]


def test_masses_at_equal_runs_that_the_scale_explains_tell_nothing_alone(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    build = team.build(oil_mass_g=1.86)
    for mass_g in (22.35, 22.33):
        weigh(add, build, 6.0, mass_g, "closed")
    assert facts(connection) == (None, None, None, None, None, None)


# The basis that speaks


def series(basis: str, *runs: float | None) -> list[Mass]:
    return [Mass("b", basis, run, None, 22.4 - 0.01 * (run or 0.0), "weighed", None, 2, "d", 1.86) for run in runs]


@pytest.mark.parametrize(
    ("masses", "expected"),
    [
        ([], None),
        ([("closed", (0.0,))], None),
        ([("closed", (0.0,)), ("open half", (6.0,))], None),
        ([("closed", (0.0, 6.0))], "closed"),
        ([("closed", (0.0, 6.0)), ("open half", (0.0,))], "closed"),
        # weighed last, though fewer
        ([("closed", (0.0, 6.0, 8.0, 9.0)), ("open half", (0.0, 9.5))], "open half"),
        # equal runs: more masses
        ([("closed", (0.0, 9.0)), ("open half", (0.0, 6.0, 9.0))], "open half"),
        ([("open half", (0.0, 9.0)), ("not said", (0.0, 6.0, 9.0))], "not said"),
        # equal runs and masses: one that was named
        ([("not said", (0.0, 9.0)), ("open half", (0.0, 9.0))], "open half"),
        # both were named: by name
        ([("open half", (0.0, 9.0)), ("closed", (0.0, 9.0))], "closed"),
        # a basis without runs between its masses says nothing
        ([("closed", (0.0, 6.0)), ("open half", (6.0, 6.0, 6.0))], "closed"),
        ([("closed", (0.0, 6.0)), ("open half", (9.0, 9.0))], "closed"),
        # nor one of which nothing says when it was taken
        ([("closed", (0.0, 6.0)), ("open half", (None, None, None, 9.0))], "closed"),
        ([("closed", (None, 0.0))], None),
    ],
)
def test_the_basis_that_speaks_where_none_is_worse_than_another(
    masses: list[tuple[str, tuple[float | None, ...]]], expected: str | None
) -> None:
    found = comparable([one for basis, runs in sorted(masses) for one in series(basis, *runs)])
    assert bool(found) == bool(expected)
    if expected:
        runs = dict(masses)[expected]
        assert {one.mass_basis for one in found[0]} == {expected}
        assert [one.runs for one in found[0]] == [run for run in runs if run is not None]


def test_a_basis_read_three_times_at_one_count_does_not_hide_a_loss_on_another(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """0.40 g of 1.86 g are gone; somebody also put it on the scale without its lid, three times."""
    build = team.build(oil_mass_g=1.86, closed_mass_g=22.40)
    weigh(add, build, 6.0, 22.00, "closed")
    assert facts(connection) == ("closed", 2, 22.40, 22.00, 6.0, "stop")
    for mass_g in (14.21, 14.20, 14.22):
        weigh(add, build, 6.0, mass_g, "open half")
    assert facts(connection) == ("closed", 2, 22.40, 22.00, 6.0, "stop")


def test_a_loss_over_the_limit_is_not_forgotten_when_something_else_is_weighed_later(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """0.30 g of 1.86 g were gone at run 6; what the open half weighs a run later does not bring them back."""
    build = team.build(
        dry_mass_g=12.40, oil_mass_g=1.86, filled_mass_g=14.26, closed_mass_g=22.35, mass_basis="open half"
    )
    weigh(add, build, 6.0, 22.05, "closed")
    weigh(add, build, 7.0, 14.26, "open half")
    assert facts(connection) == ("closed", 2, 22.35, 22.05, 6.0, "stop")
    weigh(add, build, 8.0, 22.34, "closed")
    assert facts(connection) == ("closed", 3, 22.35, 22.34, 8.0, "unclear"), "on the same basis one of the two is off"


@pytest.mark.parametrize("late", [22.05, 22.34])
def test_of_masses_too_far_apart_at_one_count_the_lighter_speaks(
    connection: sqlite3.Connection, add: Add, team: Team, late: float
) -> None:
    """Weighed before the first run of a day and after its last, and only the day was written down."""
    build = team.build(oil_mass_g=1.86, closed_mass_g=22.35)
    for mass_g in (late, 22.39 - late + 22.00):
        weigh(add, build, 6.0, mass_g, "closed")
    assert facts(connection) == ("closed", 3, 22.35, 22.05, 6.0, "stop")
    (loss_g,) = connection.execute("SELECT loss_g FROM build_facts").fetchone()
    assert loss_g == 0.30


def test_of_masses_too_far_apart_at_the_fill_the_heavier_speaks(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    build = team.build(oil_mass_g=1.86, closed_mass_g=22.35)
    weigh(add, build, 0.0, 22.05, "closed")
    weigh(add, build, 6.0, 22.05, "closed")
    assert facts(connection) == ("closed", 3, 22.35, 22.05, 6.0, "stop")


def test_a_weighing_that_does_not_say_what_was_on_the_scale_is_held_against_the_fill_that_does_not_either(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    build = team.build(dry_mass_g=12.40, oil_mass_g=1.86)
    weigh(add, build, 6.0, 14.00, None)
    basis, count, first_g, last_g, runs, verdict = facts(connection)
    assert (basis, count, round(first_g, 9), last_g, runs, verdict) == ("not said", 2, 14.26, 14.00, 6.0, "stop")


def test_the_scale_of_a_weighing_goes_before_that_of_the_build(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """Steps of 0.1 and of 0.01 g with s = 0.005 g: U = 2 sqrt(0.1² / 12 + 0.01² / 12 + 0.005²) = 0.0589 g; without
    a scale of the weighing 2 sqrt(2 (0.01² / 12 + 0.005²)) = 0.0163 g; without any, one step of 0.01 g is assumed as
    s, 2 sqrt(2 (0.01² / 12 + 0.01²)) = 0.0294 g.
    """
    build = team.build(oil_mass_g=1.86, closed_mass_g=22.40)
    coarse = add("scale", name="kitchen", step_g=0.1, repeatability_g=0.0, day_to_day_g=0.0)
    add("weighing", build=build, runs=6.0, mass_g=22.40, mass_basis="closed", scale=coarse)

    def uncertainty_g() -> float:
        return float(connection.execute("SELECT loss_uncertainty_g FROM build_facts").fetchone()[0])

    assert uncertainty_g() == pytest.approx(0.0589, abs=5e-5)
    row_id = connection.execute("SELECT id FROM weighings").fetchone()[0]
    connection.execute("UPDATE weighings SET scale = NULL WHERE id = ?", (row_id,))
    add("person", name="ana")
    assert uncertainty_g() == pytest.approx(0.0163, abs=5e-5)
    connection.execute("UPDATE builds SET scale = NULL")
    add("person", name="bo")
    assert uncertainty_g() == pytest.approx(0.0294, abs=5e-5)


def test_a_sister_housing_goes_with_each_mass(team: Team, connection: sqlite3.Connection) -> None:
    build = team.build(closed_mass_g=22.36, sister_mass_g=4.98)
    team.add("weighing", build=build, runs=3.0, mass_g=22.38, sister_mass_g=5.01, mass_basis="closed")
    team.open(build, closed_mass_g=22.35, sister_mass_g=4.99)
    found = connection.execute("SELECT taken, sister_mass_g FROM masses WHERE build = ? ORDER BY step", (build,))
    assert [tuple(row) for row in found] == [("closed", 4.98), ("weighed", 5.01), ("before opening", 4.99)]
