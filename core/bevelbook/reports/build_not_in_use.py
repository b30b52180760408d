"""Runs and weighings under a build that was not in use on their day: not built yet, opened, or replaced."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from itertools import groupby
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.in_command import command_of, in_command
from bevelbook.facts.builds import oldest_first
from bevelbook.facts.newest_builds import Among, all_builds
from bevelbook.plugin.check import Finding, about_build
from bevelbook.records import BY_NAME
from bevelbook.store.lookup import label_of

_OUT_OF_TIME: Final = f"""
SELECT b.id AS build, b.label AS build_label, b.built_on, k.opened_on, n.label AS later, n.built_on AS later_on,
       t.sort, t.record, t.label, t.day, d.label AS diff
FROM (
    SELECT w.build, 'weighing' AS sort, w.id AS record, w.id, w.id AS label, w.weighed_on AS day FROM weighings w
    UNION ALL SELECT x.build, 'run', x.id, r.id, r.label, r.run_on FROM run_diffs x JOIN runs r ON r.id = x.run
) t
CROSS JOIN builds b ON b.id = t.build
CROSS JOIN build_facts k ON k.build = b.id
CROSS JOIN diffs d ON d.id = b.diff
LEFT JOIN main.builds n ON n.id = (
    SELECT next.id FROM main.builds next
    WHERE next.diff = b.diff AND next.built_on > b.built_on AND next.built_on < t.day
    ORDER BY {oldest_first("next")} LIMIT 1)
WHERE (t.day < b.built_on OR t.day > k.opened_on OR n.id IS NOT NULL) {{more}}
ORDER BY {oldest_first("b")}, t.sort, t.day, t.label, t.record
"""


class OutOfTime(NamedTuple):
    """A run or weighing (``sort``) by its label, with the days of its build; ``record`` is the name of the row that
    names the build."""

    build: str
    build_label: str
    built_on: str
    opened_on: str | None
    later: str | None
    later_on: str | None
    sort: str
    record: str
    label: str
    day: str
    diff: str

    @property
    def is_after_opening(self) -> bool:
        """Whether the build had been opened by then, so that the diff was filled again, or the day is wrong."""
        return self.day >= self.built_on and self.opened_on is not None and self.day > self.opened_on

    @property
    def why(self) -> str:
        """What its build was on that day."""
        if self.day < self.built_on:
            return f"before {self.build_label} was built ({self.built_on})"
        if self.is_after_opening:
            return f"after {self.build_label} was opened ({self.opened_on})"
        return f"after {self.build_label} was replaced by {self.later} ({self.later_on})"

    @property
    def remedy(self) -> str:
        """What to write where its day is wrong, and where that is right."""
        day = "run_on" if self.sort == "run" else "weighed_on"
        owner = "run-diff" if self.sort == "run" else "weighing"
        again = ""
        if self.is_after_opening and self.later is None:
            words = (f"diff={self.diff}", f"built_on={self.opened_on}")
            new = command_of("record", "build", *words)
            again = f"If it was filled again and that was not written down, write that build: '{new} ...'. "
        return (
            f"{again}If the day is wrong, correct it: "
            f"'bevelbook record {self.sort} {in_command(self.label)} {day}=...'. "
            f"If the build is, name the right one: 'bevelbook record {owner} {in_command(self.record)} build=...'."
        )


def out_of_time_line(connection: sqlite3.Connection, table: str, record: str) -> str | None:
    """The hint for one run (``runs``), one diff in a run (``run_diffs``) or one weighing, by its id; else None."""
    found = _found(connection, "AND t.id = :id" if table == "runs" else "AND t.record = :id", record)
    reasons = list(dict.fromkeys(one.why for one in found))
    if not reasons:
        return None
    return f"This {found[0].sort} is dated {found[0].day}, {' and '.join(reasons)}. {found[0].remedy}"


def out_of_time_findings(connection: sqlite3.Connection, among: Among = all_builds) -> Iterator[Finding]:
    """For each build: how many runs and weighings are dated before it was built or after it was opened.

    Records dated after the next build are reported by ``late_records``, and not here.
    """
    of_build = groupby(
        (one for one in _found(connection, among=among) if one.later is None or one.day < one.built_on),
        key=lambda one: one.build,
    )
    for _, same in of_build:
        for why, alike in groupby(sorted(same, key=lambda one: one.why), key=lambda one: one.why):
            found = list(alike)
            counts = [(sort, len(list(those))) for sort, those in groupby(found, key=lambda one: one.sort)]
            summed = " and ".join(counted(count, sort) for sort, count in counts)
            days = f"{found[0].day}" if len(found) == 1 else f"from {min(one.day for one in found)} on"
            yield about_build(
                {"build": found[0].build, "label": found[0].build_label},
                "out_of_time",
                "worth a look",
                f"{summed} of it {'is' if len(found) == 1 else 'are'} dated {days}, {why}",
                found[0].remedy,
            )


def _found(
    connection: sqlite3.Connection, more: str = "", record: str | None = None, among: Among = all_builds
) -> list[OutOfTime]:
    cursor = connection.cursor()
    cursor.row_factory = None
    found = [
        OutOfTime(*row) for row in cursor.execute(among(_OUT_OF_TIME.format(more=more)), {"id": record}).fetchall()
    ]
    return [_named(connection, one) for one in found]


def _named(connection: sqlite3.Connection, one: OutOfTime) -> OutOfTime:
    """The same with names in place of ids."""
    name = label_of(connection, BY_NAME["run_diff" if one.sort == "run" else "weighing"], one.record)
    return one._replace(record=name, label=name if one.sort == "weighing" else one.label)
