"""How long a build of a kind takes the team, from what the bench noted: work of hands, and waiting, apart.

Timed is from when a step was begun to when it was done; what lies between two steps (coffee) is neither. Waiting is a
step that its procedure marks so, or that had an end in time; all others are hands. Where steps of one job overlap, time
counts once, and as hands where both went on. A step that was left out, or ticked off with others, has no time.

This project's own proposals: a build left over night is not timed, nor one that was written down afterwards (see
``NIGHT_HOURS``, ``NIGHT_MINUTES`` and ``SHORTEST_MINUTES``); a build in which a wait was ticked off with others is not,
as its waiting would count as work. New builds and rebuilds are apart: one of them is neither opened nor looked into.
Figures are given from ``LEAST_BUILDS`` on.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from itertools import groupby, pairwise
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.display.clock import local_time
from bevelbook.facts.bench import TICKED_OFF
from bevelbook.stats.quartiles import quartiles_of

LEAST_BUILDS: Final = 5
"""From so many timed builds of a kind on they say how long it takes."""
NIGHT_MINUTES: Final = 180.0
NIGHT_HOURS: Final = range(6)
"""Left over night: a step, or a gap between two, of three hours or more, of which some is between midnight and six in
the morning by the clock of this computer."""
SHORTEST_MINUTES: Final = 0.5
"""Where no step took as long as this, all of them were written down afterwards."""
_CLEANED_AND_DRIED: Final = "clean"
"""Of steps that do not say whether they wait: this one did both, so its build is not timed."""
_STEPS: Final = """
SELECT j.id, j.kind, j.done_at AS ended_at, s.step, s.begun_at, s.until_at, s.done_at, s.left_out, s.note, s.waits
FROM bench_jobs j JOIN bench_steps s ON s.job = j.id
WHERE j.done_at IS NOT NULL AND j.given_up IS NULL ORDER BY j.id, s.begun_at, s.id
"""


class TimedBuild(NamedTuple):
    """A build of a kind as the bench timed it; ``waiting_min`` is None where a wait has no end, or went on over
    night."""

    job: str
    kind: str
    hands_min: float
    waiting_min: float | None


class UsualMinutes(NamedTuple):
    """Minutes of a kind of build: of hands the median and the quartiles, of waiting the median; from so many builds.

    ``waiting_min`` is None where it was timed in fewer than ``LEAST_BUILDS``.
    """

    hands_min: float
    hands_low_min: float
    hands_high_min: float
    waiting_min: float | None
    builds: int


class BenchMinutes:
    """What the builds of the bench say of the next one, by kind."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._by_kind: dict[str, list[TimedBuild]] = {}
        for one in timed_builds(connection):
            self._by_kind.setdefault(one.kind, []).append(one)

    def timed(self, kind: str) -> int:
        """How many builds of a kind were timed."""
        return len(self._by_kind.get(kind, ()))

    def usual(self, kind: str) -> UsualMinutes | None:
        """How long a build of a kind usually takes; None under ``LEAST_BUILDS``."""
        found = self._by_kind.get(kind, [])
        if len(found) < LEAST_BUILDS:
            return None
        hands = quartiles_of([one.hands_min for one in found])
        waits = [one.waiting_min for one in found if one.waiting_min is not None]
        waiting_min = quartiles_of(waits).median if len(waits) >= LEAST_BUILDS else None
        return UsualMinutes(hands.median, hands.lower, hands.upper, waiting_min, len(found))

    def still_needed(self, kind: str) -> str:
        """How many builds were timed of those that a kind needs before it has figures, such as ``2 of 5 builds``."""
        return f"{self.timed(kind)} of {counted(LEAST_BUILDS, 'build')}"


def timed_builds(connection: sqlite3.Connection) -> Iterator[TimedBuild]:
    """The jobs of the bench that were done and can be timed, by id."""
    rows = [_Step(*row) for row in connection.execute(_STEPS).fetchall()]
    for job, steps in groupby(rows, key=lambda one: one.job):
        # Of two steps with one key, written on two laptops, the later counts, as it is shown.
        by_key = {one.key: one for one in steps}
        found = _timed(job, list(by_key.values()))
        if found is not None:
            yield found


class _Step(NamedTuple):
    job: str
    kind: str
    ended_at: str
    key: str
    begun_at: str
    until_at: str | None
    done_at: str | None
    left_out: str | None
    note: str | None
    waits: str | None

    @property
    def is_wait(self) -> bool:
        return self.waits == "yes" or self.until_at is not None


class _Span(NamedTuple):
    """From one instant to another."""

    begin: datetime
    end: datetime

    @property
    def minutes(self) -> float:
        return (self.end - self.begin).total_seconds() / 60.0

    @property
    def is_over_night(self) -> bool:
        """Whether it is three hours or more, some of it between midnight and six in the morning."""
        first, last = self.begin.astimezone(), self.end.astimezone()
        is_in_the_night = first.date() != last.date() or first.hour in NIGHT_HOURS
        return self.minutes >= NIGHT_MINUTES and is_in_the_night


def _timed(job: str, steps: Sequence[_Step]) -> TimedBuild | None:
    """A job with its minutes; None where they cannot be known."""
    ended_at = local_time(steps[0].ended_at)
    hands: list[_Span] = []
    waits: list[_Span] = []
    is_waiting_known = True
    for one in steps:
        if one.left_out is not None:
            continue
        if one.waits is None and one.key == _CLEANED_AND_DRIED:
            return None
        if one.note == TICKED_OFF:
            if one.waits != "no":
                return None
            continue
        if one.done_at is None:
            if not one.is_wait:
                return None
            is_waiting_known = False
            continue
        begin, end = local_time(one.begun_at), local_time(one.done_at)
        if begin is None or end is None or end < begin:
            return None
        (waits if one.is_wait else hands).append(_Span(begin, end))
    if ended_at is None or not any(one.minutes >= SHORTEST_MINUTES for one in hands):
        return None
    work = _joined(one for one in (*hands, *waits) if one.begin < ended_at)
    gaps = [_Span(before.end, after.begin) for before, after in pairwise(work)]
    if any(one.is_over_night for one in (*hands, *gaps)):
        return None
    for wait in waits:
        if wait.is_over_night:
            if wait.begin < ended_at:
                return None
            is_waiting_known = False
    hands_min = _minutes(hands)
    waiting_min = _minutes((*hands, *waits)) - hands_min if is_waiting_known else None
    return TimedBuild(job, steps[0].kind, hands_min, waiting_min)


def _minutes(spans: Iterable[_Span]) -> float:
    """The minutes that are in any of them, each counted once."""
    return sum(one.minutes for one in _joined(spans))


def _joined(spans: Iterable[_Span]) -> list[_Span]:
    """The same time in spans that do not touch, in their order."""
    found: list[_Span] = []
    for one in sorted(spans):
        if found and one.begin <= found[-1].end:
            found[-1] = _Span(found[-1].begin, max(found[-1].end, one.end))
        else:
            found.append(one)
    return found
