"""Which event a run is of, as it is typed or carried over. Teams and names are constructed."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from datetime import datetime

import pytest
from constructed import Add

from bevelbook.declare.errors import BevelbookError
from bevelbook.entering.equal_names import EqualNameError, refuse_equal_name
from bevelbook.entering.question import Question
from bevelbook.entering.record import prepare, write
from bevelbook.records import BY_NAME
from bevelbook.reports.carried_to_run import BY_ITS_DAY, CarriedToRun, carried_to_run
from bevelbook.store.as_written import follow_joins
from bevelbook.store.event_of_day import events_standing
from bevelbook.store.ids import now_utc
from bevelbook.store.lookup import find_id, label_of

EVENT, RUN = BY_NAME["event"], BY_NAME["run"]


@pytest.fixture
def record(connection: sqlite3.Connection) -> Callable[..., tuple[str, tuple[str, ...]]]:
    """Write a record from the texts that a person types; its id, and what is said with it."""

    def run(kind: str, which: str | None = None, /, **texts: str) -> tuple[str, tuple[str, ...]]:
        entry = prepare(connection, BY_NAME[kind], which, texts)
        refuse_equal_name(connection, entry.kind, entry.values, entry.row_id)
        written = write(connection, entry, "ana", now_utc).row_id
        follow_joins(connection)
        return written, entry.remarks

    return run


def event_of(connection: sqlite3.Connection, run: str) -> str | None:
    row = connection.execute("SELECT event FROM runs WHERE id = ?", (run,)).fetchone()
    return row[0] and label_of(connection, EVENT, row[0])


Record = Callable[..., tuple[str, tuple[str, ...]]]


def test_a_name_means_the_event_whose_day_it_is_else_the_one_without_days(
    connection: sqlite3.Connection, record: Record
) -> None:
    first, said = record("run", run_on="2026-05-03", event="Club  race")
    assert said == ('The event "Club  race" is new: it was added.',)
    record("event", name="club race", first_on="2026-05-10", last_on="2026-05-11")
    names = {}
    for day in ("2026-05-04", "2026-05-10", "2026-05-11", "2026-05-12"):
        run, said = record("run", run_on=day, event="club race")
        names[day], said = event_of(connection, run), said
        assert said == ()
    assert names == {
        "2026-05-04": "Club  race of no day",
        "2026-05-10": "club race of 2026-05-10",
        "2026-05-11": "club race of 2026-05-10",
        "2026-05-12": "Club  race of no day",
    }
    assert event_of(connection, first) == "Club  race of no day"
    run, _ = record("run", run_on="2026-06-01", event="club race of 2026-05-10")
    assert event_of(connection, run) == "club race of 2026-05-10"
    record("run", find_id(connection, RUN, run), event="")
    assert event_of(connection, run) is None


def test_one_of_other_days_is_never_taken_and_a_new_one_says_so(connection: sqlite3.Connection, record: Record) -> None:
    record("event", name="club race", first_on="2026-05-10")
    _, said = record("run", run_on="2026-06-07", event="club race")
    assert said == (
        'The event "club race" is new: it was added, without days, as 1 event of that name had other days '
        "(10 May 2026).",
    )
    _, said = record("run", run_on="2026-06-07", event="club rase")
    assert "is it the same?" in said[0]


def test_two_of_a_name_on_one_day_are_a_question_that_a_venue_answers(
    connection: sqlite3.Connection, record: Record, add: Add
) -> None:
    hall, quay = add("venue", name="Tannery Hall"), add("venue", name="North Quay")
    record("event", name="cup", first_on="2026-05-09", last_on="2026-05-11", venue="Tannery Hall")
    at_quay, _ = record("event", name="cup", first_on="2026-05-10", venue="North Quay")
    with pytest.raises(Question) as asked:
        record("run", run_on="2026-05-10", event="cup")
    assert [way.instead for way in asked.value.answers] == ["cup of 2026-05-09", "cup of 2026-05-10"]
    run, _ = record("run", run_on="2026-05-10", event="cup", venue="North Quay")
    assert connection.execute("SELECT event FROM runs WHERE id = ?", (run,)).fetchone()[0] == at_quay
    assert hall != quay


@pytest.mark.parametrize(
    ("texts", "code"),
    [
        ({"air_low": "24", "air_high": "18"}, "low_over_high"),
        ({"track_low": "40", "track_high": "30"}, "low_over_high"),
        ({"first_on": "2026-05-04", "last_on": "2026-05-03"}, "last_before_first"),
        ({"last_on": "2026-05-03"}, "last_day_alone"),
        ({"first_on": "2026-05-10"}, "already_there"),
    ],
)
def test_what_an_event_cannot_be_is_refused_with_words(record: Record, texts: dict[str, str], code: str) -> None:
    record("event", name="cup", first_on="2026-05-10")
    names = {"air_low": "air_low_c", "air_high": "air_high_c", "track_low": "track_low_c", "track_high": "track_high_c"}
    with pytest.raises(BevelbookError) as caught:
        record("event", name="Cup", **{names.get(name, name): text for name, text in texts.items()})
    assert caught.value.code == code


def test_a_car_goes_to_an_event_once(record: Record, add: Add) -> None:
    add("car", name="red")
    record("event", name="cup", first_on="2026-05-10")
    record("event_car", event="cup", car="red")
    with pytest.raises(BevelbookError, match="this car goes to that event already") as caught:
        record("event_car", event="cup", car="red", runs="8")
    assert (caught.value.code, caught.value.found) == ("car_twice", "cup red")


def test_a_day_is_not_moved_onto_another_of_the_name_and_days_in_the_past_may_be(
    connection: sqlite3.Connection, record: Record
) -> None:
    record("event", name="cup", first_on="2020-05-10")
    other, _ = record("event", name="cup", first_on="2020-06-10")
    with pytest.raises(EqualNameError):
        record("event", other, first_on="2020-05-10")
    record("run", run_on="2020-06-10", event="cup")
    _, said = record("event", other, first_on="2020-07-10", last_on="2020-09-10")
    assert "63 days" in said[0]
    assert "1 run of it was on other days, the first on 10 Jun 2020" in said[1]


def test_the_same_event_of_two_laptops_is_one_by_its_name_and_first_day(
    connection: sqlite3.Connection, add: Add
) -> None:
    for day in ("2026-05-10", "2026-05-10", "2026-06-14", None, None):
        add("event", name="cup", first_on=day)
    follow_joins(connection)
    assert [one.first_on for one in events_standing(connection)] == ["2026-05-10", "2026-06-14", None]


def carried(connection: sqlite3.Connection, day: str) -> CarriedToRun:
    return carried_to_run(connection, None, day, datetime.fromisoformat(f"{day}T10:00:00").astimezone())


def values(found: CarriedToRun) -> list[tuple[str, str, bool, str]]:
    return [(one.field, one.text, one.holds, one.why) for one in found.values]


def test_the_form_proposes_the_one_event_of_the_day_and_asks_where_there_are_several(
    connection: sqlite3.Connection, add: Add
) -> None:
    hall, quay = add("venue", name="Tannery Hall"), add("venue", name="North Quay")
    cup = add("event", name="cup", first_on="2026-05-09", last_on="2026-05-10", venue=hall)
    assert values(carried(connection, "2026-05-08")) == []
    assert values(carried(connection, "2026-05-09")) == [
        ("venue", "Tannery Hall", True, "where the event of that day is"),
        ("event", "cup", True, BY_ITS_DAY),
    ]
    add("run", label="1", run_on="2026-05-09", venue=hall, event=add("event", name="practice"))
    assert values(carried(connection, "2026-05-09")) == [
        ("venue", "Tannery Hall", True, ""),
        ("event", "practice", True, ""),
    ]
    assert values(carried(connection, "2026-05-10"))[1] == ("event", "cup", True, BY_ITS_DAY)
    add("event", name="quay race", first_on="2026-05-10", venue=quay)
    assert values(carried(connection, "2026-05-10"))[1] == ("event", "cup", True, BY_ITS_DAY)
    add("event", name="juniors", first_on="2026-05-10", venue=hall)
    assert values(carried(connection, "2026-05-10"))[1:] == [
        ("event", "cup", False, BY_ITS_DAY),
        ("event", "juniors", False, BY_ITS_DAY),
    ]
    add("run", label="2", run_on="2026-05-09", venue=hall, event=cup, day_order=2)
    assert values(carried(connection, "2026-05-10"))[1] == ("event", "cup", True, "")
