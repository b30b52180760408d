"""Which diffs are on the bench: a job of theirs goes on."""

from __future__ import annotations

import sqlite3
from typing import Final, NamedTuple

IS_OPEN_JOB: Final = "j.done_at IS NULL AND j.given_up IS NULL"
"""Whether the job ``j`` goes on, as SQL."""
TICKED_OFF: Final = "as usual"
"""The note of a step that was ticked off together with others, and has no times of its own."""


def open_job_sql(diff: str, column: str) -> str:
    """A subquery for a column of the job that goes on with a diff, of several the one begun last; ``diff`` names its
    id in the query around."""
    return (
        f"(SELECT j.{column} FROM bench_jobs j WHERE j.diff = {diff} AND {IS_OPEN_JOB} "
        "ORDER BY j.begun_at DESC, j.id DESC LIMIT 1)"
    )


def given_up_sql(diff: str, build: str) -> str:
    """A subquery for why the job was given up that made a build of a diff; ``diff`` and ``build`` name their ids in the
    query around."""
    return (
        f"(SELECT j.given_up FROM bench_jobs j WHERE j.diff = {diff} AND j.build = {build} "
        "ORDER BY j.begun_at DESC, j.id DESC LIMIT 1)"
    )


class HalfBuilt(NamedTuple):
    """A build (by id) that a job at the bench goes on making, with the label of the build before; begun in UTC."""

    build: str
    label: str
    before: str | None
    begun_at: str


def half_built(connection: sqlite3.Connection, diff: str) -> HalfBuilt | None:
    """The build of a diff (by id) that lies half made on the bench; None if there is none."""
    row = connection.execute(
        "SELECT b.id, b.label, e.label, j.begun_at FROM bench_jobs j JOIN builds b ON b.id = j.build "
        f"LEFT JOIN builds e ON e.id = j.ends WHERE j.diff = ? AND {IS_OPEN_JOB} "
        "ORDER BY j.begun_at DESC, j.id DESC LIMIT 1",
        (diff,),
    ).fetchone()
    return None if row is None else HalfBuilt(*row)
