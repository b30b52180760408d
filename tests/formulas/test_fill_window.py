"""Which readings count as full, against the definition written out in exact decimals."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bevelbook.formulas.fill_window import decimals_of, fill_window, reading_in_words, usual_half_width_g

STEPS = ("0.001", "0.002", "0.005", "0.01", "0.02", "0.05", "0.1", "0.2", "0.5")
thousandths = st.integers(5_000, 60_000)


@given(thousandths, st.integers(1, 400), st.sampled_from(STEPS))
def test_every_reading_that_the_scale_shows_within_the_tolerance_is_fine_and_no_other(
    target: int, half_width: int, step: str
) -> None:
    """Brute force over the readings of the scale around the target."""
    exact, tolerance, each = Decimal(target) / 1000, Decimal(half_width) / 1000, Decimal(step)
    first = int((exact - tolerance) / each) - 2
    shown = [each * number for number in range(first, first + int(2 * tolerance / each) + 6)]
    fine = [one for one in shown if abs(one - exact) <= tolerance]
    least = min(abs(one - exact) for one in shown)
    window = fill_window(float(exact), float(tolerance), float(step))
    assert window.can_hit is bool(fine)
    if fine:
        assert (window.low_g, window.high_g) == (float(fine[0]), float(fine[-1]))
    else:
        assert window.low_g == window.high_g == window.nearest_g
    assert abs(Decimal(str(window.nearest_g)) - exact) == least
    for one in shown:
        is_full = abs(one - exact) <= tolerance or abs(one - exact) == least
        assert window.too_much(float(one)) is (one > exact and not is_full)
        assert window.too_little(float(one)) is (one < exact and not is_full)


@pytest.mark.parametrize(("oil", "half"), [(0.5, 0.02), (1.86, 0.02), (2.0, 0.02), (2.5, 0.025), (4.5, 0.045)])
def test_one_percent_of_the_oil_but_not_under_a_drop(oil: float, half: float) -> None:
    """This project's proposal; a drop of about 0.02 g is common practice, no source."""
    assert usual_half_width_g(oil) == pytest.approx(half)


@pytest.mark.parametrize("step", STEPS)
def test_a_reading_has_the_decimals_of_the_scale(step: str) -> None:
    exponent = Decimal(step).as_tuple().exponent
    assert isinstance(exponent, int)
    assert decimals_of(float(step)) == -exponent
    assert reading_in_words(float(step), float(step)) == step
