"""What sits in a car is written down once and carried into each run until it changes: constructed records."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from asked import asked_here
from conftest import Begin, Outcome

Run = Callable[..., Outcome]
ROWS = """SELECT r.label, x.position, b.label FROM run_diffs x JOIN runs r ON r.id = x.run
JOIN builds b ON b.id = x.build ORDER BY 1, 2"""


@pytest.fixture
def team(bevelbook: Run, begin: Begin) -> Run:
    """The car blue with rear-a at the rear and a spool in front since 3 May; rear-b lies on the shelf."""
    commands: list[tuple[str, ...]] = [("new",)]
    for label in ("rear-a", "rear-b", "front-a"):
        commands.append(("record", "diff", f"label={label}"))
        commands.append(("record", "build", f"diff={label}", "built_on=2026-05-03", "dry_mass=12.42", "oil_mass=1.86"))
    commands.append(("record", "car", "name=blue"))
    commands.append(("record", "car-diff", "car=blue", "rear=rear-a", "front=spool", "from_on=2026-05-03"))
    begin(bevelbook, Path("bevelbook.db"), *commands)
    return bevelbook


def written_on_another_day(table: str, stamp: str) -> None:
    """Have all records of a table written at that time."""
    with sqlite3.connect("bevelbook.db") as connection:
        connection.execute("UPDATE writing SET placing = 1")
        connection.execute(f"UPDATE {table} SET created_at = ?", (stamp,))
        connection.execute("UPDATE writing SET placing = NULL")
    connection.close()


def test_a_run_is_a_lap_a_temperature_and_a_remark(team: Run) -> None:
    done = team("record", "run", "run_on=2026-05-10", "car=blue", "best_lap=14.2", "rear_temp=38", "note=planted")
    assert done.code == 0
    assert done.out.splitlines()[-4:-2] == [
        "  rear: rear-a/1, 38 °C, as in blue since 2026-05-03",
        "  front: spool, as in blue since 2026-05-03",
    ]
    assert asked_here(ROWS) == [("2026-05-10/1", "rear", "rear-a/1")]
    data = team("record", "run", "run_on=2026-05-11", "car=blue", "--json").json
    assert [(one["position"], one["build"], one["taken"]) for one in data["places"]] == [
        ("rear", "rear-a/1", "as in blue since 2026-05-03")
    ]
    assert data["beside"] == ["front: spool, as in blue since 2026-05-03"]


def test_the_only_car_of_the_team_is_taken_and_said(team: Run) -> None:
    assert "  car: blue  (your only car)" in team("record", "run", "run_on=2026-05-10").out
    assert "car:" not in team("record", "run", "run_on=2026-05-10", "car=").out
    team("record", "car", "name=red")
    assert "car:" not in team("record", "run", "run_on=2026-05-11").out


def test_the_build_is_the_one_in_use_at_the_run(team: Run) -> None:
    team("record", "build", "diff=rear-a", "built_on=2026-05-17", "dry_mass=12.42", "oil_mass=1.86")
    team("record", "run", "run_on=2026-05-10")
    team("record", "run", "run_on=2026-05-18")
    assert [row[2] for row in asked_here(ROWS)] == ["rear-a/1", "rear-a/2"]


def test_a_swap_holds_from_the_next_run_and_leaves_earlier_ones_alone(team: Run) -> None:
    team("record", "run", "run_on=2026-05-10", "best_lap=14.2")
    done = team("record", "car-diff", "car=blue", "rear=rear-b", "from_on=2026-05-10")
    assert "blue, rear: rear-b, was rear-a" in done.out
    team("record", "run", "run_on=2026-05-10", "best_lap=14.1")
    team("record", "run", "run_on=2026-05-11")
    assert [row[2] for row in asked_here(ROWS)] == ["rear-a/1", "rear-b/1", "rear-b/1"]


def test_a_diff_put_into_one_car_leaves_the_other(team: Run) -> None:
    team("record", "car", "name=red")
    done = team("record", "car-diff", "car=red", "front=rear-a", "from_on=2026-05-10")
    assert "red, front: rear-a" in done.out
    assert "blue, rear: rear-a is out" in done.out
    team("record", "run", "run_on=2026-05-11", "car=blue")
    team("record", "run", "run_on=2026-05-11", "car=red")
    assert asked_here(ROWS) == [("2026-05-11/2", "front", "rear-a/1")]


def test_what_is_typed_goes_before_what_is_in_the_car_and_the_car_keeps_its_diff(team: Run) -> None:
    done = team("record", "run", "run_on=2026-05-10", "rear=rear-b")
    assert "rear of blue: rear-a again from the next run" in done.out
    assert "bevelbook record car-diff car=blue rear=rear-b" in done.out
    team("record", "run", "run_on=2026-05-11", "front=rear-a")
    team("record", "run", "run_on=2026-05-12", "rear=")
    assert asked_here(ROWS) == [("2026-05-10/1", "rear", "rear-b/1"), ("2026-05-11/1", "front", "rear-a/1")]


def test_a_run_entered_days_later_goes_by_its_time_or_is_asked(team: Run) -> None:
    team("record", "car-diff", "car=blue", "rear=rear-b", "from_on=2026-05-10", "from_at=12:00")
    written_on_another_day("car_diffs", "2026-05-10T10:00:00.000Z")
    unclear = team("record", "run", "run_on=2026-05-10", "note=wet")
    assert unclear.code == 2
    assert "this run may have been before or after that" in unclear.err
    assert "before the swap (rear rear-a)" in unclear.err
    assert "bevelbook record run run_on=2026-05-10 note=wet --before-swap" in unclear.err
    assert team("record", "run", "run_on=2026-05-10", "--before-swap").code == 0
    assert team("record", "run", "run_on=2026-05-10", "--after-swap").code == 0
    assert team("record", "run", "run_on=2026-05-10", "started_at=11:30").code == 0
    assert team("record", "run", "run_on=2026-05-10", "started_at=13:30").code == 0
    assert team("record", "run", "run_on=2026-05-10", "rear=front-a").code == 0
    assert [row[2] for row in asked_here(ROWS)] == [
        "rear-a/1",
        "rear-b/1",
        "rear-a/1",
        "rear-b/1",
        "front-a/1",
    ]


def test_without_a_day_a_swap_holds_from_today_after_the_last_run(team: Run) -> None:
    today = date.today().isoformat()
    team("record", "run", f"run_on={today}")
    team("record", "car-diff", "car=blue", "rear=rear-b")
    assert asked_here("SELECT c.from_on, r.label FROM car_diffs c JOIN runs r ON r.id = c.after_run") == [
        (today, f"{today}/1")
    ]
    again = team("record", "car-diff", "car=blue", "rear=rear-b")
    assert again.out.startswith(f"blue, rear: rear-b already, since {today}")
    assert asked_here("SELECT count(*) FROM car_diffs") == [(3,)]


def test_the_plain_fields_do_the_same_and_need_a_diff_or_what_is_there_instead(team: Run) -> None:
    done = team("record", "car-diff", "car=blue", "position=rear", "diff=rear-b", "from_on=2026-05-10")
    assert "blue, rear: rear-b, was rear-a" in done.out
    for more in ((), ("diff=rear-b", "instead=spool")):
        refused = team("record", "car-diff", "car=blue", "position=rear", "from_on=2026-05-10", *more)
        assert "Give diff=... or instead=spool." in refused.err


def test_a_diff_of_the_car_that_is_apart_is_asked_about_like_a_typed_one(team: Run) -> None:
    team("record", "opening", "build=rear-a", "opened_on=2026-05-20")
    assert "--closed-again" in team("record", "run", "run_on=2026-05-24").err
    assert team("record", "run", "run_on=2026-05-24", "--closed-again").code == 0
    assert asked_here(ROWS) == [("2026-05-24/1", "rear", "rear-a/2")]


def test_motor_and_springs_are_carried_and_only_what_changed_is_said(team: Run) -> None:
    team("record", "car-value", "car=blue", "motor=13.5", "springs=soft", "from_on=2026-05-03")
    assert "motor" not in team("record", "run", "run_on=2026-05-10", "best_lap=14.3").out
    assert "motor" not in team("record", "run", "run_on=2026-05-10", "best_lap=14.2").out
    done = team("record", "car-value", "car=blue", "Motor=17.5", "from_on=2026-05-10")
    assert done.out.startswith("Added car value blue Motor from 2026-05-10")
    swapped = team("record", "run", "run_on=2026-05-10", "best_lap=14.1")
    assert "  Motor: 17.5, was 13.5" in swapped.out.splitlines()
    assert "springs" not in swapped.out
    team("record", "car-value", "car=blue", "springs=", "from_on=2026-05-10")
    assert "  springs: out, was soft" in team("record", "run", "run_on=2026-05-10", "best_lap=14.0").out.splitlines()
    assert team("record", "car-value", "car=blue", "valeu=x").code == 2


def test_a_comparison_of_builds_shows_what_of_the_car_differed_in_their_runs(team: Run) -> None:
    team("record", "car-value", "car=blue", "motor=13.5", "springs=soft", "from_on=2026-05-03")
    team("record", "run", "run_on=2026-05-10", "best_lap=14.3")
    team("record", "car-diff", "car=blue", "rear=rear-b", "from_on=2026-05-11")
    team("record", "car-value", "car=blue", "motor=17.5", "from_on=2026-05-11")
    team("record", "run", "run_on=2026-05-11", "best_lap=14.2")
    found = [one for one in team("compare", "rear-a", "rear-b", "--json").json["differences"] if "Car" in one["group"]]
    assert [(one["what"], one["a"], one["b"]) for one in found] == [("motor", "13.5", "17.5")]


def test_a_run_said_to_be_before_a_change_keeps_the_motor_of_then(team: Run) -> None:
    team("record", "car-value", "car=blue", "motor=13.5", "from_on=2026-05-03")
    team("record", "run", "run_on=2026-05-09", "best_lap=14.3")
    team("record", "car-value", "car=blue", "motor=17.5", "from_on=2026-05-10")
    written_on_another_day("car_values", "2026-05-10T10:00:00.000Z")
    unclear = team("record", "run", "run_on=2026-05-10", "best_lap=14.2")
    assert "before the swap (motor 13.5)" in unclear.err
    before = team("record", "run", "run_on=2026-05-10", "best_lap=14.2", "--before-swap")
    assert "motor" not in before.out
    after = team("record", "run", "run_on=2026-05-10", "best_lap=14.1", "--after-swap")
    assert "  motor: 17.5, was 13.5" in after.out.splitlines()
    assert "17.5" not in team("record", "run", "2026-05-10/1", "note=x").out


@pytest.mark.parametrize("last", [(), ("after_run=2026-05-10/2",)])
def test_a_forgotten_run_is_before_a_swap_that_came_after_a_later_run(team: Run, last: tuple[str, ...]) -> None:
    for time in ("09:00", "12:00"):
        team("record", "run", "run_on=2026-05-10", f"started_at={time}")
    team("record", "car-diff", "car=blue", "rear=rear-b", "from_on=2026-05-10", *last)
    done = team("record", "run", "run_on=2026-05-10", "started_at=10:00")
    assert "  rear: rear-a/1, as in blue since 2026-05-03" in done.out.splitlines()
    assert (
        "again from the next run"
        not in team("record", "run", "run_on=2026-05-10", "started_at=10:10", "rear=rear-a").out
    )
    typed = team("record", "run", "run_on=2026-05-10", "started_at=10:20", "rear=front-a").out
    assert "  rear: front-a in this run alone; by the records rear-a was there" in typed.splitlines()
    team("record", "run", "run_on=2026-05-10", "started_at=12:40")
    team("record", "run", "run_on=2026-05-10", "best_lap=14.2")
    team("record", "car-diff", "car=blue", "rear=front-a", "from_on=2026-05-10")
    assert [row[2] for row in asked_here(ROWS)] == [
        f"{diff}/1" for diff in ("rear-a",) * 4 + ("front-a",) + ("rear-b",) * 2
    ]
    assert asked_here(
        "SELECT r.label FROM car_diffs c JOIN runs r ON r.id = c.after_run ORDER BY c.id DESC LIMIT 1"
    ) == [("2026-05-10/7",)]


def test_a_swap_added_later_goes_between_the_runs_that_it_was_between(team: Run) -> None:
    for time in ("09:00", "11:00", "13:00"):
        team("record", "run", "run_on=2026-05-10", f"started_at={time}")
    team("record", "car-diff", "car=blue", "rear=rear-b", "from_on=2026-05-10")
    team("record", "car-diff", "car=blue", "rear=front-a", "from_on=2026-05-10", "after_run=2026-05-10/1")
    team("record", "run", "run_on=2026-05-10", "started_at=10:00")
    team("record", "run", "run_on=2026-05-10", "started_at=14:00")
    assert [row[2] for row in asked_here(ROWS)][-2:] == ["front-a/1", "rear-b/1"]


def test_a_run_between_the_times_of_others_is_asked_about_where_the_run_before_a_swap_has_none(team: Run) -> None:
    team("record", "run", "run_on=2026-05-10")
    team("record", "car-diff", "car=blue", "rear=rear-b", "from_on=2026-05-10")
    team("record", "run", "run_on=2026-05-10", "started_at=12:00")
    assert "before the swap (rear rear-a)" in team("record", "run", "run_on=2026-05-10", "started_at=10:00").err
    assert team("record", "run", "run_on=2026-05-10", "started_at=12:30").code == 0
    assert team("record", "run", "run_on=2026-05-10", "started_at=10:00", "--before-swap").code == 0
    assert [row[2] for row in asked_here(ROWS)] == ["rear-a/1", "rear-b/1", "rear-b/1", "rear-a/1"]


def test_before_the_swap_is_before_the_last_change_and_the_set_of_that_day_stays(team: Run) -> None:
    day = "from_on=2026-05-10"
    team("record", "car", "name=red")
    team("record", "car-diff", "car=red", "rear=rear-b", "front=one-way", day)
    team("record", "car-value", "car=red", "motor=13.5", day)
    team("record", "car-diff", "car=red", "rear=front-a", day)
    for table in ("car_diffs", "car_values"):
        earlier = asked_here(f"SELECT id, created_at FROM {table}")
        with sqlite3.connect("bevelbook.db") as connection:
            connection.execute("UPDATE writing SET placing = 1")
            for row_id, stamp in earlier:
                stamp = f"2026-05-10T{str(stamp)[11:]}"
                connection.execute(f"UPDATE {table} SET created_at = ? WHERE id = ?", (stamp, row_id))
            connection.execute("UPDATE writing SET placing = NULL")
        connection.close()
    unclear = team("record", "run", "run_on=2026-05-10", "car=red").err
    assert "before the last swap (rear rear-b)" in unclear
    done = team("record", "run", "run_on=2026-05-10", "car=red", "--before-swap")
    assert "  front: one-way, as in red since 2026-05-10" in done.out.splitlines()
    assert asked_here(ROWS) == [("2026-05-10/1", "rear", "rear-b/1")]
    assert "motor" not in done.out
    after = team("record", "run", "run_on=2026-05-10", "car=red", "--after-swap")
    assert "motor" not in after.out, "the motor was the same in the run before"


def test_what_changed_goes_by_the_order_of_the_day_and_not_of_writing(team: Run) -> None:
    for springs, time in (("soft", "09:00"), ("hard", "11:00")):
        team("record", "car-value", "car=blue", f"springs={springs}", "from_on=2026-05-10", f"from_at={time}")
    team("record", "run", "run_on=2026-05-10", "started_at=09:30")
    assert (
        "  springs: hard, was soft" in team("record", "run", "run_on=2026-05-10", "started_at=11:30").out.splitlines()
    )
    assert "springs" not in team("record", "run", "run_on=2026-05-10", "started_at=10:00").out
    assert "springs" not in team("record", "run", "run_on=2026-05-10", "started_at=12:00").out


def test_a_place_that_a_diff_has_left_is_said_to_be_empty(team: Run) -> None:
    team("record", "car", "name=red")
    team("record", "car-diff", "car=red", "rear=rear-b", "from_on=2026-05-04")
    team("record", "car-diff", "car=blue", "rear=rear-b", "from_on=2026-05-10")
    line = "  rear: nothing, rear-b is in blue since 10 May"
    assert line in team("record", "run", "run_on=2026-05-11", "car=red").out.splitlines()
    assert line in team("record", "run", "2026-05-11/1", "note=loose").out.splitlines()
    team("record", "car-diff", "car=blue", "rear=rear-a", "from_on=2026-05-12")
    done = team("record", "run", "run_on=2026-05-13", "car=red")
    assert "  rear: nothing, rear-b was put into blue on 10 May" in done.out.splitlines()
    assert "rear:" not in team("record", "run", "run_on=2026-05-13", "car=red", "rear=").out


def test_a_changed_run_is_shown_with_all_that_sat_in_the_car(team: Run) -> None:
    team("record", "run", "run_on=2026-05-10")
    changed = team("record", "run", "2026-05-10/1", "note=planted").out.splitlines()
    assert changed[-2:] == ["  rear: rear-a/1", "  front: spool, as in blue since 2026-05-03"]


def test_the_history_of_a_run_says_which_diffs_it_had(team: Run) -> None:
    team("record", "run", "run_on=2026-05-10", "rear_temp=38")
    team("record", "run", "2026-05-10/1", "rear=rear-b")
    team("record", "run", "2026-05-10/1", "rear=", "note=loose")
    said = [one["words"] for one in team("history", "run", "2026-05-10/1", "--json").json["versions"]]
    assert said == [
        "note loose, was empty; rear rear-b/1 taken out",
        "rear: build rear-b/1, was rear-a/1",
        "added: run on 2026-05-10; car blue; rear rear-a/1, 38.0 °C",
    ]
    team("take-back")
    team("record", "run", "2026-05-10/1", "--remove", "written twice")
    said = [one["words"] for one in team("history", "run", "2026-05-10/1", "--json").json["versions"]]
    assert said[:2] == ["removed: written twice", "note empty, was loose; rear rear-b/1, 38.0 °C"]


def test_a_change_in_a_car_says_in_words_from_when_on_it_holds(team: Run) -> None:
    first = team("record", "car-diff", "car=blue", "rear=rear-b", "from_on=2026-05-10")
    assert first.out.splitlines()[-1] == "Holds from the first run of 2026-05-10"
    team("record", "run", "run_on=2026-05-10")
    after = team("record", "car-value", "car=blue", "springs=hard", "from_on=2026-05-10")
    assert after.out.splitlines()[-1] == "Holds from the run after 2026-05-10/1"
    timed = team("record", "car-diff", "car=blue", "rear=rear-a", "from_on=2026-05-10", "from_at=14:10")
    assert timed.out.splitlines()[-1] == "Holds from 2026-05-10 14:10"
    said = team("history", "car-value", "blue springs from 2026-05-10").out
    assert "from 2026-05-10; after run 2026-05-10/1" in " ".join(said.split())
