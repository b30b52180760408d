"""Hours of the work on several diffs, summed by hand: hands one after the other, the longest waiting once. Invented
data."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime, timedelta

import pytest
from constructed import Add

from bevelbook.facts.job_times import OUT_AND_IN, TypedMinutes
from bevelbook.planning.hours import hours_of
from bevelbook.planning.minutes import MinutesOfJobs
from bevelbook.planning.places import DiffInPlace


def in_car(diff: str, label: str, car: str, position: str, build: str | None = "some build") -> DiffInPlace:
    return DiffInPlace(diff, label, None, build, None, car, f"car {car}", position, 6.0, is_spare=False)


def spare(diff: str, label: str, build: str | None) -> DiffInPlace:
    return DiffInPlace(diff, label, None, build, None, None, None, "rear", None, is_spare=True)


def timed(add: Add, diff: str, kind: str, *took: tuple[float, float]) -> None:
    """Builds at the bench, each of so many minutes of hands and of waiting after them."""
    for hands, waits in took:
        begun = datetime(2026, 5, 3, 8, 0, tzinfo=UTC)
        worked, over = begun + timedelta(minutes=hands), begun + timedelta(minutes=hands + waits)
        times = [one.isoformat().replace("+00:00", "Z") for one in (begun, worked, over)]
        job = add("bench_job", diff=diff, kind=kind, way="step by step", begun_at=times[0], done_at=times[2])
        add("bench_step", job=job, step="work", title="Work", begun_at=times[0], done_at=times[1], waits="no")
        add("bench_step", job=job, step="wait", title="Wait", begun_at=times[1], done_at=times[2], waits="yes")


@pytest.fixture
def team(add: Add) -> dict[str, str]:
    """Ids by name: two cars, and diffs in and beside them."""
    cars = {name: add("car", name=name) for name in ("A", "B")}
    return cars | {label: add("diff", label=label) for label in ("front-a", "rear-a", "rear-b", "rear-c")}


def test_the_most_special_figure_holds_and_of_equal_ones_the_last(add: Add, connection: sqlite3.Connection) -> None:
    car, other, diff = add("car", name="A"), add("car", name="B"), add("diff", label="rear-a")
    add("job_time", job=OUT_AND_IN, minutes=10, car=car, position="rear")
    add("job_time", job=OUT_AND_IN, minutes=20)
    add("job_time", job=OUT_AND_IN, minutes=30, position="rear")
    add("job_time", job=OUT_AND_IN, minutes=40, car=car)
    add("job_time", job=OUT_AND_IN, minutes=25)
    typed = TypedMinutes(connection)
    assert typed.of(OUT_AND_IN, diff, car, "rear") == 10
    assert typed.of(OUT_AND_IN, diff, car, "front") == 40
    assert typed.of(OUT_AND_IN, diff, other, "rear") == 30
    assert typed.of(OUT_AND_IN, diff, other, "front") == 25
    assert typed.of(OUT_AND_IN, diff) == 25
    add("job_time", job=OUT_AND_IN, minutes=50, diff=diff)
    add("job_time", job=OUT_AND_IN, minutes=60, diff=diff, car=other)
    typed = TypedMinutes(connection)
    assert typed.of(OUT_AND_IN, diff, other, "front") == 60
    assert typed.of(OUT_AND_IN, diff, car, "front") == 50, "of one thing each the last written"
    assert typed.of(OUT_AND_IN, diff, car, "rear") == 10
    assert typed.of("rebuild", diff, car, "rear") is None


def test_hands_are_summed_and_the_longest_waiting_counts_once(
    connection: sqlite3.Connection, add: Add, team: dict[str, str]
) -> None:
    """Rebuild: hands 44, 50, 61 of five, waiting 60 of 30, 50, 60, 90, 120. Oil change typed: 25 and 90 of waiting.
    Weighing typed: 5. Out and in: rear of A 12, elsewhere 8. So 50 + 25 + 5 + 12 + 8 + 8 = 108, and 90 of waiting."""
    timed(add, team["rear-c"], "rebuild", (61, 120), (40, 30), (90, 60), (44, 50), (50, 90))
    add("job_time", job="rebuild", minutes=200, waiting_minutes=600)
    add("job_time", job="oil change", minutes=25, waiting_minutes=90)
    add("job_time", job="weigh", minutes=5)
    add("job_time", job=OUT_AND_IN, minutes=8)
    add("job_time", job=OUT_AND_IN, minutes=12, car=team["A"], position="rear")
    places = [
        in_car(team["front-a"], "front-a", team["A"], "front"),
        in_car(team["rear-a"], "rear-a", team["A"], "rear"),
        in_car(team["rear-b"], "rear-b", team["B"], "rear"),
        spare(team["rear-c"], "rear-c", "some build"),
    ]
    acts = {"front-a": "weigh it", "rear-a": "rebuild", "rear-b": "change the oil", "rear-c": "leave it"}
    found = hours_of(connection, {team[label]: act for label, act in acts.items()}, places)
    assert (found.hands_min, found.longest_wait_min) == (pytest.approx(108), pytest.approx(90))
    assert (found.untimed, found.is_at_least) == ((), False)
    assert found.words == f"about 108 min of hands, 28 min of it {OUT_AND_IN}; and 90 min of waiting"
    assert {place: one.hands for place, one in found.out_and_in.items()} == {
        (team["A"], "front"): 8,
        (team["A"], "rear"): 12,
        (team["B"], "rear"): 8,
    }
    said = {label: found.of_diffs[team[label]].words for label in ("front-a", "rear-a", "rear-b")}
    assert said == {
        "front-a": "about 5 min, your figure",
        "rear-a": "44 to 61 min of hands and 60 min of waiting, from 5 builds",
        "rear-b": "about 25 min of hands and 90 min of waiting, your figure",
    }


def test_what_is_not_timed_is_named_and_the_rest_is_at_least(
    connection: sqlite3.Connection, add: Add, team: dict[str, str]
) -> None:
    """Known: rebuild 40, twice, and out of A and in again 10: 90 min. The waiting of a rebuild was never typed."""
    add("job_time", job="rebuild", minutes=40)
    add("job_time", job=OUT_AND_IN, minutes=10, car=team["A"])
    places = [
        in_car(team["front-a"], "front-a", team["A"], "front"),
        in_car(team["rear-a"], "rear-a", team["B"], "rear"),
        in_car(team["rear-b"], "rear-b", team["B"], "front"),
        spare(team["rear-c"], "rear-c", None),
    ]
    acts = {"front-a": "rebuild", "rear-a": "look at it", "rear-b": "unclear", "rear-c": "build a second one"}
    found = hours_of(connection, {team[label]: act for label, act in acts.items()}, places)
    assert (found.hands_min, found.longest_wait_min, found.is_at_least) == (90, None, True)
    assert found.untimed == (
        "the waiting of front-a",
        "rear-a: look at it",
        f"{OUT_AND_IN} at car {team['B']} rear",
        "rear-b, as it is unclear what it needs",
        "the waiting of rear-c",
    )
    assert found.words.startswith(
        f"at least 90 min of hands, 10 min of it {OUT_AND_IN}; not timed: the waiting of front-a"
    )
    assert found.to_type == ("rebuild", "look over", OUT_AND_IN)
    assert found.of_diffs[team["rear-c"]].words == "about 40 min, your figure for a rebuild; its waiting is not timed"
    assert team["rear-b"] not in found.of_diffs


def test_nothing_known_is_no_sum_and_nothing_to_do_is_no_work(
    connection: sqlite3.Connection, team: dict[str, str]
) -> None:
    places = [in_car(team["rear-a"], "rear-a", team["A"], "rear")]
    found = hours_of(connection, {team["rear-a"]: "rebuild"}, places)
    assert (found.hands_min, found.longest_wait_min) == (None, None)
    assert found.words == f"not timed: rebuild rear-a, {OUT_AND_IN} at car {team['A']} rear"
    assert found.to_type == ("rebuild", OUT_AND_IN)
    assert found.of_diffs[team["rear-a"]].words == "not timed yet, 0 of 5 builds"
    idle = hours_of(connection, {team["rear-a"]: "leave it"}, places)
    assert (idle.hands_min, idle.longest_wait_min, idle.words, idle.untimed) == (0, 0, "no work", ())


def test_waiting_that_was_timed_too_seldom_is_as_typed(connection: sqlite3.Connection, add: Add) -> None:
    """Five builds whose diff still rests: hands 40 each, no waiting."""
    diff = add("diff", label="rear-a")
    timed(add, diff, "rebuild", *[(40, 30)] * 5)
    connection.execute("UPDATE bench_steps SET done_at = NULL WHERE waits = 'yes'")
    found = MinutesOfJobs(connection).of_build("rebuild", diff)
    assert found.words == "40 min of hands, from 5 builds; its waiting is not timed yet"
    assert (found.waiting, found.waiting_rests_on) == (None, "not timed")
    add("job_time", job="rebuild", minutes=90, waiting_minutes=150)
    found = MinutesOfJobs(connection).of_build("rebuild", diff)
    assert found.words == "40 min of hands, from 5 builds, and 2 h 30 min of waiting, your figure"
    assert (found.hands, found.waiting, found.rests_on, found.waiting_rests_on) == (
        pytest.approx(40),
        150,
        "own builds",
        "your figure",
    )


def test_a_top_up_has_own_builds_or_nothing(connection: sqlite3.Connection, add: Add) -> None:
    diff = add("diff", label="rear-a")
    add("job_time", job="rebuild", minutes=40)
    assert MinutesOfJobs(connection).of_build("top-up", diff).hands is None
    timed(add, diff, "top-up", *[(12, 0)] * 5)
    assert MinutesOfJobs(connection).of_build("top-up", diff).words == "12 min of hands, from 5 builds"
