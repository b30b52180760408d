"""Which diffs are on the bench: a job of theirs goes on."""

from __future__ import annotations

from typing import Final

IS_OPEN_JOB: Final = "j.done_at IS NULL AND j.given_up IS NULL"
"""Whether the job ``j`` goes on, as SQL."""


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
