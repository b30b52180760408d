"""The demo: an invented team's two seasons put into a database, computed, and shown.

Rows of the files have ids made from their content, so that a second run finds everything there and changes nothing.
"""

from __future__ import annotations

import io
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing
from datetime import date
from pathlib import Path
from typing import Any, Final, NamedTuple

from bevelbook.calculating.calculate import Answer, Result, bind, run
from bevelbook.calculating.keep import batch, keep_result
from bevelbook.calculating.known import find_subject, known_of, known_of_team
from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.declare.in_command import in_command
from bevelbook.demo.files import (
    BENCH,
    NOTES,
    STOCK,
    CalculatorRun,
    DemoCalculators,
    calculators,
    file_bytes,
    holds_older_demo,
    note_file_id,
    settings_for,
    stranger,
    table_rows,
    values_of,
)
from bevelbook.facts.in_turn import in_turn
from bevelbook.formulas.lap_comparison import LAP_COMPARISON, LapComparisonFound
from bevelbook.formulas.lap_standing import LapComparisonGiven
from bevelbook.notes.importing import import_notes
from bevelbook.notes.report import Report
from bevelbook.planning.made_plan import MadePlan
from bevelbook.planning.plan import make_plan
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME, BY_TABLE, kind_called
from bevelbook.reports.oil_lost_builds import DecidedOnLoss, Lost, decided_lines, decided_on_lost_oil, lost_builds
from bevelbook.reports.runs_in_turn import compared
from bevelbook.reports.shelf import shelf_lines, shelf_rows
from bevelbook.store.book_mark import mark_of
from bevelbook.store.folder_aside import remove_left
from bevelbook.store.ids import now_utc
from bevelbook.store.invented_mark import mark_invented
from bevelbook.store.lookup import find_id
from bevelbook.store.opened_to_read import looking_into
from bevelbook.store.opening import new_database, open_for_writing, transaction
from bevelbook.store.record_names import with_kind
from bevelbook.store.writing import Writer

PLANNED_EVENT: Final = "quay race"
"""The event next to the last race, of which the plan is shown."""


class BackToBack(NamedTuple):
    """Two builds that one driver ran in turn, and the oils that name them."""

    a: str
    label_a: str
    b: str
    label_b: str


BACK_TO_BACK: Final = (
    BackToBack("rear-a/10", "5,000", "rear-c/6", "15,000"),
    BackToBack("rear-a/11", "7,000", "rear-c/7", "10,000"),
)


class KeptCount(NamedTuple):
    """What one calculator did with the records: how many were computed, how many are new, how many lack an input."""

    calculator: str
    of: str
    computed: int
    new: int
    left_out: dict[str, int]


class Compared(NamedTuple):
    """One comparison of two builds run in turn, with the day, place and grip."""

    days: tuple[str, ...]
    result: Answer[LapComparisonGiven, LapComparisonFound]


