"""All calculators with odd and extreme inputs: an answer or an error that names an input, and no wrong number.

What must hold of an answer: nothing is endless or no number, also not an uncertainty; what was typed is what it was
worked out of; the same inputs give the same again; the same quantities in other units give the same; no figure is
printed with a hundred digits; and what follows for each calculator by its physics alone (``FACTS``).
"""

from __future__ import annotations

import itertools
import json
import random
import re
from collections.abc import Callable, Mapping
from functools import cache
from math import isfinite, log10
from pathlib import Path
from typing import Any, Final

from bevelbook.calculating.calculate import Result, bind, run
from bevelbook.calculating.result_text import result_lines
from bevelbook.declare.errors import BevelbookError, PluginFault
from bevelbook.declare.fields import Field, fields_of
from bevelbook.declare.known_units import KNOWN
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.registry import load

LONG: Final = re.compile(r"\d[\d,]{24,}|\bnan\b|\binf\b", re.IGNORECASE)
"""A figure of more digits than anybody reads, or none."""
DAYS = ("2026-05-02", "2026-05-03", "2026-05-10", "sat", "")


@cache
def calculators() -> tuple[Calculator[Any, Any], ...]:
    return tuple(one.calculator for one in load().calculators.values())


def case(source: random.Random, folder: Path) -> str:
    """One calculator, its example with some inputs replaced."""
    calculator = source.choice(calculators())
    texts = drawn_inputs(source, calculator)
    try:
        result = run(calculator, bind(calculator, texts))
    except PluginFault as fault:
        raise AssertionError(f"{calculator.name} failed: {fault.in_words()} of {texts}") from fault
    except BevelbookError as refused:
        words = str(refused)
        assert len(words) < 3000 and not LONG.search(re.sub(r'found "?.*', "", words)), (
            f"{calculator.name} refuses: {words}"
        )
        return refused.code
    answer = result.as_dict()
    said = f"{calculator.name} of {texts}"
    text = json.dumps(answer, allow_nan=True)
    assert "NaN" not in text and "Infinity" not in text, f"endless: {said}: {text}"
    for name, one in answer["standard_uncertainties_k1"].items():
        assert one is None or (isfinite(one) and one >= 0), f"uncertainty of {name} is {one}: {said}"
    lines = "\n".join(result_lines(result, explain=source.random() < 0.2))
    shown = LONG.search(lines)
    assert shown is None, f"{calculator.name} shows {shown and shown[0]!r}: {texts}"
    lines_fault = result.working_or_fault()[1] or result.picture_or_fault()[1]
    assert lines_fault is None, f"{calculator.name} cannot show its working: {lines_fault} of {texts}"
    again = run(calculator, bind(calculator, texts)).as_dict()
    assert json.dumps(again) == text, f"not the same again: {said}"
    echoed(calculator, texts, answer)
    in_other_units(source, calculator, texts, result)
    fact = FACTS.get(calculator.name)
    if fact is not None:
        fact(answer["inputs"], answer["outputs"], said)
    return "answered"


def drawn_inputs(source: random.Random, calculator: Calculator[Any, Any]) -> dict[str, Any]:
    """Inputs of a worked example with some of them replaced, left out or added."""
    worked = source.choice(calculator.worked)
    texts: dict[str, Any] = {
        name: list(text) if isinstance(text, (list, tuple)) else text for name, text in worked.given.items()
    }
    for _ in range(source.choice((1, 1, 2, 3, 5))):
        field = source.choice(calculator.inputs)
        if source.random() < 0.08:
            texts.pop(field.name, None)
        elif field.kind == "listing":
            texts[field.name] = items(source, field, texts.get(field.name, []))
        else:
            texts[field.name] = value(source, field)
    return texts


def value(source: random.Random, field: Field) -> str:
    """A text for one input."""
    if field.choices:
        return source.choice(field.choices)
    if not field.is_number:
        return source.choice(("a", "pom", "steel", "2026-05-03", "x" * 300, "<b>", "é", *DAYS[:3]))
    number = figure(source, field)
    text = f"{number:.{source.choice((1, 3, 6, 12))}g}" if field.kind == "quantity" else str(round(number))
    if field.kind == "quantity" and source.random() < 0.25:
        spread = source.choice((abs(number) * source.choice((1e-6, 0.01, 0.5, 10)), 10.0 ** source.randrange(-14, 14)))
        text += f" ± {spread:.3g}" + source.choice(("", " (k = 1)", " (k = 2)"))
    return text


