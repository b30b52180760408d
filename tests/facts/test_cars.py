"""What is in a car at a run: days, times, order in the day, and swaps between cars. All data are constructed."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Add
from hypothesis import given
from hypothesis import strategies as st

from bevelbook.facts.car_diffs import in_cars, set_at_run
from bevelbook.facts.car_times import FromWhen, RunMoment, holds_at, in_order
from bevelbook.facts.car_values import changes_since_last_run, differences, values_at
from bevelbook.facts.day_order import minutes

DAY, NEXT = "2026-05-10", "2026-05-11"
MORNING, NOON, EVENING = (f"{DAY}T{hour}:00:00.000Z" for hour in ("08", "12", "18"))


@pytest.mark.parametrize(
    ("change", "run", "holds"),
    [
        (FromWhen(DAY, None, None, MORNING), RunMoment(NEXT), True),
        (FromWhen(NEXT, None, None, MORNING), RunMoment(DAY), False),
        (FromWhen(DAY, "12:00", None, MORNING), RunMoment(DAY, "12:00"), True),
        (FromWhen(DAY, "12.30", None, MORNING), RunMoment(DAY, "12:29"), False),
        (FromWhen(DAY, "12:00", 3, MORNING), RunMoment(DAY, None, 4), True),
        (FromWhen(DAY, None, 3, MORNING), RunMoment(DAY, "12:00", 3), False),
        (FromWhen(DAY, None, None, EVENING), RunMoment(DAY, written_at=MORNING), False),
        (FromWhen(DAY, None, None, MORNING), RunMoment(DAY, written_at=EVENING), True),
        (FromWhen(DAY, "noon", None, MORNING), RunMoment(DAY, "12:00", today=DAY), True),
        (FromWhen(DAY, None, None, f"{NEXT}T12:00:00.000Z"), RunMoment(DAY, today=NEXT), True),
        (FromWhen(DAY, None, None, f"{DAY}T12:00:00.000Z"), RunMoment(DAY, today=NEXT), None),
        (FromWhen(DAY, None, None, EVENING, "12:00", "12:00"), RunMoment(DAY, "10:00", today=DAY), False),
        (FromWhen(DAY, None, None, EVENING, "12:00", "12:00"), RunMoment(DAY, "12:00", None, MORNING), False),
        (FromWhen(DAY, None, None, EVENING, "9:00", "9:00"), RunMoment(DAY, "10:00", None, MORNING), True),
        (FromWhen(DAY, None, None, EVENING, None, "12:00"), RunMoment(DAY, "10:00", today=DAY), False),
        (FromWhen(DAY, None, None, MORNING, None, "12:00", "14:00"), RunMoment(DAY, "13:00", today=DAY), None),
        (FromWhen(DAY, None, None, MORNING, None, "12:00", "14:00"), RunMoment(DAY, "14:30", today=NEXT), True),
        (FromWhen(DAY, None, None, EVENING, after_written=MORNING), RunMoment(DAY, written_at=MORNING), False),
        (FromWhen(DAY, None, None, EVENING, after_written=MORNING), RunMoment(DAY, written_at=NOON), True),
    ],
)
def test_a_change_holds_by_day_then_time_then_order_then_writing(
    change: FromWhen, run: RunMoment, holds: bool | None
) -> None:
    assert holds_at(change, run) is holds


def test_times_of_day_are_read_with_point_or_colon() -> None:
    assert [minutes(text) for text in ("9:05", "14.10", "24:00", "9:60", "", None)] == [
        545,
        850,
        None,
        None,
        None,
        None,
    ]


def test_changes_of_a_day_go_by_time_and_one_without_comes_after_those_written_before_it() -> None:
    late, early = FromWhen(DAY, "14:00", None, MORNING), FromWhen(DAY, "9:00", None, EVENING)
    assert in_order([late, early]) == [1, 0]
    assert in_order([late, early, FromWhen(DAY, None, None, EVENING)]) == [1, 0, 2]
    after_ten = FromWhen(DAY, None, None, EVENING, after_at="10:00")
    assert in_order([late, after_ten, early]) == [2, 1, 0]


@given(
    st.lists(st.tuples(st.sampled_from("ab"), st.sampled_from(("front", "rear")), st.sampled_from("xyz")), max_size=8)
)
def test_a_diff_is_never_in_two_places(put: list[tuple[str, str, str]]) -> None:
    with sqlite3.connect(":memory:") as connection:
        connection.executescript(
            "CREATE TABLE cars (id, name); CREATE TABLE diffs (id, label); CREATE TABLE runs (id, car,"
            "run_on, day_order, started_at, created_at, entered);"
            "CREATE TABLE car_diffs (id INTEGER PRIMARY KEY, car, position, diff, instead, from_on, from_at, after_run,"
            "created_at, entered); INSERT INTO cars VALUES ('a', 'blue'), ('b', 'red');"
            "INSERT INTO diffs VALUES ('x', 'rear-a'), ('y', 'rear-b'), ('z', 'rear-c');"
        )
        for number, row in enumerate(put):
            connection.execute(
                "INSERT INTO car_diffs (car, position, diff, from_on, created_at) VALUES (?, ?, ?, ?, ?)",
                (*row, DAY, f"{DAY}T10:00:0{number}Z"),
            )
        found = in_cars(connection)
    connection.close()
    diffs = [there.diff for there in found.values()]
    assert len(diffs) == len(set(diffs))
    if put:
        assert found[put[-1][:2]].diff == put[-1][2], "the last one put in is where it was put"
    assert set(found) <= {row[:2] for row in put}


def test_of_a_swap_that_only_a_person_can_place_both_sets_are_given(add: Add, connection: sqlite3.Connection) -> None:
    car, first, second = add("car", name="blue"), add("diff", label="rear-a"), add("diff", label="rear-b")
    add("car_diff", car=car, position="rear", diff=first, from_on="2026-05-03")
    add("car_diff", car=car, position="front", instead="spool", from_on="2026-05-03")
    add("car_diff", car=car, position="rear", diff=second, from_on=DAY)
    found = set_at_run(connection, car, RunMoment(DAY, today="2026-05-20"))
    assert found.unclear() == ["rear"]
    assert (found.before["rear"].label, found.after["rear"].label) == ("rear-a", "rear-b")
    assert found.after["front"].what == "spool"
    assert set_at_run(connection, car, RunMoment(NEXT, today="2026-05-20")).unclear() == []
    assert in_cars(connection, "2026-05-09")[car, "rear"].since == "as in blue since 2026-05-03"


def test_values_of_a_car_hold_until_they_are_written_again(add: Add, connection: sqlite3.Connection) -> None:
    car = add("car", name="blue")
    for what, value, day in (("motor", "13.5", "2026-05-03"), ("Motor", "17.5", NEXT), ("tyres", "green", NEXT)):
        add("car_value", car=car, what=what, value=value, from_on=day)
    before, after = (add("run", label=day, run_on=day, car=car) for day in (DAY, "2026-05-12"))
    assert values_at(connection, car, RunMoment(DAY)) == {"motor": "13.5"}
    assert changes_since_last_run(connection, before) == []
    assert [one.words for one in changes_since_last_run(connection, after)] == [
        "Motor: 17.5, was 13.5",
        "tyres: green, new",
    ]
    assert [one.words for one in differences({"tyres": "green"}, {})] == ["tyres: out, was green"]
