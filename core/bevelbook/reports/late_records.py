"""Runs, weighings and openings that are written under a build although a later one of its diff had replaced it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from itertools import groupby
from operator import itemgetter
from typing import Final

from bevelbook.facts.builds import oldest_first
from bevelbook.facts.sql import Row, rows
from bevelbook.findings import Finding, about_build

_LATE: Final = f"""
SELECT b.diff, b.id AS build, b.label, n.label AS later, n.built_on, t.sort, t.day, nf.name AS file
FROM (
    SELECT w.build, 'weighing' AS sort, w.weighed_on AS day, w.note_file FROM weighings w
    UNION ALL SELECT o.build, 'opening', o.opened_on, o.note_file FROM openings o
    UNION ALL SELECT x.build, 'run', r.run_on, x.note_file FROM run_diffs x CROSS JOIN runs r ON r.id = x.run
) t
CROSS JOIN builds b ON b.id = t.build
CROSS JOIN builds n ON n.id = (
    SELECT next.id FROM builds next WHERE next.diff = b.diff AND next.built_on > b.built_on AND next.built_on < t.day
    ORDER BY {oldest_first("next")} LIMIT 1)
LEFT JOIN note_files nf ON nf.id = t.note_file
WHERE b.diff = coalesce(:diff, b.diff)
ORDER BY {oldest_first("b")}, t.sort, t.day
"""


def late_records(connection: sqlite3.Connection, diff: str | None = None) -> Iterator[Finding]:
    """One finding for each such build, of one diff (by id) or of all: how many records, and where they came from."""
    for _, same in groupby(rows(connection, _LATE, {"diff": diff}), key=itemgetter("build")):
        yield _finding(list(same))


def _finding(late: list[Row]) -> Finding:
    first = late[0]
    counts = [(sort, len(list(same))) for sort, same in groupby(late, key=itemgetter("sort"))]
    told = " and ".join(f"{count} {sort}{'s' if count != 1 else ''}" for sort, count in counts)
    files = sorted({row["file"] for row in late if row["file"] is not None})
    again = f"For notes: bevelbook import --again {' '.join(files)}, which sorts them by day. " if files else ""
    return about_build(
        first,
        "written_under_an_older_build",
        "worth a look",
        f"{told} dated after {first['later']} was built ({first['built_on']}) "
        f"{'is' if len(late) == 1 else 'are'} still written under {first['label']}",
        f"{again}By hand: bevelbook record {counts[0][0].replace('run', 'run-diff')} ID build={first['later']}.",
    )
