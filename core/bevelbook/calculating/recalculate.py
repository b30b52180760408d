"""Keep results up to date: after a record is written, or notes came in, the calculators that declare it run again.

A calculator declares after which kinds of record (``kept_after``). It runs for every record that depends on the one
written, and its results are kept as rows like any other.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from bevelbook.calculating.binding import reachable
from bevelbook.calculating.calculate import Bound, Result, bind, run
from bevelbook.calculating.keep import keep_one
from bevelbook.calculating.kept_otherwise import MOST_SHOWN, KeptOtherwise
from bevelbook.calculating.known import Subject, known_of
from bevelbook.calculating.rows import RowWriter
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import BevelbookError, PluginFault
from bevelbook.display.format import wrapped
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.registry import Offered, Registry
from bevelbook.records import BY_NAME, Kind
from bevelbook.store.calculation_views import ensure_views
from bevelbook.store.calculations import reinstate
from bevelbook.store.ids import now_utc
from bevelbook.store.lookup import label_of
from bevelbook.store.schema import quoted

if TYPE_CHECKING:
    from bevelbook.plugin.elsewhere import Elsewhere

MOST: Final = 2_000
"""More records than this are left for a batch, so that a large import is not held up."""


class WorkedOut(NamedTuple):
    """One result that was kept for a record."""

    subject: Subject
    result: Result
    row_id: str
    new: bool
    otherwise: KeptOtherwise | None = None
    """What is wrong where it is kept already with other figures, or by another formula of that version."""

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
            **({"differs": self.otherwise.as_dict()} if self.otherwise else {}),
        }


class Failed(NamedTuple):
    """A calculator that failed, and the records for which it failed in the same way."""

    fault: PluginFault
    labels: tuple[str, ...]

    def line(self) -> str:
        """What is missing and why, for people."""
        more = f" and {len(self.labels) - 1} more" if len(self.labels) > 1 else ""
        return f"not worked out for {self.labels[0]}{more}: {self.fault}"

    def sentence(self) -> str:
        """The same for pages: with the bare name of the plugin's file, never its folder."""
        more = f" and {len(self.labels) - 1} more" if len(self.labels) > 1 else ""
        return f"Not worked out for {self.labels[0]}{more}: {self.fault.in_words()}"

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        return {**self.fault.as_dict(), "subjects": list(self.labels)}


class Upkeep(NamedTuple):
    """What was worked out, which calculators are left for a batch because too many records are touched, and which
    failed."""

    worked_out: tuple[WorkedOut, ...]
    waiting: tuple[tuple[str, str], ...]
    failed: tuple[Failed, ...] = ()

    def counts(self) -> dict[str, dict[str, int]]:
        """How many results of each calculator were kept, by verdict."""
        found: dict[str, dict[str, int]] = {}
        for one in self.worked_out:
            verdicts = found.setdefault(one.result.calculator.name, {})
            verdicts[one.result.verdict] = verdicts.get(one.result.verdict, 0) + 1
        return found

    def lines(self) -> Iterator[str]:
        """How much was worked out, and what is over a limit, for a terminal."""
        yield from self.count_lines()
        for one in self.over_a_limit():
            yield from wrapped(one.line(), indent="  ")
        yield from self.waiting_lines()

    def count_lines(self) -> Iterator[str]:
        """How much was worked out."""
        for name, verdicts in self.counts().items():
            counts = ", ".join(f"{count} {verdict}" for verdict, count in verdicts.items())
            yield f"Worked out and kept: {name} for {sum(verdicts.values())} ({counts})"

    def over_a_limit(self) -> list[WorkedOut]:
        """The results that are over a limit."""
        return [one for one in self.worked_out if one.result.verdict in ("caution", "stop")]

    def faults(self) -> list[dict[str, Any]]:
        """The calculators that failed, and the results that are kept otherwise, for programs."""
        return [*(one.as_dict() for one in self.failed), *(one.as_dict() for one in self.otherwise)]

    @property
    def otherwise(self) -> list[KeptOtherwise]:
        """The results that are kept already with other figures, or by another formula of their version."""
        return [one.otherwise for one in self.worked_out if one.otherwise is not None]

    def otherwise_lines(self) -> Iterator[str]:
        """What to say of these: some of each calculator, and how many more."""
        said: dict[str, int] = {}
        for one in self.otherwise:
            said[one.calculator] = said.get(one.calculator, 0) + 1
            if said[one.calculator] <= MOST_SHOWN:
                yield one.sentence()
        for name, count in said.items():
            if count > MOST_SHOWN:
                yield f"The same of {counted(count - MOST_SHOWN, 'more result')} of {name}."

    def sentences(self) -> Iterator[str]:
        """What went wrong, for pages."""
        yield from (one.sentence() for one in self.failed)
        yield from self.otherwise_lines()

    def waiting_lines(self) -> Iterator[str]:
        """What to run for the others."""
        for name, kind in self.waiting:
            yield f"More than {MOST:,} are new to {name}; for all: 'bevelbook calc {name} --all {kind}'"


