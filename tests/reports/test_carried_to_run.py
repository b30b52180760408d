"""What a new run takes over from the runs before it, with its age. The team, its runs and all figures are invented."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime
from typing import Any, NamedTuple

import pytest
from conftest import WriterWithFacts
from constructed import Add, Team

from bevelbook.facts.car_times import RunMoment
from bevelbook.records import BY_NAME
from bevelbook.reports.carried_to_run import CarriedToRun, carried_to_run
from bevelbook.reports.changed_for_run import changed_for_run
from bevelbook.reports.diffs_for_run import diffs_for_run

DAY = "2026-05-03"


def at(time: str, day: str = DAY) -> datetime:
    """A time on the wall of this machine."""
    return datetime.fromisoformat(f"{day}T{time}:00").astimezone()


class Paddock(NamedTuple):
    """Adds runs of a car, each written down at a time of the wall."""

    connection: sqlite3.Connection
    car: str

    def run(
        self, label: str, time: str, *, day: str = DAY, entered: dict[str, str] | None = None, **values: Any
    ) -> str:
        stamp = at(time, day).astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
        writer = WriterWithFacts(self.connection, "ana", lambda: stamp)
        if "event" in values:
            values["event"] = self.event(writer, values["event"])
        return writer.insert(
            BY_NAME["run"], {"label": label, "run_on": day, "car": self.car, **values}, entered=entered
        )

    def event(self, writer: WriterWithFacts, name: str) -> str:
        found = self.connection.execute("SELECT id FROM events WHERE name = ?", (name,)).fetchone()
        return str(found[0]) if found else writer.insert(BY_NAME["event"], {"name": name})

    def carried(self, time: str, day: str = DAY, car: str | None = "") -> CarriedToRun:
        return carried_to_run(self.connection, self.car if car == "" else car, day, at(time, day))


@pytest.fixture
def paddock(connection: sqlite3.Connection, add: Add) -> Paddock:
    return Paddock(connection, add("car", name="blue"))


def test_a_first_run_takes_nothing_over(paddock: Paddock) -> None:
    assert paddock.carried("10:00") == CarriedToRun(None, (), "best_five_s")


def test_six_runs_of_a_day_take_over_the_place_the_people_and_the_tyres_one_run_older_each(
    paddock: Paddock, add: Add
) -> None:
    hall, ana = add("venue", name="Tannery Hall"), add("person", name="ana")
    paddock.run(
        f"{DAY}/1", "09:40", venue=hall, driver=ana, event="club race", tyres="soft", tyre_runs=0.0, best_lap_s=14.9
    )
    for number in range(2, 7):
        found = paddock.carried(f"{8 + number}:00")
        held = {value.field: value.text for value in found.values if value.holds}
        assert held == {
            "venue": "Tannery Hall",
            "event": "club race",
            "driver": "ana",
            "tyres": "soft",
            "tyre_runs": f"{number - 1}",
        }
        assert found.lap == "best_lap_s"
        assert found.before and found.before.label == f"{DAY}/{number - 1}"
        taken = dict.fromkeys(held, f"as in run {DAY}/{number - 1}")
        names = {"venue": hall, "driver": ana, "tyre_runs": number - 1.0}
        paddock.run(f"{DAY}/{number}", f"{8 + number}:05", entered=taken, **{**held, **names})


def test_a_temperature_has_the_age_of_its_reading_and_not_of_the_run_that_took_it_over(paddock: Paddock) -> None:
    paddock.run(f"{DAY}/1", "10:00", track_temp_c=31.0, air_temp_c=22.0)
    paddock.run(f"{DAY}/2", "11:30", track_temp_c=31.0, air_temp_c=24.0, entered={"track_temp_c": f"as in run {DAY}/1"})
    found = paddock.carried("12:00")
    track, air = found.value("track_temp_c"), found.value("air_temp_c")
    assert track and (track.text, track.run.label, track.run.minutes, track.holds) == ("31", f"{DAY}/1", 120.0, True)
    assert air and (air.text, air.run.label, air.run.minutes, air.holds) == ("24", f"{DAY}/2", 30.0, True)
    assert track.origin == f"as in run {DAY}/1"
    later = paddock.carried("15:00")
    assert [(value.field, value.run.minutes, value.holds) for value in later.values] == [
        ("air_temp_c", 210.0, False),
        ("track_temp_c", 300.0, False),
    ]


def test_the_time_of_a_run_is_that_written_with_it_and_else_that_of_writing_it_down(paddock: Paddock) -> None:
    paddock.run(f"{DAY}/1", "18:00", track_temp_c=31.0, started_at="10:00")
    found = paddock.carried("18:30").value("track_temp_c")
    assert found and (found.run.minutes, found.holds) == (510.0, False)


def test_a_reading_of_another_car_at_the_same_place_counts_and_of_another_place_does_not(
    paddock: Paddock, add: Add
) -> None:
    hall, field, red = add("venue", name="Tannery Hall"), add("venue", name="Brickfield"), add("car", name="red")
    paddock.run(f"{DAY}/1", "10:00", venue=field, track_temp_c=40.0)
    paddock.run(f"{DAY}/2", "11:00", venue=hall, track_temp_c=20.0, car=red, tyres="hard")
    found = paddock.carried("11:10")
    assert [(value.field, value.text) for value in found.values] == [("venue", "Tannery Hall"), ("track_temp_c", "20")]
    assert found.before and found.before.label == f"{DAY}/1"
    assert not paddock.carried("09:00", "2026-05-04").value("track_temp_c")


@pytest.mark.parametrize(("day", "holds"), [("2026-05-04", True), ("2026-05-05", False)])
def test_the_next_day_of_a_meeting_takes_over_what_a_later_day_only_offers(
    paddock: Paddock, day: str, holds: bool
) -> None:
    paddock.run(f"{DAY}/1", "10:00", event="two-day cup", tyres="soft", tyre_runs=3.0, runs=2.0)
    found = paddock.carried("09:00", day)
    assert [(value.field, value.text, value.holds) for value in found.values] == [
        ("event", "two-day cup", holds),
        ("tyres", "soft", holds),
        ("tyre_runs", "5", holds),
    ]
    assert all(value.run.minutes is None for value in found.values)


def test_what_the_run_before_left_empty_stays_empty(paddock: Paddock) -> None:
    paddock.run(f"{DAY}/1", "10:00", event="club race", tyres="soft", tyre_runs=1.0)
    paddock.run(f"{DAY}/2", "11:00")
    assert paddock.carried("12:00").values == ()


def test_tyres_that_were_written_for_the_car_since_are_not_those_of_the_run_before(paddock: Paddock, add: Add) -> None:
    paddock.run(f"{DAY}/1", "10:00", tyres="soft", tyre_runs=1.0)
    add("car_value", car=paddock.car, what="Tyres", value="hard", from_on="2026-05-04")
    assert paddock.carried("09:00", "2026-05-04").values == ()


def test_a_team_without_cars_takes_over_from_its_last_run(paddock: Paddock) -> None:
    paddock.run(f"{DAY}/1", "10:00", event="club race", tyres="soft", car=None)
    found = paddock.carried("11:00", car=None)
    assert [value.field for value in found.values] == ["event", "tyres"]


def test_the_diffs_of_a_run_are_those_of_its_car_and_else_those_of_its_run_before(paddock: Paddock, add: Add) -> None:
    seven = add("fluid", label="7,000", viscosity_cst=7000.0)
    rear, front = Team(add), Team(add, "front-a")
    build = rear.build(fluid=seven)
    before = paddock.run(f"{DAY}/1", "10:00")
    add("run_diff", run=before, build=build, position="rear")
    add("run_diff", run=before, build=front.build(), position="front")
    add("car_diff", car=paddock.car, position="front", instead="spool", from_on="2026-05-01")
    found = diffs_for_run(paddock.connection, paddock.car, before, RunMoment(DAY, today=DAY))
    assert [(one.place, one.instead, one.as_in_run, one.in_car is not None) for one in found] == [
        ("rear", None, f"{DAY}/1", False),
        ("front", "spool", None, True),
    ]
    assert found[0].diff and (found[0].diff["build_label"], found[0].diff["fluid_label"]) == ("rear-a/1", "7,000")
    newer = rear.build(built_on=DAY)
    assert newer and (row := diffs_for_run(paddock.connection, paddock.car, before, RunMoment(DAY, today=DAY))[0].diff)
    assert row["build_label"] == "rear-a/2"


def test_a_diff_that_ran_in_another_car_since_is_not_taken_over(paddock: Paddock, add: Add) -> None:
    build = Team(add).build()
    before = paddock.run(f"{DAY}/1", "10:00")
    add("run_diff", run=before, build=build, position="rear")
    other = paddock.run(f"{DAY}/2", "11:00", car=add("car", name="red"))
    assert len(diffs_for_run(paddock.connection, paddock.car, before, RunMoment(DAY, today=DAY))) == 1
    add("run_diff", run=other, build=build, position="rear")
    assert diffs_for_run(paddock.connection, paddock.car, before, RunMoment(DAY, today=DAY)) == []


def test_what_is_written_of_changes_since_the_run_before_is_known_before_it_is_asked(
    paddock: Paddock, add: Add
) -> None:
    rear, moment = Team(add), RunMoment("2026-05-04", today="2026-05-04")
    add("car_value", car=paddock.car, what="springs", value="soft", from_on="2026-05-01")
    before = paddock.run(f"{DAY}/1", "10:00")
    add("run_diff", run=before, build=rear.build(), position="rear")
    unchanged = diffs_for_run(paddock.connection, paddock.car, before, RunMoment("2026-05-04", today="2026-05-04"))
    assert changed_for_run(paddock.connection, paddock.car, before, unchanged, moment) == ((), ())
    rear.build(built_on="2026-05-04")
    add("car_value", car=paddock.car, what="springs", value="hard", from_on="2026-05-04")
    diffs = diffs_for_run(paddock.connection, paddock.car, before, RunMoment("2026-05-04", today="2026-05-04"))
    found = changed_for_run(paddock.connection, paddock.car, before, diffs, moment)
    assert found.builds == (("rear", "rear-a/1", "rear-a/2"),)
    assert [one.words for one in found.values] == ["springs: hard, was soft"]
    assert changed_for_run(paddock.connection, None, None, (), moment) == ((), ())
