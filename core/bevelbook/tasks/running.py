"""Run a calculator for a record as far as the records know enough; what is missing is named, never guessed."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Collection, Mapping
from decimal import Decimal
from typing import Any, Final, NamedTuple

from bevelbook.calculators import Calculator
from bevelbook.errors import BevelbookError
from bevelbook.registry import Registry
from bevelbook.tasks.calculate import Result, bind, run
from bevelbook.tasks.keep import Subject, known_of

GIVEN_ON: Final = "given on "
"""How the origin of an input begins that a person gave when the calculation was last kept."""

Known = Mapping[str, tuple[Any, str]]


class PutIn(NamedTuple):
    """An input that the records do not hold under the calculator's name for it, as text, with where it came from."""

    text: str | list[str]
    origin: str


class Attempt(NamedTuple):
    """What came of running a calculator: a result, or what is lacking, or why it was refused."""

    name: str
    title: str
    result: Result | None = None
    lacking: tuple[str, ...] = ()
    refused: str | None = None


def attempt(
    connection: sqlite3.Connection,
    registry: Registry,
    name: str,
    subject: Subject,
    *,
    more: Known | None = None,
    put_in: Mapping[str, PutIn] | None = None,
    never_default: Collection[str] = (),
) -> Attempt:
    """Run a calculator with the record as subject; never raises for what the records lack or hold wrongly.

    An input comes from ``put_in``, else from the record and those it points to, else from ``more`` (by ``same_as``),
    else from what a person gave when this was last kept for the record, else its default, unless ``never_default``
    names it.
    """
    offered = registry.calculators.get(name)
    if offered is None:
        return Attempt(name, name, refused=f"no calculator {name} is loaded; 'bevelbook calculators' tells why")
    calculator = offered.calculator
    given = dict(put_in or {})
    try:
        known = {**(more or {}), **known_of(connection, offered, [subject])}
        for one, kept in _kept_inputs(connection, calculator, subject).items():
            field = next(field for field in calculator.inputs if field.name == one)
            if one not in given and field.same_as not in known:
                given[one] = kept
        present = {field.name for field in calculator.inputs if field.name in given or field.same_as in known}
        lacking = _lacking(calculator, present, never_default)
        if lacking:
            return Attempt(name, calculator.title, lacking=lacking)
        bound = bind(calculator, {one: value.text for one, value in given.items()}, known)
        bound.origins.update({one: value.origin for one, value in given.items()})
        return Attempt(name, calculator.title, run(calculator, bound))
    except BevelbookError as fault:
        words = [field.words for field in calculator.inputs if field.option == fault.place.column]
        if fault.code == "missing_input" and words:
            return Attempt(name, calculator.title, lacking=tuple(words))
        return Attempt(name, calculator.title, refused=f"{fault.what}. {fault.remedy or ''}".strip())


def _lacking(calculator: Calculator[Any, Any], present: set[str], never_default: Collection[str]) -> tuple[str, ...]:
    fields = {field.name: field for field in calculator.inputs}
    missing = [one for one, field in fields.items() if one not in present and (field.required or one in never_default)]
    for choice in calculator.one_of:
        groups: list[list[str]] = [[one for one in group if one not in present] for group in choice.groups]
        if all(groups):
            hand_made = [(len(group), not all(fields[one].same_as for one in group)) for group in groups]
            missing += groups[hand_made.index(min(hand_made))]
    return tuple(fields[one].words for one in dict.fromkeys(missing))


def _kept_inputs(
    connection: sqlite3.Connection, calculator: Calculator[Any, Any], subject: Subject
) -> dict[str, PutIn]:
    """What a person gave when this calculator was last kept for the record."""
    row = connection.execute(
        "SELECT given, origins, calculated_at FROM latest_calculations "
        "WHERE calculator = ? AND subject_table = ? AND subject_id = ?",
        (calculator.name, subject.kind.table, subject.row_id),
    ).fetchone()
    if row is None:
        return {}
    values, origins = json.loads(row[0]), json.loads(row[1])
    names = [field.name for field in calculator.inputs]
    return {
        name: PutIn(_text(values[name]), f"{GIVEN_ON}{row[2][:10]}")
        for name in names
        if origins.get(name) == "given" and values.get(name) not in (None, [])
    }


def _text(value: Any) -> str | list[str]:
    if isinstance(value, list):
        return [":".join(_cell(cell) for cell in item.values()).rstrip(":") for item in value]
    return _cell(value)


def _cell(value: Any) -> str:
    if isinstance(value, float):
        return format(Decimal(repr(value)), "f")
    return "" if value is None else str(value)
