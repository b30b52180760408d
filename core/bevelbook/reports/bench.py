"""Work at the bench: a job with what it made, and when each of its steps was begun and done."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Final, NamedTuple

from bevelbook.facts.bench import IS_OPEN_JOB


class NotedStep(NamedTuple):
    """What is written down about a step: by its ``key``, when it was begun and done (UTC), or why it was left out.

    ``until_at`` is when a wait that belongs to it ends.
    """

    id: str
    key: str
    title: str
    begun_at: str
    until_at: str | None
    done_at: str | None
    left_out: str | None
    note: str | None

    @property
    def is_over(self) -> bool:
        """Whether it was done or left out."""
        return self.done_at is not None or self.left_out is not None


class JobOnBench(NamedTuple):
    """A job at the bench, records by id with their labels; ``steps`` are those that were begun, by key.

    ``ends`` is the build that was in the diff before, ``build`` the one that the job makes: None until a step needs it.
    ``like`` is the build that it is done like. ``was_open`` if the diff was open before the job began. Times are UTC.
    """

    id: str
    diff: str
    diff_label: str
    kind: str
    way: str
    like: str | None
    like_label: str | None
    ends: str | None
    ends_label: str | None
    opening: str | None
    build: str | None
    build_label: str | None
    person: str | None
    begun_at: str
    done_at: str | None
    given_up: str | None
    at_step: str | None
    was_open: bool
    steps: Mapping[str, NotedStep]

    @property
    def is_open(self) -> bool:
        """Whether it goes on: neither done nor given up."""
        return self.done_at is None and self.given_up is None


_JOBS: Final = """
SELECT j.id, j.diff, d.label, j.kind, j.way, j.like, l.label, j.ends, e.label, j.opening, j.build, b.label, p.name,
       j.begun_at, j.done_at, j.given_up, j.at_step, coalesce(o.created_at < j.begun_at, 0)
FROM bench_jobs j JOIN diffs d ON d.id = j.diff
LEFT JOIN builds l ON l.id = j.like LEFT JOIN builds e ON e.id = j.ends LEFT JOIN openings o ON o.id = j.opening
LEFT JOIN builds b ON b.id = j.build LEFT JOIN people p ON p.id = j.person
"""


def job_on_bench(connection: sqlite3.Connection, job: str) -> JobOnBench | None:
    """The job with that id; None if there is none."""
    return next(iter(_jobs(connection, "j.id = ?", job)), None)


def open_jobs(connection: sqlite3.Connection) -> list[JobOnBench]:
    """The jobs that go on, the one begun last first."""
    return _jobs(connection, IS_OPEN_JOB)


def jobs_ended(connection: sqlite3.Connection, most: int) -> list[JobOnBench]:
    """The last jobs that were done or given up, the one begun last first, at most so many."""
    return _jobs(connection, f"NOT ({IS_OPEN_JOB})", most=most)


def open_job_of(connection: sqlite3.Connection, diff: str) -> JobOnBench | None:
    """The job that goes on with a diff (by id); None if there is none."""
    return next(iter(_jobs(connection, f"j.diff = ? AND {IS_OPEN_JOB}", diff)), None)


def job_of_build(connection: sqlite3.Connection, build: str) -> JobOnBench | None:
    """The job that made a build (by id); None if it was not made at the bench."""
    return next(iter(_jobs(connection, "j.build = ?", build)), None)


def _jobs(connection: sqlite3.Connection, where: str, *given: str, most: int = -1) -> list[JobOnBench]:
    ordered = f"{_JOBS} WHERE {where} ORDER BY j.begun_at DESC, j.id DESC LIMIT {most}"
    rows = connection.execute(ordered, given).fetchall()
    return [JobOnBench(*(*row[:-1], bool(row[-1]), _steps(connection, row[0]))) for row in rows]


def _steps(connection: sqlite3.Connection, job: str) -> dict[str, NotedStep]:
    """The steps of a job by key; of two with one key, written on two laptops, the later."""
    rows = connection.execute(
        "SELECT id, step, title, begun_at, until_at, done_at, left_out, note FROM bench_steps WHERE job = ? "
        "ORDER BY begun_at, id",
        (job,),
    ).fetchall()
    return {row[1]: NotedStep(*row) for row in rows}


def records_of_step(connection: sqlite3.Connection, job: JobOnBench, key: str, table: str) -> list[str]:
    """The records about one of the job's builds in a table, by id, that a step wrote: in one entry with it, whatever
    was changed in either since. The one written last comes first."""
    noted = job.steps.get(key)
    if noted is None:
        return []
    first = (
        "iif(t.parents IS NULL, t.version, (SELECT h.version FROM history h WHERE h.table_name = :table "
        "AND h.row_id = t.id AND h.parents IS NULL ORDER BY h.id LIMIT 1))"
    )
    rows = connection.execute(
        f"SELECT t.id FROM {table} t WHERE t.build IN (:ends, :build) AND {first} IN (SELECT version FROM bench_steps "
        "WHERE id = :step UNION SELECT version FROM history WHERE table_name = 'bench_steps' AND row_id = :step) "
        "ORDER BY t.rowid DESC",
        {"table": table, "ends": job.ends, "build": job.build, "step": noted.id},
    )
    return [str(row[0]) for row in rows]
