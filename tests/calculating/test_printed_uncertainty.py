"""What a ± means: none is printed without its k, and typed back it is the uncertainty that was printed.

JCGM 100:2008, 7.2.3: an expanded uncertainty is stated with its k; 7.2.6: two significant digits at most are enough.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from math import hypot
from pathlib import Path
from typing import Any

import pytest

import bevelbook
import bevelbook_plugins
from bevelbook.calculating.calculate import NOT_IN_FIGURES, Result, bind, run
from bevelbook.calculating.result_text import input_text, result_lines
from bevelbook.declare.fields import Field, items_of
from bevelbook.display.format import format_value
from bevelbook.plugin.calculator import Calculator, Worked
from bevelbook.plugin.registry import load
from bevelbook.reading import BY_HAND, read_measured

SPREAD = re.compile(r"±[^±]{1,48}?(?:k = 2|k = 1)")
EXAMPLES = [
    pytest.param(one.calculator, one.calculator.worked[0], id=name) for name, one in sorted(load().calculators.items())
]


def with_spreads(calculator: Calculator[Any, Any], worked: Worked) -> dict[str, Any]:
    """The inputs of a worked example, each quantity with an uncertainty of 0.02 % of it."""
    typed: dict[str, Any] = dict(worked.given)
    for field in calculator.inputs:
        text = typed.get(field.name)
        if field.kind == "quantity" and isinstance(text, str):
            value = read_measured(field, text, BY_HAND).value
            assert value is not None
            typed[field.name] = f"{value!r} +/- {abs(value) * 2e-4:.3g}" if value else text
        elif field.kind == "listing" and text:
            typed[field.name] = [_item_with_spreads(field, one) for one in text]
    return typed


def _item_with_spreads(field: Field, text: str) -> str:
    parts = field.item.fields if field.item else ()
    pieces = text.split(":")
    for place, (part, piece) in enumerate(zip(parts, pieces, strict=False)):
        value = read_measured(part, piece, BY_HAND).value if part.kind == "quantity" else None
        if value and part.unit != "runs":
            pieces[place] = f"{value!r} +/- {abs(value) * 2e-4:.3g} (k = 2)"
    return ":".join(pieces)


@pytest.mark.parametrize(("calculator", "worked"), EXAMPLES)
def test_a_printed_spread_typed_back_is_the_same_uncertainty(calculator: Calculator[Any, Any], worked: Worked) -> None:
    """Two significant digits are printed, so that the one read back is within 5 %."""
    result = run(calculator, bind(calculator, with_spreads(calculator, worked)))
    for field in calculator.outputs:
        value, uncertainty = getattr(result.found, field.name), result.uncertainties.get(field.name)
        if not uncertainty:
            continue
        text = format_value(value, field, uncertainty)
        found, found_uncertainty, k_taken = read_measured(field, text, BY_HAND)
        assert not k_taken, text
        assert found_uncertainty == pytest.approx(uncertainty, rel=0.051), (field.name, text)
        assert found == pytest.approx(value, abs=0.1 * uncertainty), (field.name, text)


@pytest.mark.parametrize(("calculator", "worked"), EXAMPLES)
def test_an_input_is_printed_as_it_can_be_typed_back(calculator: Calculator[Any, Any], worked: Worked) -> None:
    result = run(calculator, bind(calculator, with_spreads(calculator, worked)))
    for field in calculator.inputs:
        uncertainty = result.bound.uncertainties.get((field.name, None, None))
        if uncertainty:
            text = input_text(result, field)
            assert text.endswith(" taken as k = 2, as printed here"), text
            found = read_measured(field, text.removesuffix(" taken as k = 2, as printed here"), BY_HAND)
            assert found.uncertainty == pytest.approx(uncertainty, rel=1e-4), text
            assert found.value == pytest.approx(getattr(result.given, field.name), rel=1e-5), text


@pytest.mark.parametrize(("calculator", "worked"), EXAMPLES)
def test_a_spread_that_no_figure_shows_is_said_to_count_for_the_verdict_alone(
    calculator: Calculator[Any, Any], worked: Worked
) -> None:
    result = run(calculator, bind(calculator, with_spreads(calculator, worked)))
    is_shown = bool(result.uncertainties) or result.found is not result.computed
    assert (NOT_IN_FIGURES in result.findings) is (bool(result.bound.uncertainties) and not is_shown)


def _typed_part(result: Result, name: str) -> float:
    """The standard uncertainty of an output from what was typed, by moving one number after another by its own (JCGM
    100:2008, 5.1.3, note 2)."""
    given, total = result.given, 0.0
    for (of, place, part), u in result.bound.uncertainties.items():
        ends = []
        for step in (-u, u):
            value = getattr(given, of)
            if place is None or part is None:
                moved = value + step
            else:
                item = type(value[place])(**{**dict(items_of(value[place])), part: getattr(value[place], part) + step})
                moved = (*value[:place], item, *value[place + 1 :])
            ends.append(getattr(result.calculator.compute(type(given)(**{**dict(items_of(given)), of: moved})), name))
        total = hypot(total, (ends[1] - ends[0]) / 2.0)
    return total


@pytest.mark.parametrize(("calculator", "worked"), EXAMPLES)
def test_an_output_with_an_uncertainty_of_the_calculators_own_has_one_that_holds_both_parts(
    calculator: Calculator[Any, Any], worked: Worked
) -> None:
    """Independent parts add as squares (JCGM 100:2008, 5.1.2); of the other outputs no ± of what was typed alone."""
    result = run(calculator, bind(calculator, with_spreads(calculator, worked)))
    own = {name for field in calculator.outputs for name in field.spread_of}
    if own:
        assert own >= {name for name, one in result.uncertainties.items() if one}
    assert not [field.name for field in calculator.outputs if field.no_spread and result.uncertainties.get(field.name)]
    for field in calculator.outputs:
        for name in field.spread_of:
            alone, middle, now = (
                getattr(one, at)
                for one, at in ((result.computed, field.name), (result.found, name), (result.found, field.name))
            )
            part = 0.0 if alone is None or middle is None else 2.0 * _typed_part(result, name)
            if not part:
                continue
            if field.uncertainty_of or field.own_part_of:
                assert 2.0 * (result.uncertainties[name] or 0.0) == pytest.approx(hypot(alone, part), rel=1e-4)
                assert now == (alone if field.own_part_of else pytest.approx(hypot(alone, part), rel=1e-4))
            else:
                assert abs(now - middle) == pytest.approx(hypot(alone - middle, part), rel=1e-4)
                assert (now < middle) is bool(field.low_of)
                assert name not in result.uncertainties


TWO_PARTS = {
    "falling-ball": (
        {
            "ball_diameter_mm": "2.000 ± 0.06 (k = 2)",
            "tube_diameter_mm": "20",
            "fall_mm": "50",
            "times": ["33.0", "33.2", "33.1"],
            "oil_density_g_cm3": "0.97",
            "temperature_c": "21",
        },
        ("viscosity_cst", "uncertainty_cst"),
        1.0,
    ),
    "free-volume": (
        {"dry_mass_g": "16.62 ± 0.04 (k = 2)", "full_mass_g": "18.39", "density_g_cm3": "0.975", "temperature_c": "21"},
        ("free_volume_cm3", "uncertainty_cm3"),
        1.0,
    ),
    "seal-swell": (
        {
            "inside_diameter_mm": "5 ± 0.2 (k = 2)",
            "section_mm": "2",
            "measured_inside_diameter_mm": "5.2",
            "measured_section_mm": "2.09",
            "place": "joint",
        },
        ("volume_change_fraction", "uncertainty"),
        100.0,
    ),
}


@pytest.mark.parametrize("name", TWO_PARTS)
def test_a_quantity_has_one_spread_in_sentence_table_and_json(name: str) -> None:
    texts, (output, spread), percent = TWO_PARTS[name]
    calculator = load().calculators[name].calculator
    result = run(calculator, bind(calculator, texts))
    both = getattr(result.found, spread)
    assert both > 1.2 * getattr(result.computed, spread)
    said = [
        float(found[1].replace(",", ""))
        for reason in result.judgement.reasons
        if (found := re.search(r"± ([\d.,]+)[^±]*k = 2", reason))
    ]
    assert said == [pytest.approx(percent * both, rel=0.15)]
    field = next(field for field in calculator.outputs if field.name == output)
    text = format_value(getattr(result.found, output), field, result.uncertainties[output])
    assert 2.0 * (read_measured(field, text, BY_HAND).uncertainty or 0.0) == pytest.approx(both, rel=0.05)
    assert f"{field.words}  {text}" in re.sub(" {2,}", "  ", "\n".join(result_lines(result)))
    as_json = result.as_dict()
    assert as_json["outputs"][spread] == pytest.approx(both)
    assert 2.0 * as_json["standard_uncertainties_k1"][output] == pytest.approx(both)
    assert "the second from what was typed (k = 2)" in result.working()[-1]


def test_a_typed_spread_replaces_what_is_assumed_of_the_same_number_unless_that_was_given_too() -> None:
    texts, (_, spread), _ = TWO_PARTS["falling-ball"]
    calculator = load().calculators["falling-ball"].calculator
    typed = run(calculator, bind(calculator, texts))
    assert typed.given.ball_diameter_error_mm == 0.0
    assert "ball diameter error 0 mm (what was typed counts in its place)" in " ".join(
        " ".join(result_lines(typed)).split()
    )
    assert typed.given.tube_diameter_error_mm == 0.1
    given_too = run(calculator, bind(calculator, {**texts, "ball_diameter_error_mm": "0.01"}))
    assert given_too.given.ball_diameter_error_mm == 0.01
    assert getattr(given_too.found, spread) > getattr(typed.found, spread)
    one_density = run(calculator, bind(calculator, {**texts, "oil_density_g_cm3": "0.97 ± 0.01 (k = 2)"}))
    assert one_density.given.density_uncertainty_g_cm3 == 0.03
    timed = run(calculator, bind(calculator, {**texts, "times": ["33.0 ± 0.6 (k = 2)"]}))
    assert timed.given.time_uncertainty_s == 0.0
    assert "1 fall timed, counted as sure as it was typed: time three" in timed.findings[0]


def test_an_interval_that_typed_spreads_widen_decides_what_follows_from_it() -> None:
    calculator = load().calculators["fluid-ratio"].calculator
    times = ["a:20 ± 5 (k = 2)", "a:20.2 ± 5 (k = 2)", "b:24 ± 5 (k = 2)", "b:24.2 ± 5 (k = 2)"]
    result = run(calculator, bind(calculator, {"times": times, "temperature_c": "21"}))
    assert result.found.ratio_low < 1.0 < result.found.ratio_high
    assert (result.verdict, result.found.thicker) == ("unclear", "cannot tell")
    assert result.judgement.reasons[0].startswith("cannot tell")


def test_a_listing_says_which_of_its_spreads_were_taken_as_k_2() -> None:
    calculator = load().calculators["fluid-ratio"].calculator
    field = next(field for field in calculator.inputs if field.name == "times")
    spreads = {
        ("± 0.1", "± 0.1", "± 0.1"): "(3, ± taken as k = 2, as printed here)",
        ("± 0.1 (k = 1)", "± 0.1", ""): "(3, ± of time 2 taken as k = 2, as printed here)",
        ("± 0.1 (k = 1)", "", "± 0.1 (k = 2)"): "(3)",
    }
    for (first, second, third), text in spreads.items():
        times = [f"a:20 {first}", f"a:20.2 {second}", f"b:24 {third}"]
        assert input_text(run(calculator, bind(calculator, {"times": times, "temperature_c": "21"})), field) == text


@pytest.mark.parametrize(("calculator", "worked"), EXAMPLES)
def test_every_spread_of_an_answer_has_its_k_on_its_line(calculator: Calculator[Any, Any], worked: Worked) -> None:
    result = run(calculator, bind(calculator, with_spreads(calculator, worked)))
    for line in result_lines(result, explain=True):
        assert len(SPREAD.findall(line)) == line.count("±"), line


PLUS_MINUS = re.compile(r"±|\\N\{PLUS-MINUS|\\(?:x|u00|U000000)b1", re.IGNORECASE)
"""The sign in a source, as it is or by its name or number."""


def _texts(path: Path) -> Iterator[str]:
    """The texts of a module that has the sign, each f-string as one with the code of its values."""
    source = path.read_text(encoding="utf-8")
    if not PLUS_MINUS.search(source):
        return
    tree = ast.parse(source)
    inside = {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in ast.walk(node)} - {
        id(node) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            yield ast.unparse(node)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in inside:
            yield node.value


NO_K = (
    "display/format.py: f'{power_of_ten(value)} ± {power_of_ten(half)}'",
    "display/format.py: f'{shown} ± {power_of_ten(half)}'",
    "display/format.py: f'{(0.0 if is_noise(value) else value):z.{decimals}f} ± {half:.{decimals}f}'",
)
"""The two numbers alone: what calls for them adds the unit and the k."""


def test_no_text_of_the_program_has_a_spread_without_its_k() -> None:
    """A tolerance or a window is so much "either way"; a ± is an uncertainty, with its k behind it."""
    without = []
    for package in (bevelbook, bevelbook_plugins):
        folder = Path(str(package.__file__)).parent
        for path in sorted(folder.rglob("*.py")):
            for text in _texts(path):
                if re.search(r"±\s*[\d{]", text) and not re.search(r"\bk = [12]|WITH_K|TAKEN_AS|\{k\}", text):
                    without.append(f"{path.relative_to(folder)}: {text}")
    assert sorted(without) == sorted(NO_K)
