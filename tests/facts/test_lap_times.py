"""Runs with laps in all shapes: what is worked out of a list of laps, and that it is said. All data are constructed.

The best lap is the least of the laps, and the mean of the best five that of the five least: common practice, no source.
The expected figures are Python's ``min`` and ``statistics.fmean`` over the same laps.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from statistics import fmean
from typing import Any

import pytest
from conftest import Outcome
from constructed import Add, Team
from markupsafe import Markup

from bevelbook.facts.in_turn import in_turn
from bevelbook.reports import questions
from bevelbook.reports.day_drift import drift_of_day
from bevelbook.reports.race_day import race_day
from bevelbook.web.shared.blocks_of_runs import lap_words
from bevelbook.web.shared.runs_in_words import laps_in_words

SIX = (18.40, 18.52, 18.39, 19.10, 18.61, 18.47)
FIVE = fmean(sorted(SIX)[:5])
LISTED = " ".join(f"{lap:.2f}" for lap in SIX)


def timed(connection: sqlite3.Connection, add: Add, team: Team, **values: Any) -> tuple[Any, ...]:
    run = add("run", label="one", run_on="2026-05-03", **values)
    add("run_diff", run=run, build=team.build())
    found = connection.execute("SELECT best_five_s, best_five_from, best_lap_s, best_lap_from FROM what_worked")
    return tuple(found.fetchone())


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ({"lap_times": LISTED}, (pytest.approx(FIVE, abs=1e-6), "laps", min(SIX), "laps")),
        ({"lap_times": "18.40 18"}, (None, None, 18.0, "laps")),
        ({"lap_times": "18.4"}, (None, None, 18.4, "laps")),
        ({"lap_times": LISTED, "best_lap_s": 18.2}, (None, None, 18.2, "run")),
        ({"lap_times": LISTED, "best_five_s": 18.4}, (18.4, "run", min(SIX), "laps")),
        ({"lap_times": LISTED, "laps": 6}, (pytest.approx(FIVE, abs=1e-6), "laps", min(SIX), "laps")),
        ({"lap_times": LISTED, "laps": 20}, (None, None, min(SIX), "laps")),
        *(({"lap_times": odd}, (None, None, None, None)) for odd in ("18,41 18,39", "18.4, 18.5", "1:14.9", "dnf", "")),
        ({}, (None, None, None, None)),
    ],
)
def test_what_a_list_of_laps_says_stands_where_nothing_was_written(
    connection: sqlite3.Connection, add: Add, team: Team, values: dict[str, Any], expected: tuple[Any, ...]
) -> None:
    """A list with commas is of an old version, and its commas may be decimal marks: nothing is guessed."""
    assert timed(connection, add, team, **values) == expected


def test_two_builds_are_compared_by_their_laps_and_that_is_said(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    builds = {"a": team.build(), "b": team.build()}
    for order, side in enumerate("abba", start=1):
        laps = f"{17 + order / 10:.2f} {18 + order / 10:.2f}"
        noted = {"best_lap_s": 17.1} if order == 1 else {"lap_times": laps}
        run = add("run", label=f"run {order}", run_on="2026-05-03", day_order=order, changed="nothing", **noted)
        add("run_diff", run=run, build=builds[side], position="rear")
    found = in_turn(connection, builds["a"], builds["b"])
    assert [(row.group, row.time_s) for row in found.rows] == [("a", 17.1), ("b", 17.2), ("b", 17.3), ("a", 17.4)]
    assert found.time == "best lap (the least of the laps listed in 3 of them)"
    assert found.left_out == ()
    drawn = sorted(drift_of_day(connection, "2026-05-03"), key=lambda row: row["day_order"])
    assert [row["time"] for row in drawn] == ["best lap", *["best lap, the least of the laps listed"] * 3]


def test_pages_say_the_lap_and_where_it_is_from(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    build = team.build()
    run = add("run", label="one", run_on="2026-05-03", lap_times="18.40 18.39")
    add("run_diff", run=run, build=build)
    (row,) = questions.runs_of(connection, "build", build, 9)
    assert lap_words(row) == "best lap 18.39 s (the least of the laps listed)"
    (of_day,) = race_day(connection, "2026-05-03").runs
    assert str(Markup(laps_in_words(of_day.record))) == "18.39 s best lap (the least of the laps listed)"


def test_calls_in_one_sitting_say_it_too(bevelbook: Callable[..., Outcome]) -> None:
    assert bevelbook("new").code == 0
    assert bevelbook("record", "run", "run_on=2026-05-03", "lap_times=18.40 18.39").code == 0
    assert "best lap 18.39 s (the least of the laps listed)" in " ".join(bevelbook("calls").out.split())


@pytest.mark.parametrize(
    ("best", "said"),
    [
        ("18.2", "is less than the least of the laps listed, 18.39 s"),
        ("18.5", "is more than the least of the laps listed, 18.39 s: one of them is wrong"),
        ("18.39", ""),
        ("18.4", ""),
    ],
)
def test_a_best_lap_that_is_not_the_least_lap_is_stored_and_said(
    bevelbook: Callable[..., Outcome], best: str, said: str
) -> None:
    """18.4 s is 18.39 s read off to a tenth: rounding, as ISO 80000-1, annex B, has it."""
    assert bevelbook("new").code == 0
    run = ("record", "run", "run_on=2026-05-03", "lap_times=18.40 18.39")
    for words in ((*run, f"best_lap={best}"), ("record", "run", "2026-05-03/1", f"best_lap={best}", "note=again")):
        done = bevelbook(*words)
        text = " ".join(f"{done.out} {done.err}".split())
        assert (done.code, said in text, "the laps listed" in text) == (0, True, bool(said))
