"""Work at the bench that was begun over a day ago and neither done nor given up."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Final

from bevelbook.display.clock import local_time
from bevelbook.plugin.check import Finding
from bevelbook.reports.bench import open_jobs

AFTER: Final = timedelta(days=1)
"""How long a job may go on before it is said: our own figure."""


def bench_findings(connection: sqlite3.Connection, now: datetime | None = None) -> Iterator[Finding]:
    """The jobs that go on for over a day; ``now`` is the clock's, if not given."""
    before = (now or datetime.now(UTC)) - AFTER
    for job in open_jobs(connection):
        begun = local_time(job.begun_at)
        if begun is not None and begun < before:
            at = f", at {job.at_step}" if job.at_step else ""
            yield Finding(
                code="bench_job_open",
                severity="worth a look",
                words=f"on the bench for a {job.kind} since {begun:%Y-%m-%d %H:%M}{at}",
                remedy="Go on with it on the page Bench of 'bevelbook enter', or give it up there.",
                subject_table="diffs",
                subject_id=job.diff,
                subject_label=job.diff_label,
            )
