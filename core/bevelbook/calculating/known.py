"""What the records know of the inputs of a formula: of the chosen records, and of the whole team."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any, Final, NamedTuple

from bevelbook.calculating.binding import LISTINGS, SUBJECTS, Value, answers, bound_rows, check_same_as, left_out
from bevelbook.calculating.calculate import Texts, said_texts
from bevelbook.calculating.dry_mass_input import with_dry_masses_that_hold
from bevelbook.calculating.expected_input import expected_of_forecast
from bevelbook.calculating.inputs_elsewhere import with_values_from_elsewhere
from bevelbook.calculating.named_origins import FORECAST_POSITION
from bevelbook.calculating.seal_input import known_of_seal, place_asked
from bevelbook.declare.errors import DeclarationError, UnknownNameError
from bevelbook.facts.in_turn import RUNS, in_turn, known_in_turn
from bevelbook.facts.openings import opened_words
from bevelbook.facts.place_of_diff import KnownPlace, place_in_run, place_of_build, place_of_diff
from bevelbook.formulas.left_out import LEFT_OUT
from bevelbook.plugin.calculator import Formula
from bevelbook.records import BY_NAME, Kind, kind_called
from bevelbook.store.lookup import find_id, label_of

PAIR: Final = 2
PLACES: Final = (FORECAST_POSITION, "run_diffs.position")
"""The origins of an input that takes where the diff is in the car."""


class Subject(NamedTuple):
    """The record that a calculation is for."""

    kind: Kind
    row_id: str
    label: str


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
        for _, values in rows_of_kind(connection, subject.kind, columns, subject.row_id):
            if place is not None:
                values |= known_of_seal(connection, subject.kind, subject.row_id, columns, place)
            for column, value in values.items():
                known.setdefault(column, value.known_of(subject.kind.name.replace("_", " "), subject.label))
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


def rows_of_kind(
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
    return bool(listings_of_team(formula))


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
    for name in listings_of_team(formula):
        if rows := answers(connection, name).get(None):
            known[name] = (rows, LISTINGS[name].about)
        first = formula.listing_in
        missing = left_out(connection, name) if first is not None and first.same_as == name else ()
        if missing:
            known[LEFT_OUT] = (tuple(one.advice for one in missing), "")
    return known


def listings_of_team(formula: Formula[Any, Any]) -> list[str]:
    named = (field.same_as for field in formula.inputs if field.kind == "listing")
    return [name for name in named if name in LISTINGS and LISTINGS[name].subject is None]


def columns_of(formula: Formula[Any, Any]) -> list[str]:
    """The columns that may give a formula's inputs. Raises PluginFault for a column that the store does not have."""
    columns = [field.same_as for field in formula.inputs if field.same_as]
    for column in columns:
        try:
            check_same_as(column)
        except DeclarationError as fault:
            raise formula.owner.fault(f"an input is the same as {fault.what}") from fault
    return columns
