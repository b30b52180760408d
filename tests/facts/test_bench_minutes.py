"""Minutes of builds from the steps that the bench noted, against sums and quartiles worked out by hand.

The quartiles of five values are the second and the fourth (definition 7 of Hyndman and Fan, The American Statistician
50, 1996, from memory); ``numpy.quantile`` counts the same way. Invented data.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from constructed import Add

from bevelbook.facts.bench_minutes import BenchMinutes, TimedBuild, timed_builds
from bevelbook.stats.quartiles import quartiles_of

HANDS, WAIT, OLD = "no", "yes", None
MORNING = datetime(2026, 5, 3, 8, 0, tzinfo=UTC)

Step = tuple[str, float, float | None, str | None]
"""A step: its key, the minutes after eight when it was begun and done, and what it says of waiting."""


@pytest.fixture(autouse=True)
def a_clock_at_utc(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The laptop's clock shows UTC, so that a night is the same on every machine."""
    with monkeypatch.context() as inside:
        inside.setenv("TZ", "UTC")
        time.tzset()
        yield
    time.tzset()


@pytest.fixture
def diff(add: Add) -> str:
    return add("diff", label="rear-a")


def at(minutes: float) -> str:
    return (MORNING + timedelta(minutes=minutes)).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def job(
    add: Add,
    diff: str,
    steps: Sequence[Step],
    *,
    done: float | None,
    kind: str = "rebuild",
    given_up: str | None = None,
    **of_last: object,
) -> str:
    ended = None if done is None else at(done)
    row = add(
        "bench_job",
        diff=diff,
        kind=kind,
        way="step by step",
        begun_at=at(steps[0][1]),
        done_at=ended,
        given_up=given_up,
    )
    for key, begun, end, waits in steps:
        more = of_last if key == steps[-1][0] else {}
        given = {"job": row, "step": key, "title": key, "begun_at": at(begun), "waits": waits}
        add("bench_step", **{**given, "done_at": None if end is None else at(end), **more})
    return row


def only(connection: sqlite3.Connection) -> tuple[float, float | None] | None:
    """Hands and waiting of the one job there is, rounded to a tenth of a minute; None where it is not timed."""
    found = [(one.hands_min, one.waiting_min) for one in timed_builds(connection)]
    assert len(found) < 2
    rounded = [(round(hands, 1), None if waits is None else round(waits, 1)) for hands, waits in found]
    return rounded[0] if rounded else None


def test_hands_and_waiting_are_apart_and_coffee_is_neither(connection: sqlite3.Connection, add: Add, diff: str) -> None:
    steps: list[Step] = [
        ("open", 0, 6.5, HANDS),
        ("clean", 6.5, 15, HANDS),
        ("dry", 15, 45, WAIT),
        # 20 minutes of coffee
        ("seals", 65, 75, HANDS),
        ("bubbles", 75, 120, WAIT),
        ("lid", 120, 125, HANDS),
    ]
    job(add, diff, steps, done=125)
    assert only(connection) == (6.5 + 8.5 + 10 + 5, 30 + 45)


def test_time_of_overlapping_steps_counts_once_and_as_hands(
    connection: sqlite3.Connection, add: Add, diff: str
) -> None:
    """The seals were judged while the parts dried: 15 to 30 of 10 to 40; two phones had two steps at 30 to 35."""
    steps: list[Step] = [
        ("clean", 0, 10, HANDS),
        ("dry", 10, 40, WAIT),
        ("seals", 15, 30, HANDS),
        ("shims", 25, 35, HANDS),
        ("lid", 40, 42, HANDS),
    ]
    job(add, diff, steps, done=42)
    assert only(connection) == (10 + 20 + 2, 30 - 20)


def test_a_step_with_an_end_in_time_waits(connection: sqlite3.Connection, add: Add, diff: str) -> None:
    steps: list[Step] = [("pour", 0, 5, OLD), ("stand", 5, 30, OLD)]
    job(add, diff, steps, done=30, until_at=at(28))
    assert only(connection) == (5, 25)


def test_what_was_left_out_or_ticked_off_has_no_time(connection: sqlite3.Connection, add: Add, diff: str) -> None:
    job(add, diff, [("pour", 0, 5, HANDS), ("lid", 5, None, HANDS)], done=5, left_out="no lid")
    job(add, diff, [("pour", 0, 7, HANDS), ("wipe", 0, 60, HANDS)], done=60, note="as usual")
    assert [one.hands_min for one in timed_builds(connection)] == pytest.approx([5, 7])


@pytest.mark.parametrize("waits", [WAIT, OLD])
def test_a_build_whose_wait_was_ticked_off_is_not_timed(
    connection: sqlite3.Connection, add: Add, diff: str, waits: str | None
) -> None:
    """Same again: it dried while the scales were read, and nobody can say which minutes were work."""
    job(add, diff, [("pour", 0, 50, HANDS), ("dry", 50, 50, waits)], done=50, note="as usual")
    assert only(connection) is None


def test_an_old_step_that_cleaned_and_dried_is_not_timed(connection: sqlite3.Connection, add: Add, diff: str) -> None:
    job(add, diff, [("open", 0, 5, OLD), ("clean", 5, 60, OLD)], done=60)
    assert only(connection) is None


