"""Keep results as rows: one, or one for every record of a kind."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Any, Final, NamedTuple

from bevelbook.calculating.binding import LISTINGS, SUBJECTS, Value, answers, bound_rows, check_same_as, left_out
from bevelbook.calculating.calculate import Binder, Result, Texts, run, said_texts
from bevelbook.calculating.dry_mass_input import with_dry_masses_that_hold
from bevelbook.calculating.expected_input import expected_of_forecast
from bevelbook.calculating.inputs_elsewhere import with_values_from_elsewhere
from bevelbook.calculating.kept_otherwise import (
    ITS_AUTHOR,
    MOST_SHOWN,
    BesideKept,
    KeptOtherwise,
    OtherFormula,
    other_formula,
    otherwise,
)
from bevelbook.calculating.named_origins import FORECAST_POSITION, is_named_origin
from bevelbook.calculating.rows import ResultJson, RowWriter
from bevelbook.calculating.seal_input import known_of_seal, place_asked
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import DeclarationError, InputError, PluginFault, UnknownNameError
from bevelbook.declare.naming import InWords
from bevelbook.declare.sentence import in_terms_of
from bevelbook.facts.in_turn import RUNS, in_turn, known_in_turn
from bevelbook.facts.openings import opened_words
from bevelbook.facts.place_of_diff import KnownPlace, place_in_run, place_of_build, place_of_diff
from bevelbook.formulas.left_out import LEFT_OUT
from bevelbook.plugin.calculator import Formula
from bevelbook.plugin.registry import Offered
from bevelbook.records import BY_NAME, Kind, kind_called
from bevelbook.store.calculation_views import ensure_views, kept_under
from bevelbook.store.calculations import COLUMNS, KeptThere, keep, kept_there
from bevelbook.store.lookup import find_id, label_of

PAIR: Final = 2
PLACES: Final = (FORECAST_POSITION, "run_diffs.position")
"""The origins of an input that takes where the diff is in the car."""
FAULTS_TOLD_APART: Final = 20
"""Reasons of a batch up to which a plugin's failures are counted by how it failed: that may name a value."""
ALIKE_REMEMBERED: Final = 4096
"""Results that a batch caches for records with the same inputs, a few kilobytes each at most."""


class Subject(NamedTuple):
    """The record that a calculation is for."""

    kind: Kind
    row_id: str
    label: str


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


def find_subject(connection: sqlite3.Connection, named: str) -> Subject:
    """The record named ``kind:name`` or ``name`` (then the first kind that has it). Raises UnknownNameError."""
    kind_name, colon, name = named.partition(":")
    if colon and kind_name.replace("-", "_") in BY_NAME:
        kind = kind_called(kind_name)
        row_id = find_id(connection, kind, name)
        return Subject(kind, row_id, label_of(connection, kind, row_id))
    missed: UnknownNameError | None = None
    for one in SUBJECTS:
        kind = BY_NAME[one]
        try:
            row_id = find_id(connection, kind, named)
        except UnknownNameError as fault:
            missed = missed or fault
            continue
        return Subject(kind, row_id, label_of(connection, kind, row_id))
    assert missed is not None
    raise missed


