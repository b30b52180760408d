"""Keep results as rows: one, or one for every record of a kind."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Any, Final, NamedTuple

from bevelbook.calculating.binding import LISTINGS, Value, answers
from bevelbook.calculating.calculate import Binder, Result, Texts, run
from bevelbook.calculating.kept_otherwise import (
    ITS_AUTHOR,
    MOST_SHOWN,
    BesideKept,
    KeptOtherwise,
    OtherFormula,
    other_formula,
    otherwise,
)
from bevelbook.calculating.known import Subject, columns_of, rows_of_kind
from bevelbook.calculating.named_origins import is_named_origin
from bevelbook.calculating.rows import ResultJson, RowWriter
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import InputError, PluginFault
from bevelbook.declare.naming import InWords
from bevelbook.declare.sentence import in_terms_of
from bevelbook.plugin.registry import Offered
from bevelbook.records import Kind
from bevelbook.store.calculation_views import ensure_views, kept_under
from bevelbook.store.calculations import COLUMNS, KeptThere, keep, kept_there
from bevelbook.store.lookup import label_of

FAULTS_TOLD_APART: Final = 20
"""Reasons of a batch up to which a plugin's failures are counted by how it failed: that may name a value."""
ALIKE_REMEMBERED: Final = 4096
"""Results that a batch caches for records with the same inputs, a few kilobytes each at most."""


class BatchReport(NamedTuple):
    """What a batch did: how many were computed, how many rows are new, and why the others were left out.

    ``fault`` is the first time that the calculator itself failed; the others are counted with it under ``left_out``.
    """

    computed: int
    new: int
    left_out: dict[str, int]
    fault: PluginFault | None = None
    otherwise: int = 0
    """Results that are kept already with other figures, or by another formula of this version."""
    first_otherwise: tuple[KeptOtherwise, ...] = ()
    other_formula: OtherFormula | None = None

    def lines_of_kept(self) -> Iterator[str]:
        """What to say of results that are kept otherwise, the first of them with their figures."""
        for one in self.first_otherwise:
            yield f"{one.words}."
        more = self.otherwise - len(self.first_otherwise)
        if more:
            yield f"The same of {counted(more, 'more result')}."
        if self.other_formula is not None:
            yield f"{self.other_formula.words}. {self.other_formula.remedy}"
        elif self.first_otherwise:
            yield ITS_AUTHOR

    def as_dict(self) -> dict[str, Any]:
        """The report for programs."""
        return {
            "computed": self.computed,
            "new": self.new,
            "left_out": self.left_out,
            "fault": self.fault.as_dict() if self.fault else None,
            "differing": self.otherwise,
            "differs": [one.as_dict() for one in self.first_otherwise],
            "kept_results_say": list(self.lines_of_kept()),
        }


class KeptResult(NamedTuple):
    """A result that was kept: its id, whether the row is new, and what is wrong where another is kept under its id."""

    row_id: str
    is_new: bool
    otherwise: KeptOtherwise | None = None

    @property
    def words(self) -> str:
        """What to say of one that is as it was found."""
        return f"{'Kept' if self.is_new else 'Known already'} as calculation {self.row_id}."

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        more = {"differs": self.otherwise.as_dict()} if self.otherwise is not None else {}
        return {"id": self.row_id, "new": self.is_new, **more}


def keep_result(
    connection: sqlite3.Connection, offered: Offered, result: Result, subject: Subject | None, by: str | None, now: str
) -> KeptResult:
    """Write one result inside the caller's transaction. A kept row is never changed, also where it is another one."""
    ensure_views(connection, offered.calculator)
    return keep_one(connection, RowWriter(offered, by, now), result, subject)


def keep_one(connection: sqlite3.Connection, writer: RowWriter, result: Result, subject: Subject | None) -> KeptResult:
    """The same with a writer at hand, where the views are there."""
    row = writer.row(writer.tell(result), subject and subject.kind.table, subject and subject.row_id)
    found: list[KeptOtherwise] = []

    def look(row: Sequence[object], there: KeptThere) -> None:
        one = otherwise(result.calculator, row, there, subject.label if subject else "")
        if one is not None:
            found.append(one)

    is_new = bool(keep(connection, [row], look))
    return KeptResult(str(row[0]), is_new, found[0] if found else None)


