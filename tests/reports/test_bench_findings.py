"""Work at the bench that goes on for over a day. Invented data."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime

from constructed import Add

from bevelbook.reports.before_next_time_out import before_next_time_out
from bevelbook.reports.bench_findings import bench_findings


def test_work_that_goes_on_for_over_a_day_is_said(connection: sqlite3.Connection, add: Add) -> None:
    diff = add("diff", label="rear-a")
    job = {"diff": diff, "kind": "rebuild", "way": "step by step"}
    add("bench_job", **job, begun_at="2026-05-10T12:10:00.000Z", at_step="Find the shims")
    add("bench_job", **job, begun_at="2026-05-09T12:10:00.000Z", given_up="no gasket")
    add("bench_job", **job, begun_at="2026-05-08T12:10:00.000Z", done_at="2026-05-08T13:10:00.000Z")
    assert not list(bench_findings(connection, datetime(2026, 5, 11, 12, 0, tzinfo=UTC)))
    (found,) = bench_findings(connection, datetime(2026, 5, 11, 12, 20, tzinfo=UTC))
    assert (found.code, found.subject_id) == ("bench_job_open", diff)
    assert found.words.startswith("on the bench for a rebuild since 2026-05-1")
    assert found.words.endswith(", at Find the shims")


def test_a_diff_on_the_bench_is_to_be_finished(connection: sqlite3.Connection, add: Add) -> None:
    diff = add("diff", label="rear-a")
    add("bench_job", diff=diff, kind="new", way="step by step", begun_at="2026-05-10T12:10:00.000Z", at_step="Wash")
    (job,) = before_next_time_out(connection)
    assert job.words.startswith("rebuild rear-a (on the bench since ")
    assert job.words.endswith(", at Wash): finish it there")
