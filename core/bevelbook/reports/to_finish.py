"""What the evening can still add: runs, builds and weighings of the last days with something left empty, work at the
bench that was left open, and papers to look at."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from typing import Final, NamedTuple

from bevelbook.facts.sql import Row, rows
from bevelbook.notes.rejected_rows import FileWithRejects, files_with_rejects
from bevelbook.plugin.check import Finding
from bevelbook.reports.bench import JobOnBench, open_jobs
from bevelbook.reports.bench_waits import OpenWait, open_waits
from bevelbook.reports.put_by import PutByFindings

DAYS: Final = 7
"""How many days back runs, builds and weighings are asked about; our own figure. Later nobody remembers."""
LEFT_EMPTY: Final = "left_empty"
"""The code under which a field of a record is put by that stays empty."""
LAP: Final = "best_lap_s"
OF_RUN: Final = (LAP, "grip", "changed", "call", "note")
"""What can be added to a run in the evening. The temperature of a diff cannot: it has cooled."""
_LAP_TIMES: Final = "r.best_lap_s IS NULL AND r.best_five_s IS NULL AND r.lap_times IS NULL"
_RUNS: Final = f"""
SELECT 'runs' AS table_name, r.id, r.label, r.run_on AS day, v.name AS where_,
       {", ".join(f"({_LAP_TIMES if field == LAP else f'r.{field} IS NULL'}) AS {field}" for field in OF_RUN)}
FROM runs r LEFT JOIN venues v ON v.id = r.venue
WHERE r.run_on BETWEEN ?1 AND ?2 AND r.note_file IS NULL
ORDER BY r.run_on DESC, r.day_order DESC, r.rowid DESC
"""
_BUILDS: Final = """
SELECT 'builds' AS table_name, b.id, b.label, b.built_on AS day, NULL AS where_, 1 AS closed_mass_g
FROM builds b JOIN diff_facts d ON d.current_build = b.id JOIN build_facts f ON f.build = b.id
WHERE b.built_on BETWEEN ?1 AND ?2 AND b.note_file IS NULL AND b.closed_mass_g IS NULL AND f.runs = 0
  AND b.filled_mass_g IS NOT NULL
  AND NOT EXISTS (SELECT 1 FROM openings o WHERE o.build = b.id)
  AND NOT EXISTS (SELECT 1 FROM bench_jobs j WHERE j.build = b.id AND j.done_at IS NULL AND j.given_up IS NULL)
ORDER BY b.built_on DESC, b.label, b.id
"""
_WEIGHINGS: Final = """
SELECT 'weighings' AS table_name, w.id, b.label, w.weighed_on AS day, NULL AS where_, 1 AS mass_basis, w.mass_g
FROM weighings w JOIN builds b ON b.id = w.build
WHERE w.weighed_on BETWEEN ?1 AND ?2 AND w.mass_basis IS NULL ORDER BY w.weighed_on DESC, b.label, w.id
"""


class LeftEmpty(NamedTuple):
    """A record of the last days with fields that can still be filled: the first of them is the first to ask for.

    ``mass_g`` is the reading of a weighing, ``venue`` where a run was.
    """

    table: str
    row_id: str
    label: str
    day: str
    fields: tuple[str, ...]
    venue: str | None = None
    mass_g: float | None = None

    def finding(self, field: str) -> Finding:
        """That a field is empty, as it is put by."""
        return Finding(
            code=LEFT_EMPTY,
            severity="worth a look",
            words=f"without {field}",
            remedy="Fill it in",
            subject_table=self.table,
            subject_id=self.row_id,
            subject_label=self.label,
        )

    def as_one(self) -> Iterator[Finding]:
        """All of them."""
        return map(self.finding, self.fields)


class ToFinish(NamedTuple):
    """All that waits for the evening: diffs that rest after their job was done, jobs that go on, records with something
    left empty, the newest first, and imported files with rejected rows."""

    papers: tuple[OpenWait, ...]
    jobs: tuple[JobOnBench, ...]
    records: tuple[LeftEmpty, ...]
    files: tuple[FileWithRejects, ...] = ()

    @property
    def waiting(self) -> int:
        """How many things there are."""
        return len(self.papers) + len(self.jobs) + len(self.records) + len(self.files)


def to_finish(connection: sqlite3.Connection, today: date) -> ToFinish:
    """What is left open at the end of a day; a field that was put by is not asked for again."""
    return ToFinish(
        tuple(wait for wait in open_waits(connection) if wait.job_done_at is not None),
        tuple(open_jobs(connection)),
        tuple(_records(connection, today)),
        tuple(files_with_rejects(connection)),
    )


def count_to_finish(connection: sqlite3.Connection, today: date) -> int:
    """How many things wait."""
    return to_finish(connection, today).waiting


def left_empty(connection: sqlite3.Connection, table: str, row_id: str, today: date) -> LeftEmpty | None:
    """One record of those; None where nothing of it is asked for any more."""
    return next((one for one in _records(connection, today) if (one.table, one.row_id) == (table, row_id)), None)


def _records(connection: sqlite3.Connection, today: date) -> Iterator[LeftEmpty]:
    put_by = PutByFindings(connection)
    between = ((today - timedelta(days=DAYS)).isoformat(), (today + timedelta(days=1)).isoformat())
    asked = ((_RUNS, OF_RUN), (_BUILDS, ("closed_mass_g",)), (_WEIGHINGS, ("mass_basis",)))
    for sql, fields in asked:
        for row in rows(connection, sql, between):
            found = _left_empty(row, fields)
            waiting = tuple(one for one in found.fields if put_by.of(found.finding(one)) is None)
            if waiting:
                yield found._replace(fields=waiting)


def _left_empty(row: Row, fields: Iterable[str]) -> LeftEmpty:
    empty = tuple(field for field in fields if row[field])
    return LeftEmpty(row["table_name"], row["id"], row["label"], row["day"], empty, row["where_"], row.get("mass_g"))