def said_beside(
    connection: sqlite3.Connection, offered: Offered, result: Result, subject: Subject | None
) -> BesideKept:
    """What to say beside a result that is only shown: that another is kept for the same inputs, or that results of this
    version were made by another formula."""
    if not kept_under(connection, offered.calculator.name):
        return BesideKept(None, None)
    writer = RowWriter(offered, None, "")
    row = writer.row(writer.tell(result), subject and subject.kind.table, subject and subject.row_id)
    there = kept_there(connection, [str(row[0])]).get(str(row[0]))
    label = subject.label if subject else ""
    differing = otherwise(offered.calculator, row, there, label) if there is not None else None
    return BesideKept(differing, other_formula(connection, offered.calculator))


def batch(
    connection: sqlite3.Connection, offered: Offered, kind: Kind, texts: Texts, by: str | None, clock: Callable[[], str]
) -> BatchReport:
    """Run one calculator over every record of a kind and keep each result, inside the caller's transaction.

    A record that lacks an input, or for which the formula is not valid, is left out and counted under the reason.
    Calculators are pure, and many records share their inputs: a result is reused for records with the same inputs.
    """
    calculator = offered.calculator
    columns = columns_of(calculator)
    taken = any(column.partition(".")[0] == kind.table for column in columns) or any(
        LISTINGS[one].subject == kind.name for one in columns if one in LISTINGS
    )
    if not taken and not (kind.name == "build" and any(map(is_named_origin, columns))):
        raise InputError(
            f"{calculator.name} takes nothing from {kind.table.replace('_', ' ')}",
            code="no_input_from_kind",
            remedy="Choose another kind of record.",
        )
    listings = {
        one: answers(connection, one) for one in columns if one in LISTINGS and LISTINGS[one].subject == kind.name
    }
    left_out: dict[str, int] = {}
    first_fault: PluginFault | None = None
    computed = 0
    differing = 0
    first_differing: list[KeptOtherwise] = []
    calculator.ready_for_many()
    binder, naming = Binder(calculator, texts), InWords(calculator.inputs)
    writer = RowWriter(offered, by, clock())

    def encode(known: Mapping[str, Value]) -> ResultJson:
        return writer.tell(run(calculator, binder.bind({column: one.known for column, one in known.items()})))

    @lru_cache(ALIKE_REMEMBERED)
    def encode_cached(known: tuple[tuple[str, Value], ...]) -> ResultJson:
        return encode(dict(known))

    def rows() -> Iterator[tuple[object, ...]]:
        nonlocal computed, first_fault
        for row_id, known in rows_of_kind(connection, kind, columns):
            listed = dict[str, Value]()
            for listing, by_subject in listings.items():
                if row_id in by_subject:
                    listed[listing] = Value(by_subject[row_id], LISTINGS[listing].about)
            try:
                encoded = encode(known | listed) if listed else encode_cached(tuple(known.items()))
            except (InputError, PluginFault) as fault:
                reason = in_terms_of(naming, fault.what)
                if isinstance(fault, PluginFault) and len(left_out) < FAULTS_TOLD_APART:
                    reason = f"{reason}: {fault.how}"
                left_out[reason] = left_out.get(reason, 0) + 1
                if isinstance(fault, PluginFault):
                    first_fault = first_fault or fault
                continue
            computed += 1
            yield writer.row(encoded, kind.table, row_id)

    def look(row: Sequence[object], there: KeptThere) -> None:
        nonlocal differing
        one = otherwise(calculator, row, there, "")
        if one is not None:
            differing += 1
            if len(first_differing) < MOST_SHOWN:
                label = label_of(connection, kind, str(row[COLUMNS.index("subject_id")]))
                first_differing.append(one._replace(label=label))

    ensure_views(connection, calculator)
    new = keep(connection, rows(), look)
    return BatchReport(
        computed, new, left_out, first_fault, differing, tuple(first_differing), other_formula(connection, calculator)
    )
