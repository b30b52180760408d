"""Every input of every calculator with every word that says there is no value: the same as an input left out.

Asked as an option of the command line, as a form sends it, as the cell of a table, as a part of a listing's item, and
beside what a record gives.
"""

from __future__ import annotations

import random
from functools import cache
from pathlib import Path
from typing import Any

from bevelbook.calculating.calculate import Bound, Texts, bind, run
from bevelbook.calculating.table_rows import TableRows
from bevelbook.declare.errors import BevelbookError, PluginFault
from bevelbook.declare.fields import Field, fields_of
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.registry import Registry, load

WORDS = (
    *("", " ", "-", "--", "---", "–", "—", "−", "‐", "―", "?", "??", "n/a", "N/A", "na", "NA", "none", "None", "NULL"),
    *("null", "nan", "NaN", "\u00a0", "\u200b", "\ufeff", '="n/a"', '"n/a"', "？", "\t", "\u202f-"),
)
TEXTS = frozenset(("text", "which_day", "reference"))
"""Kinds of which any other word is a text."""


@cache
def registry() -> Registry:
    return load()


def inputs() -> list[tuple[Calculator[Any, Any], Field]]:
    return [(one.calculator, field) for one in registry().calculators.values() for field in one.calculator.inputs]


def case(source: random.Random, folder: Path) -> str:
    """One input, one word, in one place."""
    calculator, field = source.choice(inputs())
    worked = source.choice(calculator.worked)
    word = source.choice(WORDS)
    if word.lower() in field.choices:
        return "a word of the input"
    given = {name: list(text) if isinstance(text, (list, tuple)) else text for name, text in worked.given.items()}
    without = {name: text for name, text in given.items() if name != field.name}
    known = {field.same_as: known_value(calculator, field)} if field.same_as and source.random() < 0.5 else {}
    if field.kind == "listing" and source.random() < 0.5:
        return part_case(source, calculator, field, given, word)
    typed: Texts = {**without, field.name: [word] if field.kind == "listing" else word}
    wanted = outcome(calculator, without, known)
    place = source.choice(("option", "table", "both"))
    if place == "option":
        found = outcome(calculator, typed, known)
    elif place == "table":
        found = table_outcome(calculator, without, {field.name: word}, known)
    else:
        # The cell says nothing, so that what holds for all rows counts.
        wanted = outcome(calculator, given, known)
        found = table_outcome(calculator, given, {f"{field.name}": word}, known)
    assert not isinstance(found, PluginFault), f"failed: {calculator.name} {field.name}={word!r}: {found}"
    if isinstance(wanted, BevelbookError):
        assert isinstance(found, BevelbookError), f"taken: {calculator.name} {field.name}={word!r} as {place}"
        if found.code != wanted.code:
            assert field.kind in TEXTS or (place == "table" and found.code == "missing_column"), (
                f"another error: {calculator.name} {field.name}={word!r} as {place}: {found} and not {wanted}"
            )
        return f"{place}: {wanted.code}"
    if isinstance(found, BevelbookError) or found != wanted:
        is_text = field.kind in TEXTS
        assert is_text, f"not left out: {calculator.name} {field.name}={word!r} as {place}: {found}, not {wanted}"
        return f"{place}: a text"
    return f"{place}: left out"


def known_value(calculator: Calculator[Any, Any], field: Field) -> tuple[Any, str]:
    """What a record would give: the value of the worked example, or of the default, or a sane one."""
    for worked in calculator.worked:
        if field.name in worked.given:
            value = getattr(bind(calculator, worked.given).given, field.name)
            if field.kind == "listing":
                names = [part.name for part in fields_of(field.item)]
                value = [{name: getattr(one, name) for name in names} for one in value]
            return value, "a record"
    if field.is_number:
        low, high = field.plausible or (field.minimum or 1.0, field.maximum or 2.0)
        return (low + high) / 2, "a record"
    return (field.choices[0] if field.choices else "2026-05-03"), "a record"


def part_case(
    source: random.Random, calculator: Calculator[Any, Any], field: Field, given: dict[str, Any], word: str
) -> str:
    """A part of an item says that there is no value: the part's own default, or a clear error."""
    items = list(given.get(field.name) or [])
    parts = fields_of(field.item)
    if not items or ":" in word:
        return "no item"
    at, place = source.randrange(len(items)), source.randrange(len(parts))
    pieces = items[at].split(":")
    pieces += [""] * (place + 1 - len(pieces))
    pieces[place] = word
    items[at] = ":".join(pieces)
    found = outcome(calculator, {**given, field.name: items}, {})
    assert not isinstance(found, PluginFault), f"failed: {calculator.name} {field.name}={items[at]!r}: {found}"
    part = parts[place]
    if isinstance(found, BevelbookError):
        return f"part: {found.code}"
    held = getattr(getattr(bind(calculator, {**given, field.name: items}).given, field.name)[at], part.name)
    assert part.kind in TEXTS or held == part.default, f"not the default: {calculator.name} {part.name} is {held!r}"
    assert not part.required or part.kind in TEXTS, f"taken without it: {calculator.name} {part.name}={word!r}"
    return "part: its default"


def outcome(calculator: Calculator[Any, Any], texts: Texts, known: dict[str, Any]) -> Any:
    """What was calculated of which inputs, or the error."""
    try:
        bound: Bound[Any] = bind(calculator, texts, known)
        return run(calculator, bound).as_dict()
    except BevelbookError as fault:
        return fault


def table_outcome(calculator: Calculator[Any, Any], texts: Texts, cells: dict[str, str], known: dict[str, Any]) -> Any:
    """The same where the inputs are cells of a table."""
    try:
        return TableRows(calculator, tuple(cells), texts, known).result(tuple(cells.values())).as_dict()
    except BevelbookError as fault:
        return fault
