"""The order of the runs of a day: as written, by time of day, or by labels written on the day. Figures constructed."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Add, Team

from bevelbook.facts.day_order import (
    how_many_placed_sql,
    last_run_of_day,
    place_columns_sql,
    places_in_day,
    run_before,
    runs_of_day,
    time_sql,
)
from bevelbook.facts.in_turn import in_turn
from bevelbook.records import BY_NAME
from bevelbook.reports import questions
from bevelbook.store.writing import Writer

DAY = "2026-05-04"
"""The day of the clock that the tests write by."""


def places(connection: sqlite3.Connection, day: str = DAY) -> list[int | None]:
    sql = f"SELECT r.id AS run, {place_columns_sql()} FROM runs r WHERE r.run_on = ? ORDER BY r.rowid"
    runs = connection.execute(sql, (day,)).fetchall()
    found = places_in_day(map(dict, runs))
    return [found.get(run["run"]) for run in runs]


@pytest.mark.parametrize(
    ("written", "time"),
    [
        ("14:05", "14:05"),
        ("9:05", "09:05"),
        ("14.05", "14:05"),
        ("23:59", "23:59"),
        ("24:00", None),
        ("14:60", None),
        ("2:10 pm", None),
        ("after lunch", None),
        (None, None),
    ],
)
def test_a_time_that_is_written_counts_if_it_is_one(
    connection: sqlite3.Connection, written: str | None, time: str | None
) -> None:
    found = connection.execute(f"SELECT {time_sql()} FROM (SELECT ? AS started_at) r", (written,)).fetchone()[0]
    assert found == time


def test_a_place_that_is_written_comes_first(connection: sqlite3.Connection, add: Add) -> None:
    for order, time in ((2, "09:00"), (1, "10:00"), (None, None)):
        add("run", label=f"{DAY}/{time}", run_on=DAY, day_order=order, started_at=time)
    assert places(connection) == [2, 1, None], "a time cannot be set beside places"


def test_times_give_the_order_where_no_place_is_written(connection: sqlite3.Connection, add: Add) -> None:
    for number, time in enumerate(("11:30", "9:05", None, "14.10"), start=1):
        add("run", label=f"{DAY}/{number}", run_on=DAY, started_at=time)
    add("run", label="2026-05-05/1", run_on="2026-05-05", started_at="08:00")
    assert places(connection) == [2, 1, None, 3]


def test_labels_give_the_order_of_runs_that_were_written_down_on_their_day(
    connection: sqlite3.Connection, add: Add
) -> None:
    for number in (1, 2, 3):
        add("run", label=f"{DAY}/{number}", run_on=DAY)
        add("run", label=f"2026-04-30/{number}", run_on="2026-04-30")
    add("run", label="the final", run_on=DAY)
    assert places(connection) == [1, 2, 3, None]
    assert places(connection, "2026-04-30") == [None, None, None], "written down days later, in any order"


def test_a_run_that_waited_on_a_phone_stands_where_it_was_noted(connection: sqlite3.Connection) -> None:
    """The third that was stored was noted between the first two; where somebody types a label, the labels say it."""
    for number, at in enumerate(("09:00", "11:00", "10:00"), start=1):
        writer = Writer(connection, "ana", lambda at=at: f"{DAY}T{at}:00.000Z")  # type: ignore[misc]
        writer.insert(BY_NAME["run"], {"label": f"{DAY}/{number}", "run_on": DAY})
    assert places(connection) == [1, 3, 2]
    connection.execute("UPDATE runs SET entered = json_object('label', label) WHERE label = ?", (f"{DAY}/3",))
    assert places(connection) == [1, 2, 3]


@pytest.mark.parametrize(
    ("stamp", "counts"),
    [
        ("2026-05-03T09:59:00.000Z", False),
        ("2026-05-03T10:00:00.000Z", True),
        ("2026-05-05T12:00:00.000Z", True),
        ("2026-05-05T12:01:00.000Z", False),
    ],
)
def test_the_day_is_that_of_the_track_wherever_it_is(connection: sqlite3.Connection, stamp: str, counts: bool) -> None:
    writer = Writer(connection, "ana", lambda: stamp)
    writer.insert(BY_NAME["run"], {"label": f"{DAY}/1", "run_on": DAY})
    assert places(connection) == [1 if counts else None]


def test_two_builds_with_times_of_day_alone_are_compared_in_turn(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    builds = [team.build(), team.build()]
    who = {"driver": add("person", name="ana"), "car": add("car", name="blue"), "venue": add("venue", name="Hall")}
    for number, time in enumerate(("10:30", "9:30", "11:30", "12.30"), start=1):
        run = add("run", label=f"run {number}", run_on=DAY, started_at=time, best_lap_s=14.0 + number, **who)
        add("run_diff", run=run, build=builds[number % 2], position="rear")
    found = in_turn(connection, *builds)
    assert sorted((row.order, row.time_s) for row in found.rows) == [(1, 16.0), (2, 15.0), (3, 17.0), (4, 18.0)]


def test_the_runs_of_a_build_are_counted_in_the_order_of_their_times(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    build = team.build()
    for count, time in ((4, "15:00"), (2, "09:00"), (1, "12:00")):
        run = add("run", label=f"run at {time}", run_on=DAY, started_at=time, runs=count)
        add("run_diff", run=run, build=build)
    before = connection.execute(
        "SELECT n.runs_before FROM run_diff_facts n JOIN run_diffs x ON x.id = n.run_diff "
        "JOIN runs r ON r.id = x.run ORDER BY r.started_at"
    ).fetchall()
    assert [row[0] for row in before] == [0, 2, 3]


def test_the_last_run_of_a_day_with_times_is_the_latest_one(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    build = team.build()
    for call, time in (("broke", "15:00"), ("keep", "09:00")):
        run = add("run", label=f"run at {time}", run_on=DAY, started_at=time, call=call)
        add("run_diff", run=run, build=build)
    (word,) = connection.execute("SELECT word FROM diff_facts").fetchone()
    assert word == "open it", "it broke in its last run, which was written down first"


@pytest.mark.parametrize("column", ["started_at", "day_order", None])
def test_the_last_run_of_a_car_goes_by_its_place_in_the_day(
    connection: sqlite3.Connection, add: Add, column: str | None
) -> None:
    """Written in the order third, first, second; without a place the one that was written last is the last."""
    car, other = add("car", name="blue"), add("car", name="red")
    values = {"started_at": ("15:10", "9.05", "11:40"), "day_order": (3, 1, 2)}
    third, first, second = (
        add("run", label=label, run_on=DAY, car=car, **({column: values[column][place]} if column else {}))
        for place, label in enumerate("cab")
    )
    add("run", label="of another car", run_on=DAY, car=other, started_at="18:00")
    earlier = add("run", label="the day before", run_on="2026-05-03", car=car)
    wanted = [first, second, third] if column else [third, first, second]
    assert runs_of_day(connection, car, DAY) == wanted
    assert last_run_of_day(connection, car, DAY) == wanted[-1]
    assert [run_before(connection, run) for run in wanted] == [earlier, *wanted[:-1]]
    assert run_before(connection, earlier) is None
    assert last_run_of_day(connection, car, "2026-05-05") is None
    assert run_before(connection, add("run", label="no car", run_on=DAY)) is None


def test_lists_of_runs_have_the_last_one_of_the_day_first(connection: sqlite3.Connection, team: Team, add: Add) -> None:
    """Latest runs, and those of a diff, build, venue and with conditions, whichever was written first."""
    venue, build = add("venue", name="hall"), team.build()
    for label, time in (("late", "16:20"), ("early", "9:30"), ("noon", "12.15")):
        run = add("run", label=label, run_on=DAY, venue=venue, started_at=time)
        add("run_diff", run=run, build=build)
    add("run", label="the day after", run_on="2026-05-05", venue=venue)
    lists = [
        questions.latest_runs(connection, 4)[1:],
        questions.runs_of(connection, "venue", venue, 4)[1:],
        questions.runs_of(connection, "diff", team.diff, 4),
        questions.runs_of(connection, "build", build, 4),
        questions.runs_like(connection, {"venue": venue}, 4)[1:],
    ]
    assert [[row["run_label"] for row in found] for found in lists] == [["late", "noon", "early"]] * 5


def test_how_many_runs_of_a_day_have_a_place_is_counted_as_they_are_placed(
    connection: sqlite3.Connection, add: Add
) -> None:
    days: dict[str, list[dict[str, object]]] = {
        "2026-06-01": [
            {"started_at": "9:05"},
            {"started_at": "after lunch"},
            {"started_at": "11:00"},
            {"day_order": 3},
        ],
        "2026-06-02": [{"day_order": 1}, {"day_order": 2, "started_at": "9:00"}, {}],
        "2026-06-03": [{}, {}],
    }
    for day, runs in days.items():
        for place, values in enumerate(runs):
            add("run", label=f"{day} {place}", run_on=day, **values)
    for place in (1, 2, 3):
        add("run", label=f"{DAY}/{place}", run_on=DAY)
    sql = f"SELECT {how_many_placed_sql()} FROM runs r WHERE r.run_on = ?"
    for day, count in {**dict.fromkeys(days, 2), "2026-06-03": 0, DAY: 3}.items():
        assert connection.execute(sql, (day,)).fetchone()[0] == count
        assert sum(place is not None for place in places(connection, day)) == count
