"""A run or a weighing of a diff that lies half built on the bench: which build it was is asked."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence

from bevelbook.display.clock import clock_in_words, local_time
from bevelbook.entering.earlier_that_day import RunTime
from bevelbook.entering.question import Question, Way
from bevelbook.facts.bench import HalfBuilt, half_built
from bevelbook.facts.build_in_use import BuildInUse
from bevelbook.facts.day_order import minutes


def build_off_bench(
    connection: sqlite3.Connection,
    in_use: Sequence[BuildInUse],
    label: str,
    *,
    field: str,
    day: str | None,
    noun: str,
    at: RunTime | None,
    another: Way,
) -> str | None:
    """The label of the build before, for a run that by its time was before the diff (``label``) came on the bench; None
    where the build in use is not one that a job goes on making.

    Raises Question where the record may be of either.
    """
    if not in_use or noun == "opening":
        return None
    making = half_built(connection, in_use[-1].diff)
    if making is None or making.build not in {build.id for build in in_use}:
        return None
    if making.before is not None and at is not None and _was_before(making, day, at):
        return making.before
    done = "the work is done, it was closed and ran" if noun == "run" else "it was weighed as it is now, closed again"
    before = (
        [Way("1", f"The {noun} was before it came on the bench, as {making.before}", instead=making.before)]
        if making.before
        else []
    )
    raise Question(
        f"{label} is on the bench since {clock_in_words(making.begun_at)}, and {making.label} is not finished",
        code="diff_is_on_bench",
        field=field,
        found=label,
        answers=[
            *before,
            Way(str(len(before) + 1), f"The {noun} is of {making.label}: {done}", instead=making.label),
            another,
        ],
    )


def _was_before(making: HalfBuilt, day: str | None, at: RunTime) -> bool:
    """Whether a run of ``day`` was before the job began, by its time of day."""
    begun, started = local_time(making.begun_at), minutes(at.started_at)
    if begun is None or day is None:
        return False
    if day != begun.date().isoformat():
        return day < begun.date().isoformat()
    return started is not None and started < begun.hour * 60 + begun.minute