def known_of(
    connection: sqlite3.Connection, formula: Formula[Any, Any], subjects: list[Subject], texts: Texts | None = None
) -> dict[str, tuple[Any, str]]:
    """The values of a formula's inputs in the chosen records; the first subject with a value gives it.

    ``texts`` is what a person gave: the place of a seal decides which seal of a build is meant.
    """
    columns = columns_of(formula)
    texts = said_texts(formula, texts or {})
    place = place_asked(formula, texts)
    known: dict[str, tuple[Any, str]] = {}
    for subject in subjects:
        for _, values in _rows_of(connection, subject.kind, columns, subject.row_id):
            if place is not None:
                values |= known_of_seal(connection, subject.kind, subject.row_id, columns, place)
            record = f"{subject.kind.name.replace('_', ' ')} {subject.label}"
            for column, value in values.items():
                known.setdefault(column, value.known_of(record))
        for listing in columns:
            if listing in LISTINGS and LISTINGS[listing].subject == subject.kind.name:
                rows = answers(connection, listing, subject.row_id).get(subject.row_id)
                if rows:
                    known.setdefault(listing, (rows, f"{LISTINGS[listing].about}, {subject.label}"))
    builds = [subject.row_id for subject in subjects if subject.kind.name == "build"]
    if RUNS in columns and len(builds) == PAIR:
        known |= known_in_turn(in_turn(connection, *builds))
    place_known = _place_of(connection, subjects)
    if place_known is not None:
        for column in PLACES:
            known.setdefault(column, (place_known.position, place_known.origin))
    return known | known_of_team(connection, formula, texts, place_known and place_known.position)


def _place_of(connection: sqlite3.Connection, subjects: list[Subject]) -> KnownPlace | None:
    """Where the first of the subjects that is a diff, or is about one, is or was in a car."""
    look_up = {"run_diff": place_in_run, "build": place_of_build, "diff": place_of_diff}
    for name, place_of in look_up.items():
        for subject in subjects:
            if subject.kind.name == name and (found := place_of(connection, subject.row_id)) is not None:
                of = f"build {found.build}" if found.build else f"{name.replace('_', ' ')} {subject.label}"
                return found._replace(origin=f"{found.origin}, {of}")
    return None


def _rows_of(
    connection: sqlite3.Connection, kind: Kind, columns: list[str], row_id: str | None = None
) -> Iterator[tuple[str, dict[str, Value]]]:
    """One record (by id) or all of a kind, with what is known of the columns: the masses that hold, the last runs."""
    found = bound_rows(connection, kind, columns, row_id)
    dry = with_dry_masses_that_hold(connection, kind, columns, found, row_id)
    return with_values_from_elsewhere(connection, kind, columns, dry, row_id)


def when_opened(connection: sqlite3.Connection, subjects: list[Subject]) -> dict[str, str]:
    """How long ago the builds among these were open, in words, by their labels."""
    return {one.label: opened_words(connection, one.row_id) for one in subjects if one.kind.name == "build"}


def asks_the_team(formula: Formula[Any, Any]) -> bool:
    """Whether a listing of the formula can be filled from the whole team's records."""
    return bool(_listings_of_team(formula))


def known_of_team(
    connection: sqlite3.Connection,
    formula: Formula[Any, Any],
    texts: Texts | None = None,
    position: str | None = None,
) -> dict[str, tuple[Any, str]]:
    """The listings that the whole team's records fill, what they leave out of the first, and what they let expect.

    ``texts`` is what a person gave, a forecast among it; ``position`` is where the diff is if that does not say so.
    """
    known = expected_of_forecast(connection, formula, said_texts(formula, texts or {}), position)
    for name in _listings_of_team(formula):
        if rows := answers(connection, name).get(None):
            known[name] = (rows, LISTINGS[name].about)
        first = formula.listing_in
        missing = left_out(connection, name) if first is not None and first.same_as == name else ()
        if missing:
            known[LEFT_OUT] = (tuple(one.advice for one in missing), "")
    return known


def _listings_of_team(formula: Formula[Any, Any]) -> list[str]:
    named = (field.same_as for field in formula.inputs if field.kind == "listing")
    return [name for name in named if name in LISTINGS and LISTINGS[name].subject is None]


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
        for row_id, known in _rows_of(connection, kind, columns):
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


def columns_of(formula: Formula[Any, Any]) -> list[str]:
    """The columns that may give a formula's inputs. Raises PluginFault for a column that the store does not have."""
    columns = [field.same_as for field in formula.inputs if field.same_as]
    for column in columns:
        try:
            check_same_as(column)
        except DeclarationError as fault:
            raise formula.owner.fault(f"an input is the same as {fault.what}") from fault
    return columns
