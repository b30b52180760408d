"""Whether what was put into a car was in it at a run: by day, then by time, by order in the day, or as it was written.

A change holds from the next run, which is also known where only that run and the one before the change have a time. A
run without a time that is written down on a later day than the change may have been before or after it: a person says.
"""

from __future__ import annotations

import sqlite3
from datetime import date, datetime
from typing import Final, NamedTuple

from bevelbook.facts.day_order import minutes, time_sql

BEFORE: Final = "before"
AFTER: Final = "after"
SWAP: Final = "swap"
"""The key beside the typed texts of a run under which it is kept what a person said about a swap of its day."""
MOMENT: Final = f"r.run_on, r.started_at, r.day_order, r.created_at, json_extract(r.entered, '$.{SWAP}')"
"""Columns of the row ``r`` of runs that say when it was."""


class RunMoment(NamedTuple):
    """When a run was: ``written_at`` is the stamp of a run that is written down, None for one being written now."""

    day: str
    started_at: str | None = None
    day_order: int | None = None
    written_at: str | None = None
    today: str | None = None
    """The day on which it is written, by the clock on the wall."""
    swap_said: str | None = None
    """Whether a person said that it was before or after what was changed last that day: ``before`` or ``after``."""
    later: frozenset[str] = frozenset()
    """When the change was written that the run was before, from :func:`before_last_change`."""


class FromWhen(NamedTuple):
    """From when on a change in a car holds: its own time, and what is known of the last run before it."""

    day: str
    at: str | None
    after_order: int | None
    written_at: str
    after_at: str | None = None
    """When that run was."""
    past_at: str | None = None
    """The latest time of that run and those written before it: the change was later."""
    used_at: str | None = None
    """The earliest time of a run that was written after the change: the change was earlier."""
    after_written: str | None = None
    """When that run was written down, if a person named it."""


def from_when_sql(change: str) -> str:
    """Columns of a row of ``car_diffs`` or ``car_values`` for :class:`FromWhen`; ``a`` is the run before it."""
    past = (
        f"(SELECT max({time_sql('o')}) FROM runs o "
        "WHERE o.car = a.car AND o.run_on = a.run_on AND o.created_at <= a.created_at)"
    )
    used = (
        f"(SELECT min({time_sql('o')}) FROM runs o WHERE o.car = a.car AND o.run_on = a.run_on "
        f"AND o.created_at > {change}.created_at AND {time_sql('o')} > coalesce({past}, '') "
        f"AND json_extract(o.entered, '$.{SWAP}') IS NOT '{BEFORE}')"
    )
    return (
        f"{change}.from_on, {change}.from_at, a.day_order, {change}.created_at, a.started_at, {past}, {used}, "
        f"CASE WHEN json_extract({change}.entered, '$.after_run') IS NOT NULL THEN a.created_at END"
    )


_OF_DAY: Final = f"""
SELECT {from_when_sql("c")} FROM car_diffs c LEFT JOIN runs a ON a.id = c.after_run
WHERE c.from_on = :day AND (c.car = :car OR c.diff IN (SELECT diff FROM car_diffs WHERE car = :car))
UNION ALL SELECT {from_when_sql("v")} FROM car_values v LEFT JOIN runs a ON a.id = v.after_run
WHERE v.from_on = :day AND v.car = :car
"""


def holds_at(change: FromWhen, run: RunMoment) -> bool | None:
    """Whether a change holds at a run; None if only a person knows."""
    if change.day != run.day:
        return change.day < run.day
    if change.written_at in run.later:
        return False
    by_place = _by_time_or_order(change, run)
    if by_place is not None:
        return by_place
    if run.written_at is not None:
        if run.swap_said is not None and change.written_at <= run.written_at:
            return True
        if change.after_written is not None:
            return change.after_written < run.written_at
        return change.written_at <= run.written_at
    if run.swap_said is not None:
        return True
    if change.used_at is not None and minutes(run.started_at) is not None:
        return None
    return True if run.today in (run.day, _local_day(change.written_at)) else None


def _by_time_or_order(change: FromWhen, run: RunMoment) -> bool | None:
    """Whether a change of the day of a run holds at it, where times or places in the day say so."""
    at, started = minutes(change.at), minutes(run.started_at)
    if at is not None and started is not None:
        return at <= started
    if change.after_order is not None and run.day_order is not None:
        return change.after_order < run.day_order
    if at is not None or started is None:
        return None
    after, past, used = minutes(change.after_at), minutes(change.past_at), minutes(change.used_at)
    if after is not None:
        return after < started
    if past is not None and started <= past:
        return False
    return True if used is not None and used <= started else None


