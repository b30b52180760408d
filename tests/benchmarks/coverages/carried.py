"""Uncertainty carried from typed inputs (first order, JCGM 100:2008, 5.1.2) to outputs and to the verdict.

Typed values are off from true ones by normal errors of the standard uncertainty that is typed with them. An interval
should hold the true output in 95 % (k = 2: 95.4 %). A verdict is judged at the worst truth, right beside a limit: the
word of the other side, without "unclear", may be printed in 2.3 % (all of one side beyond k = 2).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache, partial
from typing import Any

from benchmarks.coverages import Case
from declared_calculator import declared
from numpy.random import Generator

from bevelbook.calculating.calculate import Bound, bind, run
from bevelbook.declare.fields import listing, quantity, record
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.registry import load
from bevelbook.plugin.returned_values import Judgement

Path = tuple[str, int | None, str | None]
OUTPUTS: tuple[tuple[str, dict[str, Any], dict[Path, float], str], ...] = (
    (
        "viscosity",
        {"viscosity_cst": "7000", "temperature_c": "35"},
        {("viscosity_cst", None, None): 210.0, ("temperature_c", None, None): 0.5},
        "viscosity_at_temperature_cst",
    ),
    (
        "same-feel",
        {"viscosity_cst": "7000", "temperature_then_c": "30", "temperature_now_c": "45"},
        {("temperature_then_c", None, None): 1.0, ("temperature_now_c", None, None): 2.0},
        "viscosity_needed_cst",
    ),
    (
        "fill-target",
        {"dry_mass_g": "12.40", "free_volume_cm3": "1.8", "density_g_cm3": "0.97"},
        {("dry_mass_g", None, None): 0.01, ("free_volume_cm3", None, None): 0.05},
        "stop_mass_g",
    ),
    (
        "blend",
        {"parts": ["5000:7", "10000:3"]},
        {("parts", 0, "viscosity_cst"): 250.0, ("parts", 1, "viscosity_cst"): 500.0, ("parts", 1, "mass_g"): 0.05},
        "viscosity_blend_cst",
    ),
    (
        "headspace",
        {"oil_mass_g": "1.45", "free_volume_cm3": "1.809", "viscosity_cst": "7000"},
        {
            ("oil_mass_g", None, None): 0.01,
            ("free_volume_cm3", None, None): 0.02,
            ("hot_temperature_c", None, None): 2.0,
        },
        "gauge_pressure_kpa",
    ),
    (
        "shims",
        {"float_mm": "0.42", "target_float_mm": "0.10", "sizes": ["0.1", "0.15", "0.2", "0.3"]},
        {("float_mm", None, None): 0.002},
        "float_after_mm",
    ),
)


@record
class Part:
    mass_g: float = quantity("g", "Mass")


@record
class Parts:
    parts: tuple[Part, ...] = listing(Part, "Masses", singular="part")


@record
class Sum:
    sum_g: float = quantity("g", "Sum of the masses")


def cases() -> Iterator[Case]:
    for name, texts, spreads, output in OUTPUTS:
        yield Case(f"{name}, {output}", "k = 2", partial(output_holds, name, texts, spreads, output))
    for parts in (1, 2, 5):
        simulate = partial(wrong_word, parts=parts)
        yield Case(f"verdict beside its limit, {parts} uncertain", "2.3 %", simulate, allowed=(0.0, 0.035))


def output_holds(
    name: str, texts: dict[str, Any], spreads: dict[Path, float], output: str, rng: Generator, count: int
) -> list[bool]:
    calculator = _calculator(name)
    true = bind(calculator, texts)
    truth = getattr(calculator.compute(true.given), output)
    held = []
    for _ in range(count):
        errors = {path: float(rng.normal(0.0, u)) for path, u in spreads.items()}
        typed = Bound(_off(true.given, errors), true.origins, spreads)
        result = run(calculator, typed)
        u = result.uncertainties[output]
        assert u is not None
        held.append(abs(getattr(result.found, output) - truth) <= 2.0 * u)
    return held


def wrong_word(rng: Generator, count: int, parts: int) -> list[bool]:
    """A true sum right under the limit of 10 g is ok; whether "stop" is printed."""
    calculator = _summing()
    true = [9.9999 / parts] * parts
    u = 0.02
    wrong = []
    for _ in range(count):
        given = Parts(parts=tuple(Part(mass_g=one + float(rng.normal(0.0, u))) for one in true))
        spreads = {("parts", place, "mass_g"): u for place in range(parts)}
        wrong.append(run(calculator, Bound(given, {}, spreads)).verdict == "stop")
    return wrong


def _off(given: Any, errors: dict[Path, float]) -> Any:
    values = {field.name: getattr(given, field.name) for field in type(given).fields}
    for (name, place, part), error in errors.items():
        if place is None or part is None:
            values[name] += error
            continue
        items = list(values[name])
        item = {field.name: getattr(items[place], field.name) for field in type(items[place]).fields}
        items[place] = type(items[place])(**{**item, part: item[part] + error})
        values[name] = tuple(items)
    return type(given)(**values)


@cache
def _calculator(name: str) -> Calculator[Any, Any]:
    return load().calculators[name].calculator


@cache
def _summing() -> Calculator[Any, Any]:
    compute: Callable[[Parts], Sum] = lambda given: Sum(sum_g=sum(one.mass_g for one in given.parts))  # noqa: E731
    return declared(
        given=Parts,
        found=Sum,
        compute=compute,
        judge=lambda given, found: Judgement("stop" if found.sum_g > 10 else "ok", ("message",)),
        answer="sum_g",
    )