def figure(source: random.Random, field: Field) -> float:
    """A number: near the bounds, in the sane range, or anywhere."""
    low = field.minimum if field.minimum is not None else field.above
    high = field.maximum if field.maximum is not None else field.below
    draw = source.random()
    if draw < 0.45 and field.plausible:
        return source.uniform(*field.plausible)
    if draw < 0.6:
        edges = [one for one in (low, high, *(field.plausible or ())) if one is not None] or [0.0]
        edge = source.choice(edges)
        return edge + source.choice((0.0, 1e-12, -1e-12, 1e-6, -1e-6, 1e-9 * abs(edge)))
    if draw < 0.75 and low is not None and high is not None:
        return source.uniform(low, high)
    sign = -1.0 if (low is None or low < 0) and source.random() < 0.4 else 1.0
    return sign * 10.0 ** source.uniform(-12.5, 12.2) * source.choice((1.0, 1.0, 0.0)) + (low or 0.0) * (sign > 0)


def items(source: random.Random, field: Field, held: list[str]) -> list[str]:
    """A listing with items changed, repeated, left out or added."""
    found = list(held)
    for _ in range(source.choice((1, 2, 4))):
        draw = source.random()
        if draw < 0.2 and found:
            found.pop(source.randrange(len(found)))
        elif draw < 0.35 and found:
            found += [source.choice(found)] * source.choice((1, 1, 3, 40))
        else:
            parts = fields_of(field.item)
            pieces = [
                source.choice(DAYS)
                if part.kind == "which_day"
                else value(source, part).replace(":", "")
                if part.required or source.random() < 0.5
                else ""
                for part in parts
            ]
            item = ":".join(pieces).rstrip(":")
            if found and draw < 0.7:
                kept = source.choice(found).split(":")
                at = source.randrange(len(kept))
                kept[at] = pieces[at]
                item = ":".join(kept)
            found.insert(source.randrange(len(found) + 1), item)
    return found


def echoed(calculator: Calculator[Any, Any], texts: Mapping[str, Any], answer: Mapping[str, Any]) -> None:
    """A number that was typed plainly is the number that it was worked out of."""
    for field in calculator.inputs:
        text = texts.get(field.name)
        if field.kind != "quantity" or not isinstance(text, str):
            continue
        try:
            number = float(text)
        except ValueError:
            continue
        used = answer["inputs"][field.name]
        wanted = float(f"{number:.12g}") + 0.0
        assert used == wanted, f"worked out of {used} where {text} was typed: {calculator.name} {field.name}"


def in_other_units(
    source: random.Random, calculator: Calculator[Any, Any], texts: dict[str, Any], result: Result
) -> None:
    """The same quantities in other units give the same numbers, as far as rounding in the twelfth digit allows."""
    other = dict(texts)
    for field in calculator.inputs:
        text = texts.get(field.name)
        units = KNOWN.like(field.read_in)
        if field.kind != "quantity" or not isinstance(text, str) or field.unit == "1" or len(units) < 2:
            continue
        try:
            number = float(text)
        except ValueError:
            continue
        unit, own = source.choice(units), KNOWN.meant(field.read_in)
        assert own is not None
        converted = ((number * own.factor + own.offset) - unit.offset) / unit.factor
        if (
            (converted and not 1e-9 < abs(converted) < 1e11)
            or (unit.offset and abs(number) < 1e-3)
            or abs(number) > 1e9
        ):
            continue
        shown = repr(converted)
        if len(shown.partition(".")[2]) == 3:  # by hand, such a dot may stand between thousands
            shown += "0"
        other[field.name] = f"{shown} {unit.name}"
    try:
        found = run(calculator, bind(calculator, other))
    except BevelbookError as refused:
        at_an_edge = refused.code in ("out_of_range", "outside_valid_range", "ambiguous_number")
        assert at_an_edge, f"refused in other units: {calculator.name} of {texts} as {other}: {refused}"
        return
    for name, wanted in result.outputs.items():
        got = found.outputs[name]
        if isinstance(wanted, float) and isinstance(got, float):
            near = 1e-5 * max(abs(wanted), abs(got), 1e-6)
            assert abs(got - wanted) <= near or is_at_a_step(calculator), (
                f"another number in other units: {calculator.name} {name} {wanted} and {got}, of {texts} as {other}"
            )


