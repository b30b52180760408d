"""Builds that lost oil, and runs that were decided meanwhile. All data are constructed."""

from __future__ import annotations

import sqlite3

from constructed import Add, Team

from bevelbook.facts.leak import leaks_of
from bevelbook.facts.renew import renew_touched
from bevelbook.reports.oil_lost_builds import decided_line, decided_lines, decided_on_lost_oil, lost_builds


def test_builds_that_lost_oil_are_listed_newest_first_with_grams_and_runs(
    connection: sqlite3.Connection, team: Team
) -> None:
    for last_g in (22.10, 22.39, 22.00):
        build = team.build(oil_mass_g=1.86, closed_mass_g=22.4)
        team.weigh(build, (6.0, 22.39), (13.0, last_g))
        if last_g == 22.10:
            team.open(build, "2026-02-01", leak_place="joint")
    newest, oldest = lost_builds(connection)
    assert (newest.label, newest.loss_g, newest.oil_in_g, newest.runs) == ("rear-a/3", 0.4, 1.86, 13)
    assert newest.words == "lost 0.40 g of 1.86 g (22 %) in 13 runs"
    assert (newest.is_last, oldest.is_last) == (True, False)
    assert oldest.opened_words == "opened 2026-02-01 (joint)"
    assert newest.opened_words == ""
    assert [one.label for one in lost_builds(connection, 1)] == ["rear-a/3"]


def test_weighings_that_disagree_are_said_with_the_loss(connection: sqlite3.Connection, team: Team) -> None:
    """22.40 less 22.00 g, the lighter of two at run 6: 0.40 g of 1.86 g are 22 %."""
    team.weigh(team.build(oil_mass_g=1.86, closed_mass_g=22.4), (6.0, 22.39), (6.0, 22.00))
    assert [one.words for one in lost_builds(connection)] == [
        "lost 0.40 g of 1.86 g (22 %) in 6 runs; two weighings at 6 runs are 0.39 g apart: the lighter one counts"
    ]


def test_the_runs_of_a_loss_count_from_the_first_mass_as_the_calculator_counts(
    connection: sqlite3.Connection, team: Team
) -> None:
    """Weighed first at run 6 and again at run 13: lost in 7 runs; what went before run 6 is not known."""
    build = team.build(oil_mass_g=1.86)
    team.weigh(build, (6.0, 22.35), (13.0, 22.05))
    team.open(build)
    (lost,) = lost_builds(connection)
    assert lost.words == "lost 0.30 g of 1.86 g (16 %) in 7 runs"
    (reason, *_) = leaks_of(connection, [build])[build].judgement.reasons
    assert "in 7 runs" in reason


def test_builds_of_one_day_are_listed_in_the_order_in_which_they_were_built(
    connection: sqlite3.Connection, team: Team
) -> None:
    """rear-a/10 was built after rear-a/9, though its label sorts before it."""
    for label in ("rear-a/9", "rear-a/10"):
        build = team.build(label=label, built_on="2026-02-01", oil_mass_g=1.86, closed_mass_g=22.4)
        team.weigh(build, (6.0, 22.0))
    assert [(one.label, one.is_last) for one in lost_builds(connection)] == [("rear-a/10", True), ("rear-a/9", False)]


def test_a_loss_that_was_a_slip_of_the_pen_is_listed_no_more(connection: sqlite3.Connection, team: Team) -> None:
    build = team.build(oil_mass_g=1.86, closed_mass_g=22.4)
    team.weigh(build, (6.0, 21.4))
    assert [one.label for one in lost_builds(connection)] == ["rear-a/1"]
    connection.execute("UPDATE weighings SET mass_g = 22.39")
    renew_touched(connection)
    assert lost_builds(connection) == []


def test_a_loss_that_the_scale_cannot_tell_is_not_listed(connection: sqlite3.Connection, team: Team) -> None:
    """0.09 g beside 0.093 g, within U = 0.016 g."""
    team.weigh(team.build(oil_mass_g=1.86, closed_mass_g=22.4), (6.0, 22.31))
    assert lost_builds(connection) == []


def test_a_change_is_listed_with_what_was_missing_at_the_next_weighing(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """Sound at run 6; 0.30 g of 1.86 g (16 %) gone at run 13, 0.40 g (22 %) at run 20, 0.50 g (27 %) at run 24."""
    hall = add("venue", name="Hall")
    build = team.build(oil_mass_g=1.86, closed_mass_g=22.4)
    team.weigh(build, (6.0, 22.39), (13.0, 22.10), (20.0, 22.00), (24.0, 21.90))
    for day, runs, call, note in (
        ("2026-02-01", 6.0, "change", None),
        ("2026-02-02", 7.0, "change", None),
        ("2026-02-03", 4.0, "keep", None),
        ("2026-02-04", 3.0, "change", "going thicker"),
        ("2026-02-05", 2.0, "change", None),
        ("2026-02-06", 3.0, "keep", None),
        ("2026-02-07", 1.0, "change", None),
    ):
        run = add("run", label=day, run_on=day, runs=runs, call=call, note=note, venue=hall)
        add("run_diff", run=run, build=build)
    first, at_a_weighing, last = decided_on_lost_oil(connection)
    assert (first.run_on, first.runs_before, first.loss_g, first.oil_in_g) == ("2026-02-04", 17.0, 0.4, 1.86)
    assert decided_line(first) == (
        '2026-02-04, Hall: change ("going thicker"), on a diff that had lost 22 % of its oil (rear-a/1)'
    )
    assert (at_a_weighing.run_on, at_a_weighing.runs_before, at_a_weighing.loss_g) == ("2026-02-05", 20.0, 0.5)
    assert (last.run_on, last.runs_before, last.loss_g) == ("2026-02-07", 25.0, 0.5), "nothing was weighed after it"


def test_without_the_oil_put_in_a_change_is_listed_in_grams(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    build = team.build(closed_mass_g=22.4)
    team.weigh(build, (1.0, 22.10))
    run = add("run", label="one", run_on="2026-02-02", runs=2.0)
    add("run_diff", run=run, build=build)
    later = add("run", label="two", run_on="2026-02-03", runs=2.0, call="change")
    add("run_diff", run=later, build=build)
    (only,) = decided_on_lost_oil(connection)
    assert decided_line(only) == "2026-02-03: change, on a diff that had lost 0.30 g (rear-a/1)"


def test_changes_of_which_the_same_is_said_stand_once_with_their_count(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    build = team.build(closed_mass_g=22.4)
    team.weigh(build, (1.0, 22.10))
    for label, day, call in (
        ("one", "02", None),
        ("two", "03", "change"),
        ("three", "03", "change"),
        ("4", "04", "change"),
    ):
        run = add("run", label=label, run_on=f"2026-02-{day}", runs=2.0, call=call)
        add("run_diff", run=run, build=build)
    assert list(decided_lines(decided_on_lost_oil(connection))) == [
        "2026-02-03: change, on a diff that had lost 0.30 g (rear-a/1): 2 runs",
        "2026-02-04: change, on a diff that had lost 0.30 g (rear-a/1)",
    ]
