"""Builds written down late: the build that their diff's records are under, and which build counts as the last."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from itertools import groupby
from operator import itemgetter
from typing import Final

from bevelbook.declare.counting import counted
from bevelbook.declare.in_command import command_of, in_command, words_of_command
from bevelbook.facts.builds import build_after, oldest_first
from bevelbook.facts.sql import Row, rows
from bevelbook.plugin.check import Finding, about_build
from bevelbook.records.kept_file_names import called_file_sql

_LATE: Final = f"""
SELECT b.diff, b.id AS build, b.label, n.label AS later, n.built_on, t.sort, t.day, {called_file_sql("nf")} AS file
FROM (
    SELECT w.build, 'weighing' AS sort, w.weighed_on AS day, w.note_file, w.id FROM {{of}} weighings w {{its}}
    UNION ALL SELECT w.build, 'opening', w.opened_on, w.note_file, w.id FROM {{of}} openings w {{its}}
    UNION ALL SELECT w.build, 'run', r.run_on, w.note_file, w.id FROM {{of}} run_diffs w {{its}}
    CROSS JOIN runs r ON r.id = w.run
) t
CROSS JOIN builds b ON b.id = t.build
CROSS JOIN builds n ON n.id = (
    SELECT next.id FROM builds next WHERE next.diff = b.diff AND next.built_on > b.built_on AND next.built_on < t.day
    ORDER BY {oldest_first("next")} LIMIT 1)
LEFT JOIN note_files nf ON nf.id = t.note_file
ORDER BY {oldest_first("b")}, t.sort, t.day, t.id
"""


def later_build_line(connection: sqlite3.Connection, build: str) -> str | None:
    """The hint for a build (by id) that is not the last of its diff; None for the last one."""
    after = build_after(connection, build)
    if after is None:
        return None
    label, day = connection.execute("SELECT label, built_on FROM builds WHERE id = ?", (build,)).fetchone()
    (later_day,) = connection.execute("SELECT built_on FROM builds WHERE id = ?", (after.id,)).fetchone()
    when = "of the same day was written down later" if later_day == day else f"of {later_day} is later"
    return (
        f"{label} is not the last build of its diff: {after.label} {when}. If it was, correct "
        f"the day: 'bevelbook record build {in_command(label)} built_on=...'."
    )


def late_records(connection: sqlite3.Connection, diff: str | None = None) -> Iterator[Finding]:
    """For each build with records dated after the next one of its diff: how many, and where they came from.

    For one diff (by id), without reading the records of others, or for all.
    """
    if diff is None:
        found = rows(connection, _LATE.format(of="", its=""))
    else:
        of = "(SELECT id FROM builds WHERE diff = :diff) c CROSS JOIN"
        found = rows(connection, _LATE.format(of=of, its="ON w.build = c.id"), {"diff": diff})
    for _, same in groupby(found, key=itemgetter("build")):
        yield _finding(list(same))


def _finding(late: list[Row]) -> Finding:
    first = late[0]
    counts = [(sort, len(list(same))) for sort, same in groupby(late, key=itemgetter("sort"))]
    summed = " and ".join(counted(count, sort) for sort, count in counts)
    files = sorted({row["file"] for row in late if row["file"] is not None})
    named = words_of_command(files)
    again = f"For notes: 'bevelbook import --again {named}', which sorts them by day. " if files else ""
    by_hand = command_of("record", counts[0][0].replace("run", "run-diff"), "ID", f"build={first['later']}")
    return about_build(
        first,
        "written_under_an_older_build",
        "worth a look",
        f"{summed} dated after {first['later']} was built ({first['built_on']}) "
        f"{'is' if len(late) == 1 else 'are'} still written under {first['label']}",
        f"{again}By hand: '{by_hand}'.",
    )
