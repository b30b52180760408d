"""Builds that ran in turn, of which a few runs more may say which is faster; constructed times.

Each day is a b b a by one driver in one place of one car. The times scatter by some hundredths, b is 0.06 s faster: as
a comparison of two builds says it ("n more runs of each"), so does the plan.
"""

from __future__ import annotations

import sqlite3

from constructed import Add
from planning.teams import Yard

from bevelbook.facts.in_turn import in_turn
from bevelbook.planning.comparisons_to_decide import ComparisonToDecide, comparisons_to_decide
from bevelbook.planning.event_to_come import CarToGo
from bevelbook.reports.runs_in_turn import on_track

TIMES_S = {"a": (15.62, 15.70, 15.64, 15.69), "b": (15.58, 15.61, 15.65, 15.57)}


class _Raced:
    """rear-a in the car and rear-b beside it, run in turn on two days."""

    def __init__(self, add: Add) -> None:
        self.yard = Yard(add)
        self.builds = {"a": self.yard.fresh("rear-a"), "b": self.yard.fresh("rear-b", car=None)}
        driver = add("person", name="ana")
        times = {group: iter(these) for group, these in TIMES_S.items()}
        for day in ("2026-03-01", "2026-03-08"):
            for order, group in enumerate("abba", start=1):
                self.yard.run(
                    self.builds[group],
                    day,
                    label=f"{day}/{order}",
                    day_order=order,
                    driver=driver,
                    venue=self.yard.venue,
                    best_five_s=next(times[group]),
                    changed="nothing",
                )

    def found(self, connection: sqlite3.Connection, runs: float | None) -> tuple[ComparisonToDecide, ...]:
        car = CarToGo(self.yard.cars["red"], "red", runs)
        return comparisons_to_decide(connection, list(self.builds.values()), [car])


def test_what_a_few_runs_more_may_decide_is_proposed_in_turn(connection: sqlite3.Connection, add: Add) -> None:
    raced = _Raced(add)
    compared = on_track(in_turn(connection, raced.builds["a"], raced.builds["b"]))
    assert compared.result is not None
    more = compared.result.found.more_runs_needed
    assert more, "the times are so that it is open"
    (found,) = raced.found(connection, 2.0 * more)
    assert (found.a, found.b, found.car, found.position) == (raced.builds["a"], raced.builds["b"], "red", "rear")
    assert (found.more_runs, found.runs_planned) == (more, 2.0 * more)
    assert found.order.startswith("b a a b"), "b was in the middle of both days, so a is now"
    assert f"{more} more runs of each may decide it" in found.words
    assert raced.found(connection, 2.0 * more - 1.0) == (), "it does not fit"
    assert raced.found(connection, None)[0].words.endswith("how many runs are planned is not written down")


def test_cars_that_stay_at_home_and_builds_that_are_opened_decide_nothing(
    connection: sqlite3.Connection, add: Add
) -> None:
    raced = _Raced(add)
    blue = CarToGo(add("car", name="blue"), "blue", 100.0)
    assert comparisons_to_decide(connection, list(raced.builds.values()), [blue]) == ()
    red = CarToGo(raced.yard.cars["red"], "red", 100.0)
    assert comparisons_to_decide(connection, [raced.builds["a"]], [red]) == ()


def test_what_is_decided_is_not_run_again(connection: sqlite3.Connection, add: Add) -> None:
    raced = _Raced(add)
    connection.execute(
        "UPDATE runs SET best_five_s = best_five_s - 0.5 WHERE id IN (SELECT run FROM run_diffs WHERE build = ?)",
        (raced.builds["b"],),
    )
    assert raced.found(connection, 100.0) == ()
