"""Keep up to date what views and pages rest on: what a build lost, and how thick its oil was in a run.

After a record is written or notes came in, these calculators run for the builds and runs that it touches, and their
results are kept as rows like any other.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final, NamedTuple

from bevelbook.errors import BevelbookError
from bevelbook.records import BY_NAME
from bevelbook.registry import Registry
from bevelbook.store.calculations import hold_again
from bevelbook.store.finding import label_of
from bevelbook.store.opening import transaction
from bevelbook.store.writing import now_utc
from bevelbook.tasks.calculate import Result, bind, run
from bevelbook.tasks.keep import Subject, keep_result, known_of
from bevelbook.tasks.wording import wrapped

MOST: Final = 2_000
"""More records than these wait for a batch, so that a large import is not held up."""

_BUILDS: Final = {
    "build": "SELECT :id AS build",
    "weighing": "SELECT build FROM weighings WHERE id = :id",
    "opening": "SELECT build FROM openings WHERE id = :id",
    "run": "SELECT build FROM run_diffs WHERE run = :id",
    "run_diff": "SELECT build FROM run_diffs WHERE id = :id",
    "scale": "SELECT build FROM weighings WHERE scale = :id UNION SELECT build FROM openings WHERE scale = :id "
    "UNION SELECT id FROM builds WHERE scale = :id",
    "note_file": "SELECT build FROM weighings WHERE note_file = :id UNION SELECT build FROM run_diffs "
    "WHERE note_file = :id",
}
_RUNS: Final = {
    "build": "x.build = :id",
    "run": "x.run = :id",
    "run_diff": "x.id = :id",
    "bottle": "x.build IN (SELECT id FROM builds WHERE bottle = :id)",
    "fluid": "x.build IN (SELECT id FROM builds WHERE fluid = :id)",
    "note_file": "x.note_file = :id",
}


class WorkedOut(NamedTuple):
    """One result that was kept for a record."""

    subject: Subject
    result: Result
    row_id: str
    new: bool

    def line(self) -> str:
        """The result for people."""
        result = self.result
        reason = result.judgement.reasons[0] if result.judgement.reasons else ""
        sign = result.verdict.upper() if result.verdict == "stop" else result.verdict
        return f"{result.calculator.name} of {self.subject.label}: {sign}: {reason}"

    def as_dict(self) -> dict[str, Any]:
        """The result for programs."""
        return {
            "calculator": self.result.calculator.name,
            "subject": self.subject.label,
            "verdict": self.result.verdict,
            "reasons": list(self.result.judgement.reasons),
            "id": self.row_id,
            "new": self.new,
        }


class Upkeep(NamedTuple):
    """What was worked out, and which calculators wait for a batch because too many records are touched."""

    worked_out: tuple[WorkedOut, ...]
    waiting: tuple[tuple[str, str], ...]

    def counts(self) -> dict[str, dict[str, int]]:
        """How many results of each calculator were kept, by verdict."""
        found: dict[str, dict[str, int]] = {}
        for one in self.worked_out:
            verdicts = found.setdefault(one.result.calculator.name, {})
            verdicts[one.result.verdict] = verdicts.get(one.result.verdict, 0) + 1
        return found

    def lines(self) -> Iterator[str]:
        """How much was worked out, and what is over a limit."""
        for name, verdicts in self.counts().items():
            told = ", ".join(f"{count} {verdict}" for verdict, count in verdicts.items())
            yield f"Worked out and kept: {name} for {sum(verdicts.values())} ({told})"
        for one in self.worked_out:
            if one.result.verdict in ("caution", "stop"):
                yield from wrapped(one.line(), indent="  ")
        yield from self.waiting_lines()

    def waiting_lines(self) -> Iterator[str]:
        """What to run for the others."""
        for name, kind in self.waiting:
            yield f"More than {MOST:,} are new to {name}; for all: bevelbook calc {name} --all {kind}"


def keep_up(
    connection: sqlite3.Connection, registry: Registry, kind_name: str, row_id: str, by: str | None, now: str
) -> Upkeep:
    """Work out anew what hangs on one record, or on a file of notes. Stands inside the caller's transaction.

    A record that lacks an input is passed over; a calculator that is not loaded or that fails keeps nothing back.
    """
    worked_out: list[WorkedOut] = []
    waiting: list[tuple[str, str]] = []
    for name, subject_kind, sql in (
        ("leak-trend", "build", _weighed_builds(kind_name)),
        ("viscosity", "run_diff", _warm_runs(kind_name)),
    ):
        offered = registry.calculators.get(name)
        if offered is None or sql is None:
            continue
        ids = [row[0] for row in connection.execute(sql, {"id": row_id, "most": MOST + 1})]
        if len(ids) > MOST:
            waiting.append((name, subject_kind))
            continue
        kind = BY_NAME[subject_kind]
        for one in ids:
            subject = Subject(kind, one, label_of(connection, kind, one))
            try:
                result = run(offered.calculator, bind(offered.calculator, {}, known_of(connection, offered, [subject])))
            except BevelbookError:
                continue
            before = connection.total_changes
            kept, _ = keep_result(connection, offered, result, subject, by, now)
            latest = hold_again(connection, kept, now, by)
            worked_out.append(WorkedOut(subject, result, latest, connection.total_changes > before))
    return Upkeep(tuple(worked_out), tuple(waiting))


def keep_up_with_notes(
    connection: sqlite3.Connection,
    path: Path,
    registry: Registry,
    note_file: str,
    by: str | None,
    *,
    asked: str = "",
) -> Upkeep:
    """The same for the records of a file of notes, in a transaction of its own."""
    with transaction(connection, path, asked=asked, by=by):
        return keep_up(connection, registry, "note_file", note_file, by, now_utc())


def _weighed_builds(kind_name: str) -> str | None:
    touched = _BUILDS.get(kind_name)
    return touched and (
        f"SELECT DISTINCT build FROM ({touched}) touched WHERE EXISTS (SELECT 1 FROM weighings w "
        "WHERE w.build = touched.build) OR EXISTS (SELECT 1 FROM openings o WHERE o.build = touched.build "
        "AND o.closed_mass_g IS NOT NULL) ORDER BY build LIMIT :most"
    )


def _warm_runs(kind_name: str) -> str | None:
    touched = _RUNS.get(kind_name)
    return touched and (
        f"SELECT x.id FROM run_diffs x WHERE {touched} AND x.diff_temp_c IS NOT NULL ORDER BY x.id LIMIT :most"
    )