def recalculate_for(
    connection: sqlite3.Connection, registry: Registry, kind_name: str, row_id: str, by: str | None, now: str
) -> Upkeep:
    """Work out again what depends on one record, inside the caller's transaction.

    A record that lacks an input is skipped; a calculator that is not loaded or fails does not stop the others. One that
    fails is named.
    """
    touched = Touched(BY_NAME[kind_name], "id", row_id)
    return _keep_up(
        connection,
        registry,
        ((offered, (touched,)) for offered in registry.kept_after() if kind_name in offered.calculator.kept_after),
        by,
        now,
    )


def recalculate_for_notes(connection: sqlite3.Connection, registry: Registry, note_file: str, by: str | None) -> Upkeep:
    """The same for the records from a file of notes, inside the import's transaction, after its facts."""
    return _keep_up(
        connection,
        registry,
        (
            (offered, [Touched(BY_NAME[name], "note_file", note_file) for name in offered.calculator.kept_after])
            for offered in registry.kept_after()
        ),
        by,
        now_utc(),
    )


def depending_on(
    connection: sqlite3.Connection, registry: Registry, records: Iterable[tuple[Kind, str]]
) -> dict[str, set[str]]:
    """The records that calculators would run for again after these were written, by the name of the calculator.

    Asked before records are removed, since nothing leads from a removed one to what depended on it.
    """
    found: dict[str, set[str]] = {}
    touched = [Touched(kind, "id", row_id) for kind, row_id in records]
    for offered in registry.kept_after():
        calculator = offered.calculator
        for one in touched:
            if one.kind.name in calculator.kept_after and len(found.get(calculator.name, ())) <= MOST:
                ids = subjects_of(connection, BY_NAME[calculator.of], calculator.kept_after, one)
                found.setdefault(calculator.name, set()).update(ids)
    return found


def recalculate_depending(
    connection: sqlite3.Connection, registry: Registry, depending: Mapping[str, Collection[str]], by: str | None
) -> Upkeep:
    """Work out again what :func:`depending_on` found and is still there, inside the caller's transaction."""
    return _keep_up(
        connection,
        registry,
        (
            (offered, [Touched(BY_NAME[offered.calculator.of], "id", one) for one in sorted(ids)])
            for offered in registry.kept_after()
            if (ids := depending.get(offered.calculator.name))
        ),
        by,
        now_utc(),
    )


class Touched(NamedTuple):
    """The records written: those of a kind with a value in a column."""

    kind: Kind
    column: str
    value: str


