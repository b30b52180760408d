"""What each diff needs next: runs left by openings, seals, mass and feel. All data are constructed."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Add, Team

from bevelbook.facts.leak import leaks_of
from bevelbook.reports.service import RunsLeft, service_states


def left_of(connection: sqlite3.Connection) -> dict[str, RunsLeft]:
    (one,) = service_states(connection)
    return {left.by: left for left in one.left}


def test_runs_left_by_openings_and_uses_left_by_seals(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    add("limit", kind="runs between openings", value=30.0)
    add("limit", kind="runs between openings", value=20.0, diff=team.diff)
    add("limit", kind="seal uses", value=2.0)
    build = team.build()
    add("seal_fitting", build=build, place="joint", condition="new")
    team.run(build, "2026-02-01", 12.5)
    left = left_of(connection)
    assert left["runs between openings"][1:4] == (20.0, 12.5, 7.5)
    assert left["runs between openings"].words == "your limit of 20 runs: 7.5 runs left"
    assert left["seal uses"].words == "your limit of 2 uses of a seal: 1 used; 1 more after this one"


def test_runs_left_by_mass_from_two_weighings(connection: sqlite3.Connection, team: Team) -> None:
    """0.05 g in 10 runs, U = 0.0163 g; 0.186 g at 0.005 g per run are gone after 37.2 runs, 12 of them driven: 25.2;
    from 0.186/0.00663 - 12 = 16.0 to 0.186/0.00337 - 12 = 43.2."""
    build = team.build(oil_mass_g=1.86)
    team.weigh(build, (0, 22.40), (10, 22.35))
    team.run(build, "2026-02-01", 12.0)
    left = left_of(connection)["oil lost"]
    assert (left.limit, left.now, left.left) == (pytest.approx(0.186), pytest.approx(0.05), pytest.approx(25.2))
    assert (left.low, left.high) == (pytest.approx(16.04, abs=0.02), pytest.approx(43.24, abs=0.05))
    assert left.words == (
        "lost 0.05 g of 1.86 g (3 %) by run 10, our default limit is 0.19 g: 16 to 43 runs left if it goes on like this"
    )


def test_runs_left_go_by_the_last_stretch_where_that_is_faster(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """0.06 g in 16 runs is 0.00375 g per run; the last 0.05 g in 6 runs is 0.00833: (0.20 - 0.06)/0.00833 = 16.8."""
    add("limit", kind="oil lost in grams", value=0.2)
    build = team.build(oil_mass_g=1.86)
    team.weigh(build, (0, 22.40), (10, 22.39), (16, 22.34))
    left = left_of(connection)["oil lost"]
    assert left.left == pytest.approx(16.8)
    assert "lost 0.06 g of 1.86 g (3 %) by run 16, your limit is 0.20 g: " in left.words


def test_runs_left_by_the_trend_of_five_weighings(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    """22.40 less 0.01 g each 5 runs: 10 % of 1.86 g at run 93, 73 after the last weighing at 20."""
    build = team.build(oil_mass_g=1.86)
    team.weigh(build, *((5.0 * step, 22.40 - 0.01 * step) for step in range(5)))
    left = left_of(connection)["oil lost"]
    assert left.left == pytest.approx(73.0, abs=0.5)
    assert left.low is not None and left.high is not None and left.low <= left.left <= left.high
    assert "95 %" in left.words
    reasons = leaks_of(connection, [build])[build].judgement.reasons
    (said,) = [reason for reason in reasons if "runs left" in reason]
    assert left.words.endswith(f": {said.partition(': ')[0]}")
    assert said.startswith("about 73 runs left after run 20 (")


def test_where_the_limit_may_be_reached_already_no_surface_names_a_number(
    connection: sqlite3.Connection, team: Team
) -> None:
    """0.18 g of 1.86 g, U = 0.0163 g: from under to over 0.186 g; the trend alone would reach it after run 20."""
    build = team.build(oil_mass_g=1.86)
    team.weigh(build, *((5.0 * step, 22.40 - 0.045 * step) for step in range(5)))
    assert left_of(connection)["oil lost"].words.endswith(": unclear whether any runs are left")
    leak = leaks_of(connection, [build])[build]
    (said,) = [reason for reason in leak.judgement.reasons if "runs are left" in reason]
    assert said.startswith("unclear whether any runs are left: the trend reaches our default limit of 0.19 g")
    assert not any("about" in reason for reason in leak.judgement.reasons)
    assert leak.found is not None
    assert (leak.found.runs_left, leak.found.runs_to_limit is None) == (None, False)


@pytest.mark.parametrize(
    ("weighings", "oil", "words", "left"),
    [
        ((), 1.86, "not run yet", None),
        (((9, 22.40),), 1.86, "not known: not weighed twice the same way since it was filled", None),
        (((0, 22.40), (9, 22.39)), 1.86, "no loss seen by run 9 (the scale can see 0.02 g and more)", None),
        (((0, 22.40), (9, 22.30)), None, "lost 0.10 g by run 9; how much went in is not known, so no limit", None),
        (((0, 22.40), (9, 22.19)), 1.86, "by run 9, our default limit is 0.19 g: no runs left", 0.0),
        (
            ((0, 22.40), (9, 22.20)),
            1.86,
            "by run 9, our default limit is 0.19 g: unclear whether any runs are left",
            None,
        ),
    ],
)
def test_runs_left_by_mass_where_nothing_or_all_is_known(
    connection: sqlite3.Connection,
    team: Team,
    weighings: tuple[tuple[float, float], ...],
    oil: float | None,
    words: str,
    left: float | None,
) -> None:
    team.weigh(team.build(oil_mass_g=oil), *weighings)
    one = left_of(connection)["oil lost"]
    assert (one.words.endswith(words), one.left) == (True, left)


@pytest.mark.parametrize(
    ("weighings", "words"),
    [
        (
            ((0, 22.40), (9, 22.24)),
            "lost 0.16 g of 1.86 g (9 %) by run 9, our default limit is 0.19 g: at most 2 runs left if it goes "
            "on like this",
        ),
        (
            ((0, 22.40), (3, 22.25)),
            "lost 0.15 g of 1.86 g (8 %) by run 3, our default limit is 0.19 g: at most 1 run left if it goes "
            "on like this",
        ),
        (
            ((0, 22.40), (9, 22.23)),
            "lost 0.17 g of 1.86 g (9 %) by run 9, our default limit is 0.19 g: unclear whether any runs are left",
        ),
        (((0, 22.40), (9, 22.60)), "not known: 0.20 g heavier by run 9"),
        (((0, 22.40), (0, 22.10)), "not known: two weighings at 0 runs are 0.30 g apart: weigh again"),
    ],
)
def test_runs_left_are_said_in_the_words_of_the_shelf(
    connection: sqlite3.Connection, team: Team, weighings: tuple[tuple[float, float], ...], words: str
) -> None:
    """By hand: 0.186 g at (0.16 ± 0.0163) / 9 g per run are gone after 9.5 to 11.6 runs, 9 of them driven.

    0.186 g at (0.15 ± 0.0163) / 3 g per run are gone after 3.4 to 4.2 runs, 3 of them driven. 0.17 + 0.0163 = 0.1863 g
    is over 0.186 g, 0.17 - 0.0163 is under it: whether the limit is passed already, the scale cannot tell.
    """
    team.weigh(team.build(oil_mass_g=1.86), *weighings)
    assert left_of(connection)["oil lost"].words == words


def test_runs_left_by_feel(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    """Builds that were notchy after 22 and 30 runs, this one has 18: 4 to the first of them."""
    other = Team(add, "rear-b")
    for runs in (30.0, 22.0):
        build = other.build()
        other.run(build, "2026-02-01", runs)
        other.open(build, reason="notchy")
    current = team.build()
    team.run(current, "2026-02-01", 18.0)
    of_team = next(one for one in service_states(connection) if one.since.label == "rear-a")
    feel = of_team.left[-1]
    assert (feel.left, feel.words) == (
        4.0,
        "2 builds of all diffs had become notchy after 22 to 30 runs: 4 runs left to the first of them",
    )
    for feel_of_it, left in (("notchy", 0.0), ("gritty", None)):
        team.build(hand_feel=feel_of_it)
        of_team = next(one for one in service_states(connection) if one.since.label == "rear-a")
        assert of_team.left[-1].left == left, "it may run with grit, but not notchy, as on the shelf"
        assert f"turned {feel_of_it} by hand" in of_team.left[-1].words


def test_what_openings_found_is_shown_and_an_open_diff_has_no_runs_left(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    for runs in (25.0, 18.0):
        build = team.build()
        add("build_part", build=build, part="outdrive", place="both", condition="new")
        team.run(build, "2026-02-01", runs)
        team.open(build, shafts="grooved", side_gears="polished")
    (one,) = service_states(connection)
    assert one.left == ()
    lines = list(one.lines())
    assert lines[-1] == "openings found: outdrive grooved after 25, 18 runs"
    assert lines[0].startswith("parts since new: outdrive case side 18 runs, 1 build; outdrive lid side 18 runs")


def test_more_missing_than_was_put_in_leaves_the_runs_open(connection: sqlite3.Connection, team: Team) -> None:
    team.weigh(team.build(oil_mass_g=1.86), (0, 22.40), (9, 14.26))
    left = left_of(connection)["oil lost"]
    assert (left.left, left.words) == (None, "not known: 8.14 g lighter, and only 1.86 g went in")


def test_a_trend_that_has_reached_its_limit_leaves_no_runs(connection: sqlite3.Connection, team: Team) -> None:
    """0.04 g each 5 runs: 0.16 g at run 20, 10 % of 1.86 g at run 23.25, but 40 runs are driven by now."""
    build = team.build(oil_mass_g=1.86)
    team.weigh(build, *((5.0 * step, 22.40 - 0.04 * step) for step in range(5)))
    team.run(build, "2026-02-01", 40.0)
    left = left_of(connection)["oil lost"]
    assert (left.left, left.low, left.high) == (0.0, 0.0, 0.0)


def test_used_seals_over_the_limit_are_said_with_how_many_over(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    add("limit", kind="seal uses", value=2.0)
    add("seal_fitting", build=team.build(), place="joint", condition="new")
    words = []
    for _ in range(2):
        team.build()
        words.append(left_of(connection)["seal uses"].words)
    assert words == [
        "your limit of 2 uses of a seal: 2, this is the last",
        "your limit of 2 uses of a seal: 3 uses, 1 over",
    ]


def test_a_loss_at_the_teams_limit_that_the_scale_cannot_decide_leaves_the_runs_open(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """0.05 g lost against 0.05 g, U = 0.016 g: the shelf says "weigh it", so nobody says that no runs are left."""
    add("limit", kind="oil lost in grams", value=0.05)
    team.weigh(team.build(oil_mass_g=1.86), (0, 22.35), (6, 22.30))
    left = left_of(connection)["oil lost"]
    assert (left.left, left.words) == (
        None,
        "lost 0.05 g of 1.86 g (3 %) by run 6, your limit is 0.05 g: unclear whether any runs are left",
    )
    assert connection.execute("SELECT word FROM shelf").fetchone()[0] == "weigh it"


@pytest.mark.parametrize(("limit_g", "words"), [(0.045, "0.045 g"), (0.2, "0.20 g"), (0.186, "0.186 g")])
def test_a_limit_is_printed_with_a_third_decimal_only_where_it_has_one(
    connection: sqlite3.Connection, add: Add, team: Team, limit_g: float, words: str
) -> None:
    add("limit", kind="oil lost in grams", value=limit_g)
    team.weigh(team.build(oil_mass_g=1.86), (0, 22.38), (6, 22.35))
    assert f"lost 0.03 g of 1.86 g (2 %) by run 6, your limit is {words}: " in left_of(connection)["oil lost"].words
