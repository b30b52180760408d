"""Which diff is where at an event, and what an event says; constructed teams."""

from __future__ import annotations

import sqlite3

from constructed import Add

from bevelbook.planning.event_to_come import event_to_come
from bevelbook.planning.places import diffs_in_place


class _Team:
    def __init__(self, connection: sqlite3.Connection, add: Add) -> None:
        self.connection, self.add = connection, add
        self.cars = {name: add("car", name=name) for name in ("red", "blue")}
        self.diffs: dict[str, str] = {}
        self.runs = 0

    def diff(self, label: str, **more: object) -> str:
        self.diffs[label] = self.add("diff", label=label, **more)
        self.add("build", label=f"{label}/1", diff=self.diffs[label], built_on="2026-03-01")
        return self.diffs[label]

    def run(self, car: str, day: str, **in_it: str) -> None:
        self.runs += 1
        run = self.add("run", label=f"{day}/{self.runs}", run_on=day, car=self.cars[car])
        for position, label in in_it.items():
            build = self.connection.execute("SELECT id FROM builds WHERE diff = ?", (self.diffs[label],)).fetchone()[0]
            self.add("run_diff", run=run, build=build, position=position)

    def lines(self, **planned: float) -> tuple[list[tuple[object, ...]], list[tuple[object, ...]]]:
        event = self.add("event", name="spring race", runs_per_car=6)
        for car, runs in planned.items():
            self.add("event_car", event=event, car=self.cars[car], runs=runs)
        found = diffs_in_place(self.connection, event_to_come(self.connection, event).cars)
        diffs = [
            (one.label, one.car_name, one.position, one.runs_planned, one.is_spare, one.shared_with)
            for one in found.diffs
        ]
        return diffs, [(one.car_name, one.position, one.instead) for one in found.without]


def test_a_car_has_what_was_put_into_it_else_what_it_ran_last(connection: sqlite3.Connection, add: Add) -> None:
    team = _Team(connection, add)
    for label in ("front-a", "rear-a", "rear-b"):
        team.diff(label, usual_position=label.partition("-")[0])
    team.run("red", "2026-03-08", front="front-a", rear="rear-a")
    for values in ({"diff": team.diffs["rear-b"]}, {"instead": "spool", "position": "front"}):
        add("car_diff", **{"car": team.cars["blue"], "position": "rear", "from_on": "2026-03-08", **values})
    diffs, without = team.lines()
    assert diffs == [
        ("rear-b", "blue", "rear", 6, False, ()),
        ("front-a", "red", "front", 6, False, ()),
        ("rear-a", "red", "rear", 6, False, ()),
    ]
    assert without == [("blue", "front", "spool")]


def test_two_cars_that_ran_one_diff_share_it_until_it_is_put_into_one(connection: sqlite3.Connection, add: Add) -> None:
    team = _Team(connection, add)
    team.diff("rear-a", usual_position="rear")
    team.run("red", "2026-03-08", rear="rear-a")
    team.run("blue", "2026-03-09", rear="rear-a")
    assert team.lines(red=4, blue=5)[0] == [("rear-a", "blue", "rear", 9, False, ("red",))]
    add("car_diff", car=team.cars["red"], position="rear", diff=team.diffs["rear-a"], from_on="2026-03-10")
    assert team.lines(red=4, blue=5) == ([("rear-a", "red", "rear", 4, False, ())], [("blue", None, None)])


def test_a_diff_in_no_car_that_goes_is_spare_and_a_car_of_which_nothing_is_known_says_so(
    connection: sqlite3.Connection, add: Add
) -> None:
    team = _Team(connection, add)
    team.diff("rear-a", usual_position="rear")
    team.run("red", "2026-03-08", rear="rear-a")
    diffs, without = team.lines(blue=3)
    assert diffs == [("rear-a", None, "rear", None, True, ())]
    assert without == [("blue", None, None)]


def test_cars_that_nobody_named_are_those_in_use(connection: sqlite3.Connection, add: Add) -> None:
    team = _Team(connection, add)
    team.diff("rear-a")
    team.run("red", "2025-03-08", rear="rear-a")
    team.run("blue", "2026-03-08", rear="rear-a")
    event = event_to_come(connection, add("event", name="spring race", air_low_c=12.0, first_on="2026-04-10"))
    assert [(one.name, one.runs) for one in event.cars] == [("blue", None)]
    assert (event.air.words, event.has_forecast, event.last_on, event.are_cars_said) == (
        "12 °C",
        True,
        "2026-04-10",
        False,
    )
