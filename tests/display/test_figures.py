"""Figures: powers from 1e12 on, no minus before a zero, and a ± that keeps its k on its line."""

from __future__ import annotations

import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bevelbook.calculating.calculate import bind, run
from bevelbook.calculating.result_text import result_lines
from bevelbook.declare.fields import Field
from bevelbook.display.format import (
    DECIMALS,
    MOST_DECIMALS,
    format_figure,
    format_number,
    format_spread,
    format_typed,
    wrapped,
)
from bevelbook.display.tidy import tidied
from bevelbook.formulas.rounded_up import rounded_up
from bevelbook.plugin.registry import Registry

numbers = st.floats(allow_nan=False, allow_infinity=False)


POWERS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻", "0123456789-")


def read(text: str) -> float:
    """The number that a figure says."""
    digits, _, power = text.replace(",", "").partition(" × 10")
    return float(digits) * 10.0 ** int(power.translate(POWERS) or 0)


@given(numbers, st.sampled_from([*DECIMALS, "another"]), st.sampled_from(["", "+"]))
def test_a_figure_has_no_row_of_digits_and_no_minus_before_a_zero(value: float, unit: str, sign: str) -> None:
    for text in (format_figure(value, unit, sign=sign), format_typed(value, unit)):
        assert len(text) < 24, text
        assert not re.fullmatch(r"[-+]?0?(\.0+)?", text) or text in ("0", f"{0.0:.{DECIMALS.get(unit, 3)}f}"), text
        assert "e" not in text, text


@given(st.floats(1e-9, 1e12, exclude_max=True), st.sampled_from([*DECIMALS, "another"]))
def test_a_figure_is_the_number_to_the_last_digit_printed(value: float, unit: str) -> None:
    """Half a unit of the last digit; a small number keeps two digits that count, unless its unit calls it a zero."""
    text = format_figure(value, unit)
    decimals = len(text.partition(".")[2])
    assert abs(read(text) - value) <= 0.5000001 * 10.0**-decimals + 1e-9 * value
    assert decimals <= max(DECIMALS.get(unit, 3), MOST_DECIMALS.get(unit, 12))
    if unit not in MOST_DECIMALS:
        assert abs(read(text) - value) <= 0.051 * value


@given(st.floats(-1e300, 1e300), st.floats(1e-9, 1e300))
def test_a_spread_has_two_digits_at_least_and_no_more_than_needed(value: float, uncertainty: float) -> None:
    """Half a unit of the second digit of ``± 10`` is a twentieth of it, and it is twice the standard uncertainty."""
    number, half = format_spread(value, uncertainty).split(" ± ")
    assert read(half) == pytest.approx(2.0 * uncertainty, rel=0.051)
    near = 0.005 if "×" in number else 1e-5
    assert abs(read(number) - value) <= max(0.1001 * uncertainty, near * abs(value))
    assert not re.fullmatch(r"-0(\.0+)?", number)


def test_a_spread_of_a_zero_has_no_minus() -> None:
    assert [format_spread(-0.0, half) for half in (0.1, 5e11)] == ["0.00 ± 0.20", "0 ± 1 × 10¹²"]


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("backlash -0.00 mm", "backlash 0.00 mm"),
        ("fill 6, -0.000 g, is outside", "fill 6, 0.000 g, is outside"),
        ("−0 K", "0 K"),
        ("-0.04 mm", "-0.04 mm"),
        ("2026-05-03, rear-0, 10-0", "2026-05-03, rear-0, 10-0"),
        ("grown 636868979872626114560.0 %", "grown 6.37 × 10²⁰ %"),
        ("± 1,370,000,000,000,000 cSt (k = 2)", "± 1.37 × 10¹⁵ cSt (k = 2)"),
        ("999,999,999,999 g", "999,999,999,999 g"),
        ("", ""),
    ],
)
def test_sentences_are_tidied(text: str, plain: str) -> None:
    assert tidied(text) == plain


@pytest.mark.parametrize(
    ("name", "texts"),
    [
        ("shims", {"float_mm": "0.1", "target_float_mm": "0.1", "sizes": ["0.2"]}),
        ("fill-repeatability", {"fills": ["0.1", "0.11", "0.1", "0.09", "0.1", "-0.0004"]}),
        ("degas", {"viscosity_cst": "7000", "bubble_mm": "1e-9", "wait_s": "60"}),
        ("viscosity", {"viscosity_cst": "1e12", "temperature_c": "0"}),
    ],
)
def test_no_answer_has_a_minus_before_a_zero_or_a_row_of_digits(
    registry: Registry, name: str, texts: dict[str, Any]
) -> None:
    calculator = registry.calculator(name).calculator
    for line in result_lines(run(calculator, bind(calculator, texts)), explain=True):
        assert not re.search(r"(?<![\w.])[-−]0(\.0+)?(?![.\d])|\d{13,}|\d(,\d{3}){4,}", line), line


def test_a_spread_and_its_k_stay_on_one_line() -> None:
    for before in range(60, 110):
        lines = wrapped(
            "x" * (before - 1) + " it is 0.30 ± 0.016 g (k = 2) and 5 ± 1 cSt taken as k = 2, as printed here"
        )
        assert any("0.30 ± 0.016 g (k = 2)" in line for line in lines)
        assert any("5 ± 1 cSt taken as k = 2, as printed here" in line for line in lines)
        lines = wrapped("x" * before + " went (0.041 ± 0.002 g per run, k = 2)")
        assert any("0.041 ± 0.002 g per run, k = 2)" in line for line in lines)


@pytest.mark.parametrize(
    ("value", "figures", "text"),
    [(12487.3, 4, "12,490"), (9393.0, 3, "9,390"), (388.0, 2, "390"), (634.2, None, "634")],
)
def test_a_number_has_no_more_figures_than_its_field_declares(value: float, figures: int | None, text: str) -> None:
    assert format_number(value, Field("viscosity_cst", "quantity", "", unit="cSt", figures=figures)) == text


def test_a_tiny_uncertainty_is_a_power_of_ten_and_no_row_of_noughts() -> None:
    assert format_spread(1.2e-6, 1.2e-24) == "0.000001200000 ± 2.4 × 10⁻²⁴"
    assert format_spread(1e-24, 1e-25) == "1 × 10⁻²⁴ ± 2 × 10⁻²⁵"
    assert rounded_up(3.4e-24) == "0.000000000001"
