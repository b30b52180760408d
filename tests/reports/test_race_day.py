"""The runs of a day in their order, and what changed in the car since the run before."""

from __future__ import annotations

import sqlite3

from constructed import Add, Team

from bevelbook.reports.race_day import MOST_RUNS, near_days, race_day, run_in_its_day


def _driven(add: Add, day: str, order: int | None, *builds: tuple[str, str | None], **values: object) -> str:
    run = add("run", label=f"{day}/{order}", run_on=day, day_order=order, **values)
    for build, position in builds:
        add("run_diff", run=run, build=build, position=position)
    return run


def test_a_day_has_its_runs_in_order_with_another_build_and_other_values_of_the_same_car(
    connection: sqlite3.Connection, add: Add
) -> None:
    rear, other, front = Team(add, usual_position="rear"), Team(add, "rear-b"), Team(add, "front-a")
    car, other_car = add("car", name="blue"), add("car", name="red")
    first, second, ahead = rear.build(), other.build(), front.build()
    add("car_value", car=car, what="motor", value="13.5", from_on="2026-05-01")
    add("car_value", car=car, what="motor", value="17.5", from_on="2026-05-10")
    before = _driven(add, "2026-05-03", 1, (first, None), car=car)
    late = _driven(add, "2026-05-10", 3, (second, "rear"), (ahead, "front"), car=car)
    red = _driven(add, "2026-05-10", 2, (first, "rear"), car=other_car)
    early = _driven(add, "2026-05-10", 1, (first, "rear"), car=car)
    add("run", label="next", run_on="2026-05-17")
    found = race_day(connection, "2026-05-10")
    assert [one.record["run"] for one in found.runs] == [early, red, late]
    assert [one.place for one in found.runs] == [1, 2, 3]
    assert (found.before, found.after, found.left_out) == ("2026-05-03", "2026-05-17", 0)
    assert [row["build_label"] for row in found.runs[2].diffs] == ["front-a/1", "rear-b/1"]
    changes = [
        ([(one.place, one.before["build"], one.now["build"]) for one in run.other_builds], [*run.values])
        for run in found.runs
    ]
    assert changes[1] == ([], []), "the first run of the red car"
    assert changes[2] == ([("rear", first, second)], []), "a place that the run before does not say is not compared"
    assert [one.words for one in found.runs[0].values] == ["motor: 17.5, was 13.5"]
    assert changes[0][0] == [], "the usual place is the same place"
    of_late = run_in_its_day(connection, late)
    assert of_late.run == found.runs[2]
    assert (of_late.before, of_late.after) == ((red, "2026-05-10/2"), None)
    assert run_in_its_day(connection, before).after is None


def test_a_day_without_runs_names_those_near_it_and_what_is_not_a_day_the_last_ones(
    connection: sqlite3.Connection, add: Add
) -> None:
    assert near_days(connection, "2026-05-04") == []
    for day in ("2026-04-01", "2026-05-03", "2026-05-03", "2026-05-10"):
        add("run", label=day, run_on=day)
    assert race_day(connection, "2026-05-04").runs == ()
    assert near_days(connection, "2026-05-04") == ["2026-05-03", "2026-05-10"]
    assert near_days(connection, "2020-01-01") == ["2026-04-01"]
    assert near_days(connection, "sunday") == ["2026-05-03", "2026-05-10"]


def test_a_day_of_very_many_runs_is_cut_and_says_how_many_are_left_out(
    connection: sqlite3.Connection, add: Add
) -> None:
    for number in range(MOST_RUNS + 2):
        add("run", label=f"run {number}", run_on="2026-05-03", day_order=number + 1)
    found = race_day(connection, "2026-05-03")
    assert (len(found.runs), found.left_out) == (MOST_RUNS, 2)