def subjects_of(connection: sqlite3.Connection, of: Kind, through: Collection[str], touched: Touched) -> list[str]:
    """The ids of the records of one kind that depend on those touched, at most one more than ``MOST``.

    These are the records themselves, those that refer to them, those they refer to, and those connected through a
    record of a kind in ``through`` (a build to the scale that it was weighed on, by the weighing).
    """
    asked = []
    for name in dict.fromkeys((of.name, touched.kind.name, *through)):
        joins = reachable(BY_NAME[name])
        if of.table in joins and touched.kind.table in joins:
            asked.append(
                f"SELECT {of.table}.id AS id FROM {BY_NAME[name].table} {' '.join(joins.values())} "
                f"WHERE {touched.kind.table}.{quoted(touched.column)} = :value AND {of.table}.id IS NOT NULL"
            )
    if not asked:
        return []
    sql = f"SELECT DISTINCT id FROM ({' UNION '.join(asked)}) ORDER BY id LIMIT :most"
    return [row[0] for row in connection.execute(sql, {"value": touched.value, "most": MOST + 1})]


def _keep_up(
    connection: sqlite3.Connection,
    registry: Registry,
    wanted: Iterable[tuple[Offered, Iterable[Touched]]],
    by: str | None,
    now: str,
) -> Upkeep:
    worked_out: list[WorkedOut] = []
    waiting: list[tuple[str, str]] = []
    failed: dict[tuple[str, str], Failed] = {}
    for offered, touched in wanted:
        calculator = offered.calculator
        kind = BY_NAME[calculator.of]
        ids = sorted(
            {row_id for one in touched for row_id in subjects_of(connection, kind, calculator.kept_after, one)}
        )
        if len(ids) > MOST:
            waiting.append((calculator.name, kind.name))
            continue
        subjects = [Subject(kind, row_id, label_of(connection, kind, row_id)) for row_id in ids]
        writer: RowWriter | None = None
        for subject, result in _results(connection, calculator, subjects, _elsewhere_of(registry, offered)):
            if isinstance(result, PluginFault):
                before = failed.get((result.what, result.how))
                labels = (*before.labels, subject.label) if before else (subject.label,)
                failed[result.what, result.how] = Failed(before.fault if before else result, labels)
            elif isinstance(result, Result):
                if writer is None:
                    ensure_views(connection, calculator)
                    writer = RowWriter(offered, by, now)
                worked_out.append(_kept(connection, writer, subject, result, by, now))
    return Upkeep(tuple(worked_out), tuple(waiting), tuple(failed.values()))


def _elsewhere_of(registry: Registry, offered: Offered) -> Elsewhere | None:
    """What calls a calculator while a record is stored; None for here, as for each that came with the program."""
    if offered.origin.is_bundled or registry.elsewhere_for_upkeep is None:
        return offered.calculator.elsewhere
    return offered.calculator.elsewhere or registry.elsewhere_for_upkeep()


def _results(
    connection: sqlite3.Connection,
    calculator: Calculator[Any, Any],
    subjects: Sequence[Subject],
    elsewhere: Elsewhere | None,
) -> Iterator[tuple[Subject, Result | BevelbookError]]:
    """The result for each record, or why there is none; of a calculator that runs elsewhere in one crossing."""
    bounds: list[tuple[Subject, Bound[Any]]] = []
    for subject in subjects:
        try:
            bound = bind(calculator, {}, known_of(connection, calculator, [subject]))
            if elsewhere is None:
                yield subject, run(calculator, bound)
            else:
                bounds.append((subject, bound))
        except BevelbookError as fault:
            yield subject, fault
    if elsewhere is not None and bounds:
        found = elsewhere.worked_out(calculator, [bound for _, bound in bounds])
        yield from zip((subject for subject, _ in bounds), found, strict=True)


def _kept(
    connection: sqlite3.Connection, writer: RowWriter, subject: Subject, result: Result, by: str | None, now: str
) -> WorkedOut:
    """The result for one record, kept."""
    before = connection.total_changes
    kept = keep_one(connection, writer, result, subject)
    latest = reinstate(connection, kept.row_id, now, by)
    return WorkedOut(subject, result, latest, connection.total_changes > before, kept.otherwise)
