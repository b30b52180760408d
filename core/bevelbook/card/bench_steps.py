"""Which steps of a procedure a job at the bench has: by the kind of build, and by what is there already; and how far
each is, in words."""

from __future__ import annotations

import sqlite3
from typing import Final

from bevelbook.card.procedure import Procedure, ProcedureStep, steps_for
from bevelbook.display.clock import clock_in_words
from bevelbook.facts.bench import TICKED_OFF
from bevelbook.reports.bench import JobOnBench, NotedStep

_OPENS_IT: Final = frozenset({"openings.opened_on", "openings.closed_mass_g"})
"""What is written down when a closed diff is opened."""
_NEW_GEARS: Final = """
SELECT 1 FROM build_parts WHERE build = ? AND part IN ('side gear', 'small gear') AND condition = 'new' LIMIT 1
"""


def steps_of_job(connection: sqlite3.Connection, procedure: Procedure, job: JobOnBench) -> tuple[ProcedureStep, ...]:
    """The steps of a job in their order.

    Without a build before there is none to weigh, to open and to look into; one that was open before the job began is
    not opened again. New gears come in as soon as they are noted.
    """
    gears_are_new = job.build is not None and connection.execute(_NEW_GEARS, (job.build,)).fetchone() is not None
    steps = steps_for(procedure, job.kind, gears_are_new=gears_are_new)
    return tuple(step for step in steps if not _is_past(step, job))


def _is_past(step: ProcedureStep, job: JobOnBench) -> bool:
    if job.ends is None:
        return any(one.startswith("openings.") for one in step.write_down)
    return job.was_open and not _OPENS_IT.isdisjoint(step.write_down)


def step_words(noted: NotedStep) -> str:
    """How far a step is, such as ``14:10 to 14:12``."""
    if noted.left_out is not None:
        return f"left out: {noted.left_out}"
    begun, done = clock_in_words(noted.begun_at), clock_in_words(noted.done_at)
    if noted.done_at is None:
        until = f", until {clock_in_words(noted.until_at)}" if noted.until_at else ""
        return f"begun {begun}{until}"
    times = done if begun == done else f"{_without_day_of(begun, done)} to {done}"
    return f"{noted.note}, {times}" if noted.note == TICKED_OFF else times


def _without_day_of(begun: str, done: str) -> str:
    """The time alone where the day behind it is said once more.

    >>> _without_day_of("14:10 on 8 Aug", "14:12 on 8 Aug"), _without_day_of("23:50 on 7 Aug", "0:10 on 8 Aug")
    ('14:10', '23:50 on 7 Aug')
    """
    clock, _, day = begun.partition(" on ")
    return clock if day and done.endswith(f" on {day}") else begun