@pytest.mark.parametrize(
    ("begun", "end", "is_timed"),
    [
        (13.5 * 60, 24 * 60, False),  # 21:30 to 8:00
        (13 * 60, 15.9 * 60, True),  # 21:00 to 23:54
        (15 * 60, 17.9 * 60, True),  # 23:00 to 1:54, not three hours
        (15 * 60, 18 * 60, False),  # 23:00 to 2:00
        (16.5 * 60, 35 * 60, False),  # 0:30 to 19:00
        (22 * 60, 26 * 60, True),  # 6:00 to 10:00
    ],
)
@pytest.mark.parametrize("what", ["hands", "gap", "wait"])
def test_a_build_left_over_night_is_not_timed(
    connection: sqlite3.Connection, add: Add, diff: str, begun: float, end: float, is_timed: bool, what: str
) -> None:
    night: list[Step] = [] if what == "gap" else [("night", begun, end, WAIT if what == "wait" else HANDS)]
    job(add, diff, [("open", begun - 10, begun, HANDS), *night, ("lid", end, end + 5, HANDS)], done=end + 5)
    assert (only(connection) is not None) == is_timed


def test_a_night_on_paper_after_the_build_was_done_leaves_its_hands(
    connection: sqlite3.Connection, add: Add, diff: str
) -> None:
    """Begun at 8:00, closed at 8:40, on paper from 20:00 to 8:00: the gap before it is not one of the build."""
    job(add, diff, [("all", 0, 40, HANDS), ("paper", 12 * 60, 24 * 60, WAIT)], done=40)
    assert only(connection) == (40, None)


def test_a_wait_that_nobody_ended_is_not_timed(connection: sqlite3.Connection, add: Add, diff: str) -> None:
    job(add, diff, [("all", 0, 40, HANDS), ("paper", 40, None, WAIT)], done=40, until_at=at(100))
    assert only(connection) == (40, None)


@pytest.mark.parametrize(
    ("steps", "done", "given_up"),
    [
        ([("open", 0, 20, HANDS)], None, "no gasket"),
        ([("open", 0, 20, HANDS)], None, None),
        ([("open", 0, 0.01, HANDS), ("pour", 0.01, 0.2, HANDS), ("lid", 0.2, 0.6, HANDS)], 0.6, None),
        ([("open", 20, 10, HANDS), ("lid", 20, 30, HANDS)], 30, None),
        ([("open", 0, 10, HANDS), ("lid", 10, None, HANDS)], 30, None),
    ],
    ids=["given up", "goes on", "written down afterwards", "a clock that went back", "a step that was never done"],
)
def test_what_cannot_be_timed(
    connection: sqlite3.Connection,
    add: Add,
    diff: str,
    steps: list[Step],
    done: float | None,
    given_up: str | None,
) -> None:
    job(add, diff, steps, done=done, given_up=given_up)
    assert only(connection) is None


def test_from_five_builds_on_median_and_quartiles(connection: sqlite3.Connection, add: Add, diff: str) -> None:
    """Hands of 61, 40, 90, 44 and 50 min, waiting of 60, 30, 200, 40 and 50 min."""
    took = ((61, 60), (40, 30), (90, 200), (44, 40), (50, 50))
    for number, (hands, waits) in enumerate(took):
        assert BenchMinutes(connection).usual("rebuild") is None
        assert BenchMinutes(connection).still_needed("rebuild") == f"{number} of 5 builds"
        job(add, diff, [("all", 0, hands, HANDS), ("dry", hands, hands + waits, WAIT)], done=hands + waits)
    job(add, diff, [("all", 0, 10, HANDS)], done=10, kind="new")
    job(add, diff, [("all", 0, 10, HANDS)], done=10, kind="oil change")
    assert BenchMinutes(connection).usual("rebuild") == pytest.approx((50, 44, 61, 50, 5))
    assert BenchMinutes(connection).usual("new") is None


def test_waiting_needs_five_builds_of_its_own(connection: sqlite3.Connection, add: Add, diff: str) -> None:
    for _ in range(4):
        job(add, diff, [("all", 0, 40, HANDS), ("dry", 40, 70, WAIT)], done=70)
    job(add, diff, [("all", 0, 40, HANDS), ("dry", 40, None, WAIT)], done=40)
    usual = BenchMinutes(connection).usual("rebuild")
    assert usual is not None
    assert (usual.hands_min, usual.waiting_min, usual.builds) == (pytest.approx(40), None, 5)


@pytest.mark.parametrize("count", [2, 5, 6, 7, 8])
def test_quartiles_are_those_of_numpy(count: int) -> None:
    values = [float(one * one % 17) for one in range(count)]
    assert quartiles_of(values) == pytest.approx(tuple(np.quantile(values, [0.25, 0.5, 0.75], method="linear")))


def test_a_timed_build_says_which_job_it_was(connection: sqlite3.Connection, add: Add, diff: str) -> None:
    made = job(add, diff, [("all", 0, 40, HANDS)], done=40, kind="top-up")
    assert list(timed_builds(connection)) == [TimedBuild(made, "top-up", pytest.approx(40), 0.0)]