class DemoResult(NamedTuple):
    """What the demo did, and its results."""

    path: Path
    is_new: bool
    records: dict[str, int]
    reports: list[Report]
    kept: list[KeptCount]
    missing: list[str]
    shelf: list[dict[str, Any]]
    plan: MadePlan
    lost: list[Lost]
    decided: list[DecidedOnLoss]
    compared: list[Compared]
    worked_out: Result | None
    calculators: DemoCalculators
    can_try: bool
    """Whether the calculator to try is there."""

    @property
    def changed(self) -> bool:
        """Whether anything was written."""
        new = (*self.records.values(), *(one.added for one in self.reports), *(one.new for one in self.kept))
        return any(new)

    @property
    def ask_line(self) -> str:
        """What to ask next: the calculator named in the demo's file if it is loaded, else the check."""
        to_try = self.calculators.to_try
        if self.can_try:
            record = in_command(to_try.record)
            return f"Ask for one build:  bevelbook --db {self._typed} calc {to_try.calculator} --for {record}"
        return f"See what is up:     bevelbook --db {self._typed} check"

    @property
    def plan_line(self) -> str:
        """How to see all of the plan, what to pack too."""
        return f"The whole plan:     bevelbook --db {self._typed} plan {in_command(PLANNED_EVENT)}"

    @property
    def browse_line(self) -> str:
        return f"bevelbook --db {self._typed} serve"

    @property
    def _typed(self) -> str:
        return in_command(str(self.path))

    def as_dict(self) -> dict[str, Any]:
        """The demo for programs."""
        return {
            "database": str(self.path),
            "made": self.is_new,
            "changed": self.changed,
            "records_added": self.records,
            "imports": [one.as_dict() for one in self.reports],
            "calculations": [one._asdict() for one in self.kept],
            "calculators_missing": self.missing,
            "shelf": self.shelf,
            "plan": self.plan.as_dict(),
            "lost_oil": [one._asdict() for one in self.lost],
            "decided_on_lost_oil": [one._asdict() for one in self.decided],
            "comparisons": [{**one._asdict(), "result": one.result.as_dict()} for one in self.compared],
            "worked_out": self.worked_out.as_dict() if self.worked_out else None,
            "browse": self.browse_line,
        }

    def lines(self) -> Iterator[str]:
        """The demo for people."""
        from bevelbook.calculating.result_text import result_lines

        yield "Invented data: two seasons of a club team that does not exist."
        opening = f"Made {self.path}." if self.is_new else f"{self.path} holds the demo."
        yield opening if self.changed else f"{opening} Nothing was changed."
        added = ", ".join(f"{count} {table.replace('_', ' ')}" for table, count in self.records.items() if count)
        yield f"Records besides the notes: {added or 'all there already'}."
        yield from _headed("Notes imported", self._import_lines())
        yield from _headed("Calculated and kept", map(_kept_line, self.kept))
        yield from _headed("The shelf", shelf_lines(self.shelf))
        title, *planned = self.plan._replace(to_pack=()).lines()
        yield from _headed(title, planned)
        yield from _headed("Builds that lost oil", map(_lost_line, self.lost))
        yield from _headed("Oil changed on a diff that was not full", decided_lines(self.decided))
        yield from _headed("Run in turn", map(_compared_line, self.compared))
        if self.worked_out:
            yield from _headed(
                f"{self.worked_out.calculator.title} worked out, for {self.calculators.shown.record}",
                result_lines(self.worked_out, explain=True),
            )
        yield ""
        yield self.plan_line
        yield self.ask_line
        yield f"Browse it:          {self.browse_line}"

    def _import_lines(self) -> Iterator[str]:
        for report in self.reports:
            yield from report.lines()
        if any(report.rejected for report in self.reports):
            yield "Lines that were rejected or skipped are in the table note_rejects, with the reason."


def demo(
    path: Path,
    registry: Registry,
    by: str | None,
    *,
    asked: str = "demo",
    tell: Callable[[str], None] | None = None,
) -> DemoResult:
    """Make the demo's database, or use it unchanged. Raises DatabaseError if it holds anything else.

    ``tell`` is called with a line if opening an existing one says something: that it was brought to this version.
    """
    is_new = not path.exists()
    wanted = calculators()
    if not is_new:
        _refuse_others(path)
        remove_left(path.parent)
    connection = new_database(path, begin=mark_invented) if is_new else open_for_writing(path, tell=tell)
    with closing(connection):
        with transaction(connection, path, asked=asked, by=by):
            mark_invented(connection)
            mark_of(connection)
            records = _load(connection, STOCK, by)
        reports = [_import(connection, path, name, by, asked) for name in NOTES]
        with transaction(connection, path, asked=asked, by=by):
            records |= _load(connection, BENCH, by)
        with transaction(connection, path, asked=asked, by=by):
            kept = list(_calculate(connection, registry, wanted.kept, by))
            comparisons, kept_comparisons = _compare(connection, registry, by)
        if kept_comparisons:
            kept.append(kept_comparisons)
        return DemoResult(
            path,
            is_new,
            records,
            reports,
            kept,
            [name for name, _ in wanted.kept if name not in registry.calculators],
            shelf_rows(connection),
            make_plan(connection, registry, find_id(connection, BY_NAME["event"], PLANNED_EVENT), date.today()),
            lost_builds(connection)[::-1],
            decided_on_lost_oil(connection),
            comparisons,
            _worked_out(connection, registry, wanted.shown),
            wanted,
            wanted.to_try.calculator in registry.calculators,
        )


def _refuse_others(path: Path) -> None:
    """Raise DatabaseError if a database holds anything but this demo; it is only read, even an older one."""
    with looking_into(path) as connection:
        found, is_older = stranger(connection), holds_older_demo(connection)
    if found is not None:
        raise DatabaseError(
            "the demo goes into a database of its own, and this one holds something else",
            code="database_not_empty",
            place=Place(str(path)),
            found=with_kind(found.kind, found.label),
            remedy="Choose another name: 'bevelbook --db demo.db demo'. Nothing was changed.",
        )
    if is_older:
        raise DatabaseError(
            "this is an older demo, made by version 0.1.0, and this version makes another one",
            code="older_demo",
            place=Place(str(path)),
            remedy=f"Make a new one under another name: 'bevelbook --db {in_command(str(_free_name(path)))} demo'. "
            "Nothing was changed.",
        )


