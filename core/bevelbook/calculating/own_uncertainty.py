"""The uncertainty that a calculator works out itself and the one that comes from what a person typed, as one figure.

Independent parts add as squares (JCGM 100:2008, 5.1.2). Which output holds the calculator's own part is declared on it:
``uncertainty_of``, ``low_of`` and ``high_of``, ``own_part_of``. Of an output with an uncertainty of its own that is not
given as a number no ± is printed, since one of what was typed alone would be too small.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import copysign, hypot
from typing import Any, Final, NamedTuple

from bevelbook.declare.coverage import COVERAGE_K, WITH_K
from bevelbook.declare.fields import Field, items_of
from bevelbook.plugin.calculator import Formula

IN_PLACE: Final = "what was typed counts in its place"
"""The origin of an assumed uncertainty that is not counted, since the number that it is about has its own."""


class Combined(NamedTuple):
    """Outputs and standard uncertainties (k = 1) with both parts in them, what to say of it, and lines of working."""

    found: Any
    uncertainties: dict[str, float | None]
    findings: tuple[str, ...]
    working: tuple[str, ...]


def combine(formula: Formula[Any, Any], found: Any, typed: Mapping[str, float | None]) -> Combined:
    """``found`` and the uncertainties carried from what was typed, combined. ``typed`` has them by output, k = 1; None
    is not available."""
    values = dict(items_of(found))
    uncertainties = dict(typed)
    by_name = {field.name: field for field in formula.outputs}
    together: list[Field] = []
    lacking: list[Field] = []
    lines: list[str] = []
    for field in formula.outputs:
        own = values[field.name]
        for name in field.spread_of:
            if own is None or values[name] is None or typed.get(name) == 0.0 or name not in typed:
                continue
            of = by_name[name]
            spread = typed[name]
            if spread is None:
                lacking.append(of)
                continue
            together.append(of)
            part = COVERAGE_K * spread
            if field.low_of or field.high_of:
                way = -1.0 if field.low_of else 1.0
                values[field.name] = values[name] + copysign(hypot(own - values[name], part), way)
                lines.append(
                    f"{field.words} {_in(of, values[field.name])}: √({_in(of, abs(own - values[name]))}² + "
                    f"{_in(of, part)}²) from {of.words}, the second from what was typed {WITH_K}"
                )
                continue
            both = hypot(own, part)
            uncertainties[name] = both / COVERAGE_K
            if field.uncertainty_of:
                values[field.name] = both
            lines.append(
                f"U of {of.words} = √({_in(of, own)}² + {_in(of, part)}²) = {_in(of, both)}, the second from "
                f"what was typed {WITH_K}"
            )
    for name in _without(formula, uncertainties):
        del uncertainties[name]
    findings = tuple(_findings(_once(together), _once(lacking)))
    return Combined(type(found)(**values) if together else found, uncertainties, findings, tuple(lines))


def _without(formula: Formula[Any, Any], uncertainties: Mapping[str, float | None]) -> list[str]:
    """Outputs of which no ± is printed: their interval is, or an uncertainty of their own is not known. If nothing is
    left to print, all of them."""
    with_own = {name for field in formula.outputs for name in field.spread_of}
    by_interval = {field.low_of or field.high_of for field in formula.outputs}
    hidden = {field.name for field in formula.outputs if field.no_spread or (with_own and field.name not in with_own)}
    without = [name for name, one in uncertainties.items() if name in hidden | by_interval and one != 0.0]
    left = any(one != 0.0 for name, one in uncertainties.items() if name not in without)
    return without if left or not without else list(uncertainties)


def _findings(together: Sequence[Field], lacking: Sequence[Field]) -> Iterator[str]:
    if together:
        yield f"the uncertainty of {_names(together)} holds both what was typed and what this calculator adds"
    if lacking:
        yield f"what was typed could not be carried to {_names(lacking)}: the uncertainty is the calculator's own alone"


def _once(fields: Sequence[Field]) -> list[Field]:
    return list({field.name: field for field in fields}.values())


def _names(fields: Sequence[Field]) -> str:
    return " and ".join(field.words for field in fields)


def _in(field: Field, value: float) -> str:
    unit = "" if field.unit in (None, "1") else f" {field.unit}"
    return f"{value:.4g}{unit}"
