"""Which diff a new run of a car has at each place: as written for the car, else as in its run before."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Final, NamedTuple

from bevelbook.declare.vocabulary import POSITIONS
from bevelbook.facts.build_in_use import builds_in_use
from bevelbook.facts.car_diffs import InCar, in_cars, set_at_run
from bevelbook.facts.car_times import RunMoment
from bevelbook.facts.diffs import ON_THE_BENCH
from bevelbook.facts.sql import Row, rows
from bevelbook.reports import questions

_DIFF: Final = """
SELECT d.id AS diff, d.label AS diff_label, d.mark, b.id AS build, b.label AS build_label, f.label AS fluid_label,
       k.viscosity_cst, k.opened_on, s.reasons IS ? AS is_on_bench
FROM diffs d LEFT JOIN builds b ON b.id = ? LEFT JOIN build_facts k ON k.build = b.id
LEFT JOIN diff_facts s ON s.diff = d.id
LEFT JOIN fluids f ON f.id = b.fluid WHERE d.id = ?
"""


class DiffForRun(NamedTuple):
    """What a run has at a place: a diff, or ``instead`` of one a spool or the like.

    ``diff`` has label and mark, of the build in use, if there is one, label, oil and day of opening, and
    ``is_on_bench`` while it is worked on. ``in_car`` says since when that is written for the car, ``as_in_run`` is the
    label of the run before that had it: one of the two.
    """

    place: str
    diff: Row | None
    instead: str | None
    in_car: InCar | None = None
    as_in_run: str | None = None


def diffs_for_run(
    connection: sqlite3.Connection, car: str | None, before: str | None, run: RunMoment
) -> list[DiffForRun]:
    """What a new run of a car (by id) has at each place, the rear first; ``before`` is the run before it.

    A diff of the run before that was put into any car since, or ran in another, is left out.
    """
    found: dict[str, DiffForRun] = {}
    known: set[str] = set()
    if car is not None:
        at_run = set_at_run(connection, car, run)
        known = {*at_run.after, *at_run.left}
        for place, there in at_run.after.items():
            diff = _diff(connection, there.diff, run.day) if there.diff else None
            found[place] = DiffForRun(place, diff, there.instead, in_car=there)
    if before is not None:
        in_a_car = {there.diff for there in in_cars(connection).values() if there.diff is not None}
        for row in questions.diffs_in_runs(connection, [before])[before]:
            place = row["place"]
            is_elsewhere = row["diff"] in in_a_car or _ran_elsewhere(connection, row, car)
            if place is not None and place not in known and not is_elsewhere:
                diff = _diff(connection, row["diff"], run.day)
                found[place] = DiffForRun(place, diff, None, as_in_run=row["run_label"])
    return [found[place] for place in reversed(POSITIONS) if place in found]


def _diff(connection: sqlite3.Connection, diff: str, day: str) -> Row:
    """A diff with the build that is in use at the end of a day."""
    in_use = builds_in_use(connection, diff, day)
    return rows(connection, _DIFF, (ON_THE_BENCH, in_use[-1].id if in_use else None, diff))[0]


def _ran_elsewhere(connection: sqlite3.Connection, row: Mapping[str, object], car: str | None) -> bool:
    """Whether the diff of a row of a run was in a later run of another car."""
    later = connection.execute(
        "SELECT 1 FROM runs o CROSS JOIN runs r ON r.run_on >= o.run_on CROSS JOIN run_diffs x ON x.run = r.id "
        "CROSS JOIN builds b ON b.id = x.build WHERE o.id = :run AND b.diff = :diff AND r.id <> o.id "
        "AND r.car IS NOT :car AND (r.run_on > o.run_on OR r.created_at > o.created_at) LIMIT 1",
        {"run": row["run"], "diff": row["diff"], "car": car},
    ).fetchone()
    return later is not None
