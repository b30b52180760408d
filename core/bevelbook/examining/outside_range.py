"""Far outside its range a calculator says so: it refuses, adds a finding, or judges otherwise."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from math import isfinite
from typing import Any, Final

from bevelbook.calculating.calculate import Bound, Result, run
from bevelbook.declare.errors import BevelbookError, PluginFault
from bevelbook.declare.fields import Field, fields_of, items_of
from bevelbook.examining.calling import Calls
from bevelbook.examining.declared_lines import DeclaredLines
from bevelbook.plugin.calculator import Calculator
from bevelbook.reading import ReadingError, implausible
from bevelbook.reading.numbers import check_bounds, unit_in_words

FACTORS: Final = (1000.0, 0.001, -1.0, 0.0)
"""How far each input is moved, one at a time."""


def examine_outside(
    calculator: Calculator[Any, Any], bound: Bound[Any], result: Result, declared: DeclaredLines, calls: Calls
) -> None:
    """Move one number at a time far out, from a worked example that goes through."""
    says: dict[str, bool] = {}
    named: set[tuple[str | None, int | None]] = set()
    for field, value, given in _moved(calculator, bound):
        says.setdefault(field.name, False)
        if given is None:
            says[field.name] = True
            continue
        found = calls.make(f"compute far out, at {field.name} {value:g},", partial(run, calculator, given))
        if isinstance(found, PluginFault):
            place = calls.place_of(found, declared.calculator(calculator.name))
            if (place.file, place.line) not in named:
                named.add((place.file, place.line))
                calls.add(
                    "fails_outside",
                    f"at {field.words} {value:g} {unit_in_words(field)}".rstrip() + f" it fails: {found.how}",
                    f'Where the formula breaks, raise refuse(given, "{field.name}", ..., remedy=...), or give '
                    f"{field.name} bounds.",
                    place,
                )
        says[field.name] |= isinstance(found, BevelbookError) or _says_more(found, result)
    silent = [name for name, has_said in says.items() if not has_said]
    if says and len(silent) == len(says):
        calls.add(
            "silent_outside",
            "a thousand times too much or too little of any input, and it says nothing",
            "Give the inputs plausible= or bounds, or have judge add a finding outside the range that valid= names.",
            declared.part(calculator.name, "valid"),
        )
        return
    for name in silent:
        calls.add(
            "no_bounds",
            f"{name} has no bounds, and a thousand times too much of it says nothing",
            "Give minimum= or above= and maximum= where nothing else can be, and plausible=(low, high) for sane "
            "values: a slip of the decimal point is then asked about.",
            declared.field(calculator.given.__name__, name),
        )


def _says_more(found: Result, before: Result) -> bool:
    return found.verdict != before.verdict or bool(set(found.findings) - set(before.findings))


def _moved(calculator: Calculator[Any, Any], bound: Bound[Any]) -> Iterator[tuple[Field, float, Bound[Any] | None]]:
    """The inputs with one number far out, a listing's first one too, and None in place of them where it could not even
    be typed without a word."""
    for field in calculator.inputs:
        value = getattr(bound.given, field.name)
        if field.kind == "listing" and value:
            first = value[0]
            for part in fields_of(first):
                for moved in _far_out(part, getattr(first, part.name)):
                    items = (type(first)(**{**dict(items_of(first)), part.name: moved}), *value[1:])
                    yield from _heard(calculator, bound, field, part, moved, items)
        else:
            for moved in _far_out(field, value):
                yield from _heard(calculator, bound, field, field, moved, moved)


def _far_out(field: Field, value: object) -> Iterator[float]:
    """Other values of a number, far from this one; none where it is not given."""
    if not field.is_number or isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        return
    seen = {float(value)}
    for factor in FACTORS:
        moved = (value or 1.0) * factor
        moved = round(moved) if field.kind == "whole" else float(moved)
        if moved not in seen:
            seen.add(moved)
            yield moved


def _heard(
    calculator: Calculator[Any, Any], bound: Bound[Any], field: Field, part: Field, moved: float, value: object
) -> Iterator[tuple[Field, float, Bound[Any] | None]]:
    """The inputs with this value, and before that None where reading has a word to say."""
    try:
        check_bounds(part, moved, "")
    except ReadingError:
        yield field, moved, None
        return
    if implausible(part, moved):
        yield field, moved, None
    given = calculator.given(**{**dict(items_of(bound.given)), field.name: value})
    yield field, moved, bound._replace(given=given, uncertainties={})