def _free_name(path: Path) -> Path:
    """A free name beside a file: ``demo-2.db`` beside ``demo.db``."""
    number = 2
    while (free := path.with_name(f"{path.stem}-{number}{path.suffix}")).exists():
        number += 1
    return free


def _load(connection: sqlite3.Connection, tables: tuple[str, ...], by: str | None) -> dict[str, int]:
    """Insert what is missing, inside the caller's transaction; returns how many rows of each table were new."""
    new: dict[str, int] = {}
    writer = Writer(connection, by)
    for table in tables:
        kind = BY_TABLE[table]
        held = {row[0] for row in connection.execute(f"SELECT id FROM {table}")}
        wanted = [row for row in table_rows(table) if row.id not in held]
        for row in wanted:
            writer.insert(kind, values_of(connection, kind, row), row_id=row.id)
        new[table] = len(wanted)
    return new


def _import(connection: sqlite3.Connection, path: Path, name: str, by: str | None, asked: str) -> Report:
    """Import a note file; one that is already there is only read, and its rows are known."""
    file_id = note_file_id(name)
    known = connection.execute("SELECT 1 FROM note_files WHERE id = ?", (file_id,)).fetchone() is not None
    content = io.BytesIO(file_bytes(name))
    report = import_notes(content, name, connection, path, settings_for(name), dry_run=known, by=by, asked=asked)
    report.dry_run = False
    return report


def _calculate(
    connection: sqlite3.Connection, registry: Registry, wanted: Iterable[tuple[str, str | None]], by: str | None
) -> Iterator[KeptCount]:
    """Run the calculators that are there over the records that they take their inputs from."""
    for name, kind_name in wanted:
        offered = registry.calculators.get(name)
        if offered is None:
            continue
        if kind_name is not None:
            kind = kind_called(kind_name)
            report = batch(connection, offered, kind, {}, by, now_utc)
            yield KeptCount(name, kind.table, report.computed, report.new, report.left_out)
        else:
            calculator = offered.calculator
            result = run(calculator, bind(calculator, {}, known_of_team(connection, calculator)))
            new = int(keep_result(connection, offered, result, None, by, now_utc()).is_new)
            yield KeptCount(name, "the whole team", 1, int(new), {})


def _compare(
    connection: sqlite3.Connection, registry: Registry, by: str | None
) -> tuple[list[Compared], KeptCount | None]:
    """Compare the builds that were run in turn, and keep the results if a calculator offers the comparison."""
    offered = next(iter(registry.resting_on(LAP_COMPARISON)), None)
    found, new = [], 0
    for one in BACK_TO_BACK:
        a, b = (find_subject(connection, f"build:{label}") for label in (one.a, one.b))
        runs = in_turn(connection, a.row_id, b.row_id)
        answer = compared(runs, one.label_a, one.label_b)
        if offered is not None:
            new += keep_result(connection, offered, Result(offered.calculator, answer), a, by, now_utc()).is_new
        found.append(Compared(runs.days, answer))
    kept = KeptCount(offered.calculator.name, "builds run in turn", len(found), new, {}) if offered else None
    return found, kept


def _worked_out(connection: sqlite3.Connection, registry: Registry, wanted: CalculatorRun) -> Result | None:
    """The result that is shown with its working."""
    offered = registry.calculators.get(wanted.calculator)
    if offered is None:
        return None
    calculator = offered.calculator
    subject = find_subject(connection, f"build:{wanted.record}")
    return run(calculator, bind(calculator, {}, known_of(connection, calculator, [subject])))


def _headed(head: str, lines: Iterable[str]) -> Iterator[str]:
    """A block under its heading; nothing if it has no lines."""
    found = list(lines)
    if found:
        yield ""
        yield head
        yield from (f"  {line}".rstrip() for line in found)


def _kept_line(one: KeptCount) -> str:
    lacking = sum(one.left_out.values())
    more = f"; {lacking} lack an input" if lacking else ""
    return f"{one.calculator} for {one.of.replace('_', ' ')}: {one.computed} computed, {one.new} new{more}"


def _lost_line(one: Lost) -> str:
    return f"{one.label}: {one.words} ({one.verdict})"


def _compared_line(one: Compared) -> str:
    return f"{'; '.join(one.days)}: {one.result.judgement.reasons[0]}"
