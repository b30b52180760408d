"""Uncertainty carried from typed inputs (first order, JCGM 100:2008, 5.1.2) to outputs and to the verdict.

Typed values are off from true ones by normal errors of the standard uncertainty that is typed with them. An interval
should hold the true output in 95 % (k = 2: 95.4 %). A verdict is judged at the worst truth, right beside a limit: the
word of the other side, without "unclear", may be printed in 2.3 % (all of one side beyond k = 2).

Where a calculator has an uncertainty of its own as well, all that it assumes is off as it says, and one input is off by
what is typed with it.
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
from bevelbook.formulas.hand_timing import HAND_S
from bevelbook.physics.density import density_g_cm3
from bevelbook.physics.viscosity import viscosity_ratio
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.registry import load
from bevelbook.plugin.returned_values import Judgement
from bevelbook_plugins.falling_ball import BallFall, haberman_sayre, stokes_pa_s

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
        {
            "dry_mass_g": "12.40",
            "free_volume_cm3": "1.8",
            "density_g_cm3": "0.97",
            "scale_step_g": "0.0001",
            "repeatability_g": "0",
        },
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
        "gas_fraction_hot",
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
    for name, (simulate, allowed) in WITH_OWN.items():
        for u in (0.3, 1.0, 3.0):
            yield Case(f"{name}, typed {u:g} of its own part", "k = 2", partial(both_hold, simulate, u), allowed)
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


Drawn = tuple[str, dict[str, Any], dict[Path, float], str, float]
"""Calculator, what is typed, its standard uncertainties, the output, and the true value."""


def falling_ball(rng: Generator, u: float) -> Drawn:
    """The ball's diameter with its own ± in place of the assumed bound, 2 % of the viscosity at ``u`` = 1."""
    spread = 0.02 * u
    ball, tube = 2.0 + float(rng.normal(0.0, spread)), 16.0 + rng.uniform(-0.1, 0.1)
    length, at_c = 40.0 + rng.normal(0.0, 0.3), 22.0 + rng.normal(0.0, 0.5)
    density = density_g_cm3(0.975, at_c)
    heavier = 7.81 - density + rng.normal(0.0, 0.03)
    dynamic_pa_s = 7000.0 * viscosity_ratio(at_c, 25.0) * density * 1e-3
    speed = stokes_pa_s(ball, heavier, 1.0) / (dynamic_pa_s * haberman_sayre(ball / tube))
    typed = {
        "ball_diameter_mm": 2.0,
        "ball_density_g_cm3": 7.81,
        "tube_diameter_mm": 16.0,
        "fall_mm": 40.0,
        "oil_density_g_cm3": 0.975,
        "temperature_c": 22.0,
        "ball_diameter_error_mm": 0.0,
        "times": tuple(BallFall(time_s=float(one)) for one in length / speed + rng.normal(0.0, HAND_S, 2)),
    }
    return "falling-ball", typed, {("ball_diameter_mm", None, None): spread}, "viscosity_cst", 7000.0


def free_volume(rng: Generator, u: float) -> Drawn:
    """A scale of known repeatability, and a dry mass that is off by what is typed beside it."""
    step, scatter = 0.01, 0.005
    spread = 0.008 * u
    room_cm3, dry_g = rng.uniform(1.5, 2.5), rng.uniform(15.0, 25.0)
    density = density_g_cm3(0.975, 21.0)
    read = [round((one + rng.normal(0.0, scatter)) / step) * step for one in (dry_g, dry_g + room_cm3 * density)]
    typed = {
        "dry_mass_g": read[0] + float(rng.normal(0.0, spread)),
        "full_mass_g": read[1],
        "density_g_cm3": 0.975,
        "temperature_c": 21.0,
        "repeatability_g": scatter,
    }
    return "free-volume", typed, {("dry_mass_g", None, None): spread}, "free_volume_cm3", room_cm3


def seal_swell(rng: Generator, u: float) -> Drawn:
    """Sizes right to one step either way, and a measured section that is off by what is typed beside it."""
    step = 0.01
    spread = step * u
    new, grown = (6.0, 1.5), 1.0 + rng.uniform(-0.02, 0.06)
    off = rng.uniform(-step, step, 4)
    typed = {
        "place": "joint",
        "inside_diameter_mm": new[0] + off[0],
        "section_mm": new[1] + off[1],
        "measured_inside_diameter_mm": grown * new[0] + off[2],
        "measured_section_mm": grown * new[1] + off[3] + float(rng.normal(0.0, spread)),
        "reading_step_mm": step,
    }
    return "seal-swell", typed, {("measured_section_mm", None, None): spread}, "volume_change_fraction", grown**3 - 1.0


WITH_OWN: dict[str, tuple[Callable[[Generator, float], Drawn], tuple[float, float]]] = {
    "falling-ball": (falling_ball, (0.93, 0.98)),
    "free-volume": (free_volume, (0.93, 0.97)),
    "seal-swell": (seal_swell, (0.93, 0.98)),
}


def both_hold(simulate: Callable[[Generator, float], Drawn], u: float, rng: Generator, count: int) -> list[bool]:
    held = []
    for _ in range(count):
        name, typed, spreads, output, truth = simulate(rng, u)
        calculator = _calculator(name)
        given = calculator.given(**typed)
        result = run(calculator, Bound(given, {}, spreads))
        spread = result.uncertainties[output]
        assert spread is not None
        held.append(abs(getattr(result.found, output) - truth) <= 2.0 * spread)
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
