"""What goes on by itself at the bench: bubbles rising, a diff that rests on paper; until when."""

from __future__ import annotations

import sqlite3
from typing import NamedTuple


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


def open_waits(connection: sqlite3.Connection) -> list[OpenWait]:
    """The waits of all jobs that were not given up, the one that ends first before the others."""
    rows = connection.execute(
        "SELECT j.id, d.id, d.label, s.step, s.title, coalesce(s.note, ''), s.until_at, j.done_at "
        "FROM bench_steps s JOIN bench_jobs j ON j.id = s.job JOIN diffs d ON d.id = j.diff "
        "WHERE s.until_at IS NOT NULL AND s.done_at IS NULL AND s.left_out IS NULL AND j.given_up IS NULL "
        "ORDER BY s.until_at, s.id"
    ).fetchall()
    return [OpenWait(*row) for row in rows]
