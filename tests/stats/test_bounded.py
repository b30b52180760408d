"""The sum of errors of which only bounds are known."""

from __future__ import annotations

from fractions import Fraction
from math import comb, factorial, sqrt

import numpy as np
import pytest

from bevelbook.stats.bounded import _by_frequencies, _by_pieces, _on_grid, half_width_of_bounded


def test_one_and_two_equal_bounds_by_hand() -> None:
    """Evenly spread in ±1: 0.95. Two of them are triangular in ±2: 1 - (2 - h)²/4 = 0.95."""
    assert half_width_of_bounded([2.0]) == pytest.approx(1.9)
    assert half_width_of_bounded([1.0, 1.0]) == pytest.approx(2.0 - 2.0 * sqrt(0.05), rel=1e-12)


def test_a_trapezium_by_hand() -> None:
    """±1 and ±0.5: density 1/2 in ±0.5, then down to 0 at ±1.5; (1.5 - h)² / 2 = 0.05."""
    assert half_width_of_bounded([0.5, 1.0]) == pytest.approx(1.5 - sqrt(0.1), rel=1e-12)


def test_many_come_near_the_normal_distribution() -> None:
    """Twelve of ±1: standard deviation 2, 1.96 of it 3.92."""
    assert half_width_of_bounded([1.0] * 12) == pytest.approx(3.92, abs=0.03)


def test_it_holds_its_share_of_drawn_sums() -> None:
    bounds, rng = (1.9, 0.94, 0.03), np.random.default_rng(20)
    sums = sum(bound * rng.uniform(-1, 1, 200_000) for bound in bounds)
    assert np.mean(np.abs(sums) <= half_width_of_bounded(bounds)) == pytest.approx(0.95, abs=0.002)


def test_no_error_has_no_width() -> None:
    assert half_width_of_bounded([0.0, 0.0]) == 0.0


@pytest.mark.parametrize("count", [2, 3, 5, 6, 7, 9, 13, 20, 40, 200])
def test_many_equal_bounds_hold_their_share_by_the_irwin_hall_distribution(count: int) -> None:
    """The sum of ``count`` errors evenly spread in 0 to 1 has the distribution function
    sum of (-1)^k C(n, k) (x - k)^n / n! for k up to x (Irwin 1927, Hall 1927), worked out here in fractions."""
    place = Fraction(half_width_of_bounded([1.0] * count)) / 2 + Fraction(count, 2)
    below = sum((-1) ** k * comb(count, k) * (place - k) ** count for k in range(int(place) + 1)) / factorial(count)
    assert float(2 * below - 1) == pytest.approx(0.95, abs=1e-12)


@pytest.mark.parametrize(
    "bounds",
    [(1.0, 0.5, 0.03), (2.0, 1.9, 1.8, 0.7), (1.0, 0.9, 0.8, 0.3, 0.2, 0.15), (3.0, 2.0, 2.0, 1.0, 1.0, 1.0, 0.5, 0.4)],
)
def test_uneven_bounds_hold_their_share_by_every_way(bounds: tuple[float, ...]) -> None:
    """The pieces of the distribution, the series and the grid, of which none shares a step with another."""
    by_series, by_pieces = _by_frequencies(bounds, 0.95), _by_pieces(bounds, 0.95)
    assert by_pieces is not None and half_width_of_bounded(bounds) == pytest.approx(by_pieces, rel=1e-10)
    assert _on_grid(bounds, 0.95) == pytest.approx(by_pieces, rel=2e-5)
    if len(bounds) > 4:
        assert by_series == pytest.approx(by_pieces, rel=1e-10)
    else:
        assert by_series is None


@pytest.mark.parametrize("small", [2e-4, 1e-3, 0.01])
@pytest.mark.parametrize("count", [1, 2, 3, 4, 5])
def test_bounds_far_below_another_are_not_lost_in_the_last_digits(small: float, count: int) -> None:
    """One error of ±1 and others so small: near the middle of its range the distribution function of the sum is as that
    of the one alone, so the half-width is 0.95 as long as the others together reach nowhere near the end."""
    assert half_width_of_bounded([1.0, *[small] * count]) == pytest.approx(0.95, rel=2e-5)


def test_one_bound_far_above_many_others_is_taken_step_by_step() -> None:
    """With 13 others that hardly count it is nearly the one alone, which holds 95 % in 0.95 of itself."""
    assert half_width_of_bounded([1.0, *[2e-4] * 13]) == pytest.approx(0.95, rel=1e-3)