def is_at_a_step(calculator: Calculator[Any, Any]) -> bool:
    """Whether the answer goes by steps, so that the twelfth digit may decide between two."""
    return calculator.name in ("shims", "tightening", "oil-choice", "run-comparison")


def fill_target(given: Mapping[str, Any], found: Mapping[str, Any], said: str) -> None:
    dry, oil, stop = given["dry_mass_g"], found["oil_mass_g"], found["stop_mass_g"]
    assert abs(stop - (dry + oil)) <= 1e-9 * max(abs(stop), dry), f"stop mass is not dry and oil: {said}: {found}"
    step = given["scale_step_g"]
    assert found["stop_low_g"] - step <= stop <= found["stop_high_g"] + step, (
        f"window beside the stop mass: {said}: {found}"
    )


def blend(given: Mapping[str, Any], found: Mapping[str, Any], said: str) -> None:
    parts = [one["viscosity_cst"] for one in given["parts"]]
    mixed = found["viscosity_blend_cst"]
    if mixed is not None and all(one["mass_g"] is not None for one in given["parts"]):
        assert min(parts) * (1 - 1e-9) <= mixed <= max(parts) * (1 + 1e-9), f"blend beside its parts: {said}: {found}"


def viscosity(given: Mapping[str, Any], found: Mapping[str, Any], said: str) -> None:
    thinner = found["viscosity_at_temperature_cst"] <= given["viscosity_cst"] * (1 + 1e-9)
    if given["other_viscosity_cst"] is None and given["temperature_c"] != 25:
        assert thinner == (given["temperature_c"] > 25) or abs(log10(found["ratio_to_25"] or 1.0)) < 1e-6, (
            f"thicker when warm: {said}: {found}"
        )


def drag_heat(given: Mapping[str, Any], found: Mapping[str, Any], said: str) -> None:
    heat = given["damping_nm_s"] * given["speed_difference_rad_s"] ** 2
    assert abs(found["heat_w"] - heat) <= 1e-9 * abs(heat), f"not damping times speed squared: {said}: {found}"


def gland(given: Mapping[str, Any], found: Mapping[str, Any], said: str) -> None:
    low, high = found["squeeze_low_fraction"], found["squeeze_high_fraction"]
    if low is not None and high is not None:
        assert low <= found["squeeze_fraction"] + 1e-9 and found["squeeze_fraction"] <= high + 1e-9, f"{said}: {found}"


def ordered(*names: str) -> Callable[[Mapping[str, Any], Mapping[str, Any], str], None]:
    """Outputs of which each is at least the one before, where they are known."""

    def holds(given: Mapping[str, Any], found: Mapping[str, Any], said: str) -> None:
        known = [found[name] for name in names if found[name] is not None]
        for one, other in itertools.pairwise(known):
            assert one <= other + 1e-9 * max(abs(one), abs(other)), f"out of order: {names} {known}: {said}"

    return holds


FACTS: Final[dict[str, Callable[[Mapping[str, Any], Mapping[str, Any], str], None]]] = {
    "fill-target": fill_target,
    "blend": blend,
    "viscosity": viscosity,
    "drag-heat": drag_heat,
    "gland": gland,
    "bench-drag": ordered("damping_low_nm_s", "damping_nm_s", "damping_high_nm_s"),
    "end-temperature": ordered("low_c", "end_temperature_c", "high_c"),
    "expected-temperature": ordered("low_c", "expected_temperature_c", "high_c"),
    "fill-repeatability": ordered("low_limit_g", "centre_g", "high_limit_g"),
    "fluid-ratio": ordered("ratio_low", "ratio", "ratio_high"),
    "leak-trend": ordered("loss_low_g", "loss_g", "loss_high_g"),
    "run-comparison": ordered("difference_low_s", "difference_s", "difference_high_s"),
    "scale-check": ordered("repeatability_low_g", "repeatability_g", "repeatability_high_g"),
    "shims": ordered("float_low_mm", "float_after_mm", "float_high_mm"),
    "tightening": ordered("torque_low_nm", "torque_high_nm"),
    "degas": ordered("time_low_s", "time_high_s"),
}
