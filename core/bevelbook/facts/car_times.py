"""Whether what was put into a car was in it at a run: by day, then by time, by order in the day, or as it was written.

A change holds from the next run. A run of the same day that is written down on a later day than the change may have
been before or after it: only its time or its place in the day says so, else a person.
"""

from __future__ import annotations

import re
import sqlite3
from datetime import datetime
from typing import Final, NamedTuple

BEFORE: Final = "before"
AFTER: Final = "after"
SWAP: Final = "swap"
"""The key beside the typed texts of a run under which it is kept what a person said about a swap of its day."""
MOMENT: Final = f"r.run_on, r.started_at, r.day_order, r.created_at, json_extract(r.entered, '$.{SWAP}')"
"""Columns of the row ``r`` of runs that say when it was."""
_TIME: Final = re.compile(r"\s*(\d{1,2})[:.](\d{2})")


class RunMoment(NamedTuple):
    """When a run was: ``written_at`` is the stamp of a run that is written down, None for one being written now."""

    day: str
    started_at: str | None = None
    day_order: int | None = None
    written_at: str | None = None
    today: str | None = None
    """The day on which it is written, by the clock on the wall."""
    swap_said: str | None = None
    """Whether a person said that it was before or after what was changed that day: ``before`` or ``after``."""


class FromWhen(NamedTuple):
    """From when on a change in a car holds: ``after_order`` is the place in the day of the last run before it."""

    day: str
    at: str | None
    after_order: int | None
    written_at: str


def minutes(time: str | None) -> int | None:
    """Minutes since midnight of ``14:05``; None for any other text.

    >>> minutes("14:05"), minutes("after lunch"), minutes("25:10")
    (845, None, None)
    """
    found = _TIME.match(time or "")
    if found is None:
        return None
    hour, minute = int(found[1]), int(found[2])
    return hour * 60 + minute if hour < 24 and minute < 60 else None


def holds_at(change: FromWhen, run: RunMoment) -> bool | None:
    """Whether a change holds at a run; None if only a person knows."""
    if change.day != run.day:
        return change.day < run.day
    at, started = minutes(change.at), minutes(run.started_at)
    if at is not None and started is not None:
        return at <= started
    if change.after_order is not None and run.day_order is not None:
        return change.after_order < run.day_order
    if run.swap_said is not None:
        return run.swap_said != BEFORE
    if run.written_at is not None:
        return change.written_at <= run.written_at
    return True if run.today in (run.day, _local_day(change.written_at)) else None


def in_order(changes: list[FromWhen]) -> list[int]:
    """The places of the changes in time: by day; within a day by time if all have one, else as they were written."""
    days: dict[str, bool] = {}
    for change in changes:
        days[change.day] = days.get(change.day, True) and minutes(change.at) is not None

    def key(place: int) -> tuple[str, int, str, int]:
        change = changes[place]
        return (change.day, (minutes(change.at) or 0) if days[change.day] else 0, change.written_at, place)

    return sorted(range(len(changes)), key=key)


def moment_of(connection: sqlite3.Connection, run: str) -> RunMoment:
    """When a run (by id) was, as it is written down."""
    row = connection.execute(f"SELECT {MOMENT} FROM runs r WHERE id = ?", (run,)).fetchone()
    return written_moment(*row)


def written_moment(
    day: str, started_at: str | None, day_order: int | None, written_at: str, swap_said: str | None
) -> RunMoment:
    """The moment of a run from the columns of ``MOMENT``."""
    return RunMoment(day, started_at, day_order, written_at, swap_said=swap_said)


def _local_day(stamp: str) -> str:
    return datetime.fromisoformat(stamp.replace("Z", "+00:00")).astimezone().date().isoformat()
