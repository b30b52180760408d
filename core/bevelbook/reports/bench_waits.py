"""What goes on by itself at the bench: bubbles rising, a diff that rests on paper; until when."""

from __future__ import annotations

import sqlite3
from typing import Final, NamedTuple

LID_UP: Final = "lid up"
LID_DOWN: Final = "lid down"
"""How a diff rests on paper, as its step notes it."""


class OpenWait(NamedTuple):
    """A step of a job that was begun and has an end in time; ``until_at`` is in UTC, ``note`` what the step keeps.

    ``job_done_at`` is set where the job counts as done all the same.
    """

    job: str
    diff: str
    diff_label: str
    step: str
    title: str
    note: str
    until_at: str
    job_done_at: str | None


def open_waits(connection: sqlite3.Connection, build: str | None = None) -> list[OpenWait]:
    """The waits of the jobs that were not given up, the one that ends first before the others; of the job that made a
    build (by id), or of all. What a diff waited for before it came on the bench again is past."""
    rows = connection.execute(
        "SELECT j.id, d.id, d.label, s.step, s.title, coalesce(s.note, ''), s.until_at, j.done_at "
        "FROM bench_steps s JOIN bench_jobs j ON j.id = s.job JOIN diffs d ON d.id = j.diff "
        "WHERE s.until_at IS NOT NULL AND s.done_at IS NULL AND s.left_out IS NULL AND j.given_up IS NULL "
        "AND NOT EXISTS (SELECT 1 FROM bench_jobs l WHERE l.diff = j.diff AND l.begun_at > j.begun_at) "
        "AND coalesce(j.build = :build, :build IS NULL) ORDER BY s.until_at, s.id",
        {"build": build},
    ).fetchall()
    return [OpenWait(*row) for row in rows]
