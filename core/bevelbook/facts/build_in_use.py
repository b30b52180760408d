"""Which build of a diff was in use on a day: the last one built until then."""

from __future__ import annotations

import sqlite3
from typing import NamedTuple

from bevelbook.facts.builds import newest_first


class BuildInUse(NamedTuple):
    """A build with its days: ``opened_on`` is None while it is closed."""

    id: str
    label: str
    diff: str
    built_on: str
    opened_on: str | None


_COLUMNS = "b.id, b.label, b.diff, b.built_on, (SELECT min(o.opened_on) FROM openings o WHERE o.build = b.id)"


def builds_in_use(connection: sqlite3.Connection, diff: str, day: str | None) -> list[BuildInUse]:
    """The build of a diff (by id) in use on a day; several, oldest first, if more than one was built on that day.

    Empty if none was built until then. Without a day: the last build. A build that was opened since counts as in use.
    """
    found = connection.execute(
        f"SELECT {_COLUMNS} FROM builds b WHERE b.diff = :diff AND (:day IS NULL OR b.built_on <= :day) "
        f"AND b.built_on >= (SELECT max(e.built_on) FROM builds e "
        f"WHERE e.diff = :diff AND (:day IS NULL OR e.built_on <= :day)) ORDER BY {newest_first('b')}",
        {"diff": diff, "day": day},
    ).fetchall()
    builds = [BuildInUse(*tuple(row)) for row in found]
    return builds[::-1] if builds and builds[0].built_on == day else builds[:1]


class RunOfDay(NamedTuple):
    """A run of a diff on one day, with the build that was in it and where it is in the day."""

    label: str
    build: str
    started_at: str | None
    day_order: int | None


def runs_of_day(connection: sqlite3.Connection, diff: str, day: str, but: str | None = None) -> list[RunOfDay]:
    """The runs of a diff (by id) on a day, without the run ``but``."""
    rows = connection.execute(
        "SELECT r.label, x.build, r.started_at, r.day_order FROM run_diffs x JOIN runs r ON r.id = x.run "
        "JOIN builds b ON b.id = x.build WHERE b.diff = ? AND r.run_on = ? AND r.id IS NOT ? ORDER BY r.label, x.id",
        (diff, day, but),
    )
    return [RunOfDay(*tuple(row)) for row in rows]


def build_until(connection: sqlite3.Connection, diff: str, day: str) -> BuildInUse | None:
    """The build of a diff (by id) with which a day began: None if there was none, or it was opened before that day."""
    row = connection.execute(
        f"SELECT {_COLUMNS} FROM builds b WHERE b.diff = ? AND b.built_on < ? ORDER BY {newest_first('b')} LIMIT 1",
        (diff, day),
    ).fetchone()
    found = BuildInUse(*tuple(row)) if row else None
    return None if found is None or (found.opened_on is not None and found.opened_on < day) else found


def build_with_days(connection: sqlite3.Connection, build: str) -> BuildInUse:
    """One build (by id) with its days."""
    return BuildInUse(*connection.execute(f"SELECT {_COLUMNS} FROM builds b WHERE b.id = ?", (build,)).fetchone())
