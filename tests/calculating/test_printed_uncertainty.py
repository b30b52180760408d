"""What a ± means: none is printed without its k, and typed back it is the uncertainty that was printed.

JCGM 100:2008, 7.2.3: an expanded uncertainty is stated with its k; 7.2.6: two significant digits at most are enough.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import bevelbook
import bevelbook_plugins
from bevelbook.calculating.calculate import NOT_IN_FIGURES, bind, run
from bevelbook.calculating.result_text import input_text, result_lines
from bevelbook.declare.fields import Field
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
    assert (NOT_IN_FIGURES in result.findings) is (bool(result.bound.uncertainties) and not result.uncertainties)


@pytest.mark.parametrize(("calculator", "worked"), EXAMPLES)
def test_every_spread_of_an_answer_has_its_k_on_its_line(calculator: Calculator[Any, Any], worked: Worked) -> None:
    result = run(calculator, bind(calculator, with_spreads(calculator, worked)))
    for line in result_lines(result, explain=True):
        assert len(SPREAD.findall(line)) == line.count("±"), line


def _texts(path: Path) -> Iterator[str]:
    """The texts of a module, each f-string as one with the code of its values."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    inside = {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in ast.walk(node)} - {
        id(node) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            yield ast.unparse(node)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in inside:
            yield node.value


NO_K = (
    "display/format.py: f'{value:.6g} ± {half:.2g}'",
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
