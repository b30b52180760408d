"""What is still missing of an event once it is over: calls, temperatures, weighings; and its days, to be sent."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from itertools import groupby
from operator import itemgetter
from typing import Final, NamedTuple

from bevelbook.facts.day_order import first_run_first
from bevelbook.facts.places import PLACE, place_words
from bevelbook.facts.runs import RUNS_OF_A_RUN
from bevelbook.facts.same_day import was_before_sql
from bevelbook.facts.sql import Row, rows
from bevelbook.plugin.check import Finding
from bevelbook.reports.put_by import PutByFindings
from bevelbook.reports.race_events import DayOfEvent, days_of_event
from bevelbook.reports.runs_without_call import RunWithoutCall, runs_to_decide
from bevelbook.reports.to_finish import LEFT_EMPTY

TYPED_LATER: Final = ("air_temp_c", "track_temp_c")
"""Temperatures that somebody may still know in the evening."""
OF_DIFF: Final = "diff_temp_c"
"""The one that cannot be read any more: the diff has cooled."""
_RUNS: Final = f"""
SELECT r.id, r.label, r.run_on, v.name AS venue, r.air_temp_c, r.track_temp_c, x.id AS run_diff, x.diff_temp_c,
       b.label AS build, {PLACE} AS place
FROM runs r LEFT JOIN venues v ON v.id = r.venue LEFT JOIN run_diffs x ON x.run = r.id
LEFT JOIN builds b ON b.id = x.build LEFT JOIN diffs d ON d.id = b.diff
WHERE r.event = ? ORDER BY {first_run_first()}, r.id, x.position, x.id
"""
_RAN: Final = f"""
SELECT b.diff, d.label, b.id AS build, b.label AS build_label, {RUNS_OF_A_RUN} AS runs, EXISTS (
    SELECT 1 FROM weighings w WHERE w.build = b.id
    AND (w.weighed_on > r.run_on OR (w.weighed_on = r.run_on AND {was_before_sql("r", "w")}))
) AS is_weighed
FROM runs r CROSS JOIN run_diffs x ON x.run = r.id CROSS JOIN builds b ON b.id = x.build
CROSS JOIN diffs d ON d.id = b.diff CROSS JOIN diff_facts s ON s.diff = b.diff AND s.current_build = b.id
WHERE r.event = ? AND NOT EXISTS (SELECT 1 FROM openings o WHERE o.build = b.id)
ORDER BY d.label, d.id, b.id, x.id
"""


class WithoutTemperature(NamedTuple):
    """A run of which temperatures are missing: those that can still be typed, and the diffs that were not read, each by
    its place or its build."""

    run: str
    label: str
    day: str
    venue: str | None
    typed: tuple[str, ...]
    diffs: tuple[str, ...]

    @property
    def missing(self) -> tuple[str, ...]:
        """The fields that are empty."""
        return (*self.typed, *((OF_DIFF,) if self.diffs else ()))

    def finding(self, field: str) -> Finding:
        """That a temperature was not measured, as it is put by."""
        return Finding(
            code=LEFT_EMPTY,
            severity="worth a look",
            words=f"without {field}",
            remedy="Fill it in",
            subject_table="runs",
            subject_id=self.run,
            subject_label=self.label,
        )


class NotWeighed(NamedTuple):
    """A diff that ran and was not weighed since, with its build and the runs it did at the event."""

    diff: str
    label: str
    build: str
    build_label: str
    runs: float


class AfterEvent(NamedTuple):
    """All that is missing of an event, and its days with runs."""

    calls: tuple[RunWithoutCall, ...]
    temperatures: tuple[WithoutTemperature, ...]
    not_weighed: tuple[NotWeighed, ...]
    days: tuple[DayOfEvent, ...]

    @property
    def waiting(self) -> int:
        """How many things are missing."""
        return len(self.calls) + len(self.temperatures) + len(self.not_weighed)


def after_event(connection: sqlite3.Connection, event: str) -> AfterEvent:
    """What is missing of an event, by its id; a temperature that was not measured is not asked for again."""
    return AfterEvent(
        tuple(runs_to_decide(connection, {"event": event})),
        tuple(_temperatures(connection, event)),
        tuple(_not_weighed(connection, event)),
        tuple(days_of_event(connection, event)),
    )


def without_temperature(connection: sqlite3.Connection, event: str, run: str) -> WithoutTemperature | None:
    """One run of those; None where nothing of it is asked for any more."""
    return next((one for one in _temperatures(connection, event) if one.run == run), None)


def _temperatures(connection: sqlite3.Connection, event: str) -> Iterator[WithoutTemperature]:
    put_by = PutByFindings(connection)
    for _, same in groupby(rows(connection, _RUNS, (event,)), key=itemgetter("id")):
        of_run = list(same)
        first = of_run[0]
        found = WithoutTemperature(
            first["id"],
            first["label"],
            first["run_on"],
            first["venue"],
            tuple(name for name in TYPED_LATER if first[name] is None),
            tuple(_diff_words(row) for row in of_run if row["run_diff"] is not None and row[OF_DIFF] is None),
        )
        left = {field for field in found.missing if put_by.of(found.finding(field)) is None}
        found = found._replace(
            typed=tuple(field for field in found.typed if field in left), diffs=found.diffs if OF_DIFF in left else ()
        )
        if found.missing:
            yield found


def _diff_words(row: Row) -> str:
    return place_words(row["place"], None) or str(row["build"])


def _not_weighed(connection: sqlite3.Connection, event: str) -> Iterator[NotWeighed]:
    for _, same in groupby(rows(connection, _RAN, (event,)), key=itemgetter("build")):
        of_build = list(same)
        if not all(row["is_weighed"] for row in of_build):
            first = of_build[0]
            runs = sum(row["runs"] for row in of_build)
            yield NotWeighed(first["diff"], first["label"], first["build"], first["build_label"], runs)