def in_order(changes: list[FromWhen]) -> list[int]:
    """The places of the changes in time: by day, and within a day by their times or those of the runs before them.

    A change of which no time is known comes right after those that were written before it.
    """
    keys: dict[int, tuple[str, tuple[int, bool], int, str, int]] = {}
    reached: dict[str, tuple[int, bool]] = {}
    orders = dict.fromkeys({change.day for change in changes}, True)
    for change in changes:
        orders[change.day] = orders[change.day] and change.after_order is not None
    for place in sorted(range(len(changes)), key=lambda place: (changes[place].written_at, place)):
        change = changes[place]
        at, after = minutes(change.at), minutes(change.after_at or change.past_at)
        last = reached.get(change.day, (-1, False))
        time = (at, False) if at is not None else (after, True) if after is not None else last
        reached[change.day] = max(last, time)
        order = (change.after_order or 0) if orders[change.day] else 0
        keys[place] = (change.day, time, order, change.after_written or change.written_at, place)
    return sorted(keys, key=lambda place: keys[place])


def before_last_change(connection: sqlite3.Connection, car: str, run: RunMoment) -> RunMoment:
    """The moment of a run as one before what was changed last that day in a car (by id).

    Only a change counts of which nothing but a person says whether the run was before it. What is written with one
    command is one change.
    """
    unclear = _unclear(connection, car, run)
    return run._replace(later=frozenset({unclear[-1]})) if unclear else run


def unclear_changes(connection: sqlite3.Connection, car: str, run: RunMoment) -> int:
    """How many changes of the day of a run in a car (by id) may have been before it or after it."""
    return len(set(_unclear(connection, car, run)))


def _unclear(connection: sqlite3.Connection, car: str, run: RunMoment) -> list[str]:
    """When the changes were written of which only a person says whether the run was before them, in order of time."""
    changes = [FromWhen(*row) for row in connection.execute(_OF_DAY, {"car": car, "day": run.day})]
    return [
        change.written_at
        for change in (changes[place] for place in in_order(changes))
        if _is_unclear(change, run) and (run.written_at is None or change.written_at <= run.written_at)
    ]


def _is_unclear(change: FromWhen, run: RunMoment) -> bool:
    if run.swap_said is None:
        return holds_at(change, run) is None
    return _by_time_or_order(change, run) is None


def moment_of(connection: sqlite3.Connection, run: str) -> RunMoment:
    """When a run (by id) was, as it is written down."""
    row = connection.execute(f"SELECT {MOMENT} FROM runs r WHERE id = ?", (run,)).fetchone()
    return written_moment(*row)


def written_moment(
    day: str, started_at: str | None, day_order: int | None, written_at: str, swap_said: str | None
) -> RunMoment:
    """The moment of a run from the columns of ``MOMENT``."""
    return RunMoment(day, started_at, day_order, written_at, swap_said=swap_said)


def moment_of_new_run(
    day: str, started_at: str | None = None, day_order: int | None = None, *, noted_at: str | None = None
) -> RunMoment:
    """The moment of a run that is being written; ``noted_at`` is when it was noted, where that is not now. Of a run of
    that day only what was written of its car until then holds."""
    today = _local_day(noted_at) if noted_at else date.today().isoformat()
    written_at = noted_at if day == today else None
    return RunMoment(day, started_at, day_order, written_at=written_at, today=today)


def has_later_run(connection: sqlite3.Connection, car: str, run: RunMoment) -> bool:
    """Whether a car (by id) has a run that was surely after this one."""
    if connection.execute("SELECT 1 FROM runs WHERE car = ? AND run_on > ? LIMIT 1", (car, run.day)).fetchone():
        return True
    started = minutes(run.started_at)
    rows = connection.execute("SELECT started_at, day_order FROM runs WHERE car = ? AND run_on = ?", (car, run.day))
    for at, order in rows:
        other = minutes(at)
        if run.day_order is not None and order is not None and order > run.day_order:
            return True
        if started is not None and other is not None and other > started:
            return True
    return False


def _local_day(stamp: str) -> str:
    return datetime.fromisoformat(stamp.replace("Z", "+00:00")).astimezone().date().isoformat()
