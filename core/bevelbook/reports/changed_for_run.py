"""What is written already of changes in a car since its run before: another build at a place, other values."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from typing import NamedTuple

from bevelbook.facts.car_times import RunMoment, moment_of
from bevelbook.facts.car_values import ValueChange, differences, values_at
from bevelbook.reports import questions
from bevelbook.reports.diffs_for_run import DiffForRun


class NewBuild(NamedTuple):
    """A place with another build than in the run before, by their labels."""

    place: str
    before: str
    now: str


class ChangedForRun(NamedTuple):
    """What is different in a car since its run before."""

    builds: tuple[NewBuild, ...]
    values: tuple[ValueChange, ...]


def changed_for_run(
    connection: sqlite3.Connection, car: str | None, before: str | None, diffs: Iterable[DiffForRun], run: RunMoment
) -> ChangedForRun:
    """What is written of changes in a car (by id) between its run ``before`` (by id) and a new one, ``run``, with these
    diffs."""
    if before is None:
        return ChangedForRun((), ())
    there = {row["place"]: row for row in questions.diffs_in_runs(connection, [before])[before]}
    builds = tuple(
        NewBuild(one.place, there[one.place]["build_label"], one.diff["build_label"])
        for one in diffs
        if one.diff and one.diff["build"] and one.place in there and there[one.place]["build"] != one.diff["build"]
    )
    if car is None:
        return ChangedForRun(builds, ())
    values = differences(values_at(connection, car, moment_of(connection, before)), values_at(connection, car, run))
    return ChangedForRun(builds, tuple(values))
