"""Run a formula for a record, if the records have enough; what is missing is named, never guessed."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Iterable, Mapping
from decimal import Decimal
from typing import Any, Final, Generic, NamedTuple, TypeVar

from bevelbook.calculating.calculate import Answer, bind, work_out
from bevelbook.calculating.known import Subject, known_of
from bevelbook.declare.errors import BevelbookError, PluginFault
from bevelbook.declare.naming import InWords
from bevelbook.declare.sentence import in_terms_of
from bevelbook.kept_json import object_in
from bevelbook.plugin.calculator import Formula
from bevelbook.plugin.registry import Registry

GIVEN_ON: Final = "given on "
"""Start of the origin of an input that a person gave when the calculation was last kept."""

Known = Mapping[str, tuple[Any, str]]
G = TypeVar("G")
F = TypeVar("F")


class PutIn(NamedTuple):
    """An input that the records do not have under the formula's name, as text, with its origin."""

    text: str | list[str]
    origin: str


class Attempt(NamedTuple, Generic[G, F]):
    """The outcome of running a formula: an answer, or what is missing, or why it was refused."""

    title: str
    answer: Answer[G, F] | None = None
    lacking: tuple[str, ...] = ()
    refused: str | None = None
    fault: PluginFault | None = None
    """The fault of the formula itself, if that is why it was refused."""


def attempt(
    connection: sqlite3.Connection,
    formula: Formula[G, F],
    kept_as: Iterable[str],
    subject: Subject,
    *,
    more: Known | None = None,
    put_in: Mapping[str, PutIn] | None = None,
    never_default: Collection[str] = (),
) -> Attempt[G, F]:
    """Run a formula with the record as subject; never raises for missing or wrong values in the records.

    An input comes from ``put_in``, else from the record and those it refers to, else from ``more`` (by ``same_as``),
    else from what a person gave when it was last kept for the record (by a calculator of one of the names
    ``kept_as``), else its default, unless ``never_default`` names it. What is read off at the moment of the work is
    not taken from what was kept.
    """
    given = dict(put_in or {})
    fields = {field.name: field for field in formula.inputs}
    try:
        known = {**(more or {}), **known_of(connection, formula, [subject])}
        for name in kept_as:
            for one, kept in _kept_inputs(connection, formula, name, subject).items():
                if one not in given and one not in formula.read_now and fields[one].same_as not in known:
                    given[one] = kept
        present = {field.name for field in formula.inputs if field.name in given or field.same_as in known}
        lacking = _lacking(formula, present, never_default)
        if lacking:
            return Attempt(formula.title, lacking=lacking)
        bound = bind(formula, {one: value.text for one, value in given.items()}, known)
        bound.origins.update({one: value.origin for one, value in given.items()})
        return Attempt(formula.title, work_out(formula, bound))
    except BevelbookError as fault:
        fault.naming = InWords(formula.inputs)
        if fault.code == "missing_input" and fault.place.field in fields:
            return Attempt(formula.title, lacking=(fields[fault.place.field].words,))
        return Attempt(formula.title, refused=refusal(fault), fault=fault if isinstance(fault, PluginFault) else None)


def attempt_called(
    connection: sqlite3.Connection, registry: Registry, name: str, subject: Subject
) -> Attempt[Any, Any]:
    """The same for a calculator that a procedure names."""
    offered = registry.in_force(name)
    if offered is None:
        return Attempt(name, refused=f"no calculator {name} is loaded; 'bevelbook calculators' says why")
    return attempt(connection, offered.calculator, (offered.calculator.name,), subject)


def refusal(fault: BevelbookError) -> str:
    """Why it was refused and what to do, in words; for a plugin that failed, which and how."""
    if isinstance(fault, PluginFault):
        return fault.in_words()
    what, remedy = (in_terms_of(fault.naming, text) for text in (fault.what, fault.remedy or ""))
    return f"{what}. {remedy}".strip()


def _lacking(formula: Formula[Any, Any], present: set[str], never_default: Collection[str]) -> tuple[str, ...]:
    fields = {field.name: field for field in formula.inputs}
    missing = [one for one, field in fields.items() if one not in present and (field.required or one in never_default)]
    for choice in formula.one_of:
        groups: list[list[str]] = [[one for one in group if one not in present] for group in choice.groups]
        if all(groups):
            hand_made = [(len(group), not all(fields[one].same_as for one in group)) for group in groups]
            missing += groups[hand_made.index(min(hand_made))]
    return tuple(fields[one].words for one in dict.fromkeys(missing))


def _kept_inputs(
    connection: sqlite3.Connection, formula: Formula[Any, Any], name: str, subject: Subject
) -> dict[str, PutIn]:
    """What a person gave when this was last kept for the record; nothing from a damaged result."""
    row = connection.execute(
        "SELECT given, origins, calculated_at FROM latest_calculations "
        "WHERE calculator = ? AND subject_table = ? AND subject_id = ?",
        (name, subject.kind.table, subject.row_id),
    ).fetchone()
    if row is None:
        return {}
    values, origins = object_in(row[0]), object_in(row[1])
    if values is None or origins is None:
        return {}
    typed = {one: values.get(one) for one in (field.name for field in formula.inputs) if origins.get(one) == "given"}
    if not all(map(_can_be_typed, typed.values())):
        return {}
    return {
        one: PutIn(_text(value), f"{GIVEN_ON}{row[2][:10]}") for one, value in typed.items() if value not in (None, [])
    }


def _can_be_typed(value: object) -> bool:
    """Whether a kept value is a word or a number, or a list of records of such."""
    if isinstance(value, list):
        return all(
            isinstance(item, dict) and not any(isinstance(cell, (dict, list)) for cell in item.values())
            for item in value
        )
    return not isinstance(value, dict)


def _text(value: Any) -> str | list[str]:
    if isinstance(value, list):
        return [":".join(_cell(cell) for cell in item.values()).rstrip(":") for item in value]
    return _cell(value)


def _cell(value: Any) -> str:
    if isinstance(value, float):
        return format(Decimal(repr(value)), "f")
    return "" if value is None else str(value)
