"""A run on a day on which its diff was rebuilt: by the times of the day it was on the build before."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import NamedTuple

from bevelbook.entering.question import Question, Way
from bevelbook.facts.build_in_use import BuildInUse, RunOfDay, build_until, runs_of_day
from bevelbook.facts.day_order import minutes
from bevelbook.records import BY_NAME
from bevelbook.store.lookup import label_of


class RunTime(NamedTuple):
    """A run (by id; None if it is new) with its time of day and its place in the day, as far as they are known."""

    run: str | None
    started_at: str | None
    day_order: int | None


class Earlier(NamedTuple):
    """The build before, and why it is the one."""

    build: BuildInUse
    why: str


def earlier_build(
    connection: sqlite3.Connection, in_use: Sequence[BuildInUse], day: str, at: RunTime, field: str
) -> Earlier | None:
    """The build before those built on ``day`` if a run on it was at the time of this run or later; None if this run
    has neither time nor place in the day, or comes after all runs of the diff that are written for that day.

    Raises Question if the times leave open which build it was.
    """
    if not in_use or in_use[0].built_on != day or (minutes(at.started_at) is None and at.day_order is None):
        return None
    before = build_until(connection, in_use[0].diff, day)
    if before is None:
        return None
    newer = {build.id for build in in_use}
    runs = runs_of_day(connection, before.diff, day, at.run)
    turns = [(run, _is_after(at, run)) for run in runs]
    later = [run for run, is_after in turns if run.build == before.id and is_after is False]
    is_on_newer = any(is_after and run.build in newer for run, is_after in turns)
    if later and not is_on_newer:
        return Earlier(before, f"rebuilt on that day after {later[0].label}, so after this run too")
    if not later and (is_on_newer or all(is_after for _, is_after in turns)):
        return None
    labels = [before.label, *(build.label for build in in_use)]
    diff = label_of(connection, BY_NAME["diff"], before.diff)
    raise Question(
        f"{diff} was rebuilt on {day}, and the times of its runs leave open whether this run was before that",
        code="which_build_of_the_day",
        field=field,
        found=diff,
        answers=[Way(str(place), f"The run is of {one}", instead=one) for place, one in enumerate(labels, start=1)],
    )


def _is_after(at: RunTime, run: RunOfDay) -> bool | None:
    """Whether a time is after that of a run: by the places in the day, else by the times; None if neither is known."""
    if at.day_order is not None and run.day_order is not None:
        return at.day_order > run.day_order
    mine, its = minutes(at.started_at), minutes(run.started_at)
    return None if mine is None or its is None else mine > its
