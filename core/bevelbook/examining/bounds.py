"""Bounds that hold together: each range has an inside, a default lies in it, and so does the worked example."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from bevelbook.calculating.calculate import Bound
from bevelbook.declare.fields import REQUIRED, Field, fields_of
from bevelbook.display.format import format_typed
from bevelbook.examining.calling import Calls
from bevelbook.examining.declared_lines import DeclaredLines
from bevelbook.plugin.calculator import Calculator
from bevelbook.reading import ReadingError, implausible
from bevelbook.reading.numbers import check_bounds


def examine_bounds(calculator: Calculator[Any, Any], declared: DeclaredLines, calls: Calls) -> None:
    """Look at the bounds of each number that goes in."""
    for owner, field in numbers_in(calculator):
        place = declared.field(owner.__name__, field.name)
        for what, remedy in _faults(field):
            calls.add("bounds", f"{field.name}: {what}", remedy, place)


def examine_example_inside(
    calculator: Calculator[Any, Any], bound: Bound[Any], declared: DeclaredLines, calls: Calls
) -> None:
    """Whether the inputs of a worked example are sane values themselves."""
    for field in calculator.inputs:
        odd = implausible(field, getattr(bound.given, field.name)) if field.kind == "quantity" else None
        if odd is not None:
            calls.add(
                "example_outside",
                f"a worked example is outside the plausible range: {odd}",
                "Widen plausible=, or give an example that people meet.",
                declared.field(calculator.given.__name__, field.name),
            )


def numbers_in(calculator: Calculator[Any, Any]) -> Iterator[tuple[type[Any], Field]]:
    """The numbers that go in, those of listings too, each with its record."""
    for field in calculator.inputs:
        if field.kind == "listing" and field.item is not None:
            yield from ((field.item, one) for one in fields_of(field.item) if one.is_number)
        elif field.is_number:
            yield calculator.given, field


def _faults(field: Field) -> Iterator[tuple[str, str]]:
    low = max((one for one in (field.minimum, field.above) if one is not None), default=None)
    high = min((one for one in (field.maximum, field.below) if one is not None), default=None)
    if low is not None and high is not None and low >= high:
        yield f"its lowest value {low:g} is not under its highest {high:g}", "Swap them, or mend the wrong one."
        return
    if field.plausible is not None:
        if field.plausible[0] >= field.plausible[1]:
            yield "the plausible range has nothing inside", "Write it as plausible=(low, high), the low one first."
            return
        for end in field.plausible:
            if (low is not None and end < low) or (high is not None and end > high):
                yield (
                    f"{end:g} is called plausible and cannot be typed",
                    "Keep plausible= inside minimum and maximum.",
                )
    if field.default in (REQUIRED, None) or not isinstance(field.default, int | float):
        return
    try:
        check_bounds(field, float(field.default), "")
    except ReadingError:
        yield f"its default {format_typed(float(field.default), field.unit)} is out of its bounds", "Mend one of them."
        return
    if odd := implausible(field, field.default):
        yield f"its default is outside the plausible range: {odd}", "Mend one of them."
