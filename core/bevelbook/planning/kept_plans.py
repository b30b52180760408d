"""Plans that were kept, each with its lines in the order of work, and what was done of them since."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Any, Final, NamedTuple

from bevelbook.declare.vocabulary import LEAVE_IT
from bevelbook.entering.repetition import since
from bevelbook.facts.sql import Row, rows
from bevelbook.kept_json import object_in
from bevelbook.planning.done_since import AskedOfDiff, done_since

_PLANS: Final = """
SELECT p.id, p.event, e.name AS event_name, e.first_on, coalesce(e.last_on, e.first_on) AS last_on, p.made_at,
       w.name AS person, p.said
FROM plans p LEFT JOIN events e ON e.id = p.event LEFT JOIN people w ON w.id = p.person
"""
_LAST_FIRST: Final = "ORDER BY p.made_at DESC, p.id DESC LIMIT 1"
_LINES: Final = """
SELECT l.place, l.diff, d.label, d.mark, l.build, b.label AS build_label, l.car, c.name AS car_name, l.position, l.act,
       l.why, l.oil, l.runs_planned
FROM plan_lines l JOIN diffs d ON d.id = l.diff LEFT JOIN builds b ON b.id = l.build LEFT JOIN cars c ON c.id = l.car
WHERE l.plan = ? ORDER BY l.place, d.label, l.id
"""


class LineKept(NamedTuple):
    """A line of a kept plan. ``done`` says what was done of it since; empty where nothing was."""

    place: int
    diff: str
    label: str
    mark: str | None
    build: str | None
    build_label: str | None
    car: str | None
    car_name: str | None
    position: str | None
    act: str
    why: str | None
    oil: str | None
    runs_planned: float | None
    done: str

    @property
    def is_to_do(self) -> bool:
        """Whether there was something to do, and it was not done yet."""
        return self.act != LEAVE_IT and not self.done


class PlanInBook(NamedTuple):
    """A plan that was kept: its id, the event by id and name (None for one of today) with its last day, when (UTC) and
    by whom it was made, all of it as data, and its lines in the order of work, those with nothing to do last."""

    plan: str
    event: str | None
    event_name: str | None
    first_on: str | None
    last_on: str | None
    made_at: str
    person: str | None
    said: Mapping[str, Any]
    lines: tuple[LineKept, ...]

    @property
    def to_do(self) -> tuple[LineKept, ...]:
        """The lines that wait to be done, in the order of work."""
        return tuple(one for one in self.lines if one.is_to_do)

    @property
    def done(self) -> Mapping[str, str]:
        """What was done of it since, in words by diff (id)."""
        return {one.diff: one.done for one in self.lines if one.done}


def latest_plan(connection: sqlite3.Connection) -> PlanInBook | None:
    """The plan that was kept last, whatever it is for; None where none ever was."""
    return _plan(connection, f"{_PLANS} {_LAST_FIRST}")


def latest_plan_of(connection: sqlite3.Connection, event: str | None, *, but: str | None = None) -> PlanInBook | None:
    """The plan that was kept last for an event (by id), or of today where that is None; ``but`` is one that does not
    count."""
    return _plan(connection, f"{_PLANS} WHERE p.event IS ? AND p.id IS NOT ? {_LAST_FIRST}", event, but)


def kept_a_moment_ago(
    connection: sqlite3.Connection, event: str | None, asked: str, by: str | None, now: str
) -> str | None:
    """The id of the plan that the same command of the same person kept, where nothing was written since: its answer may
    never have been seen. ``now`` is the time as the database keeps it."""
    row = connection.execute(
        "SELECT p.id FROM main.plans p JOIN main.entries e ON e.id = p.version "
        "WHERE e.rowid = (SELECT max(rowid) FROM main.entries) AND p.event IS ? AND e.asked = ? AND e.made_by IS ? "
        "AND e.made_at >= ? ORDER BY p.id",
        (event, asked, by, since(now)),
    ).fetchone()
    return None if row is None else str(row[0])


def kept_plan(connection: sqlite3.Connection, plan: str) -> PlanInBook:
    """A kept plan by its id. Raises LookupError if it is gone."""
    found = _plan(connection, f"{_PLANS} WHERE p.id = ?", plan)
    if found is None:
        raise LookupError(plan)
    return found


def _plan(connection: sqlite3.Connection, sql: str, *given: str | None) -> PlanInBook | None:
    found = rows(connection, sql, given)
    if not found:
        return None
    row = found[0]
    of_plan = rows(connection, _LINES, (row["id"],))
    asked = {line["diff"]: AskedOfDiff(line["act"], line["build"]) for line in of_plan}
    done = done_since(connection, row["made_at"], asked)
    return PlanInBook(
        row["id"],
        row["event"],
        row["event_name"],
        row["first_on"],
        row["last_on"],
        row["made_at"],
        row["person"],
        object_in(row["said"]) or {},
        tuple(_line(line, done) for line in of_plan),
    )


def _line(row: Row, done: Mapping[str, str]) -> LineKept:
    return LineKept(**row, done=done.get(row["diff"], ""))
