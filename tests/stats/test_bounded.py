"""The sum of errors of which only bounds are known."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest

from bevelbook.stats.bounded import half_width_of_bounded


def test_one_and_two_equal_bounds_by_hand() -> None:
    """Evenly spread in ±1: 0.95. Two of them are triangular in ±2: 1 - (2 - h)²/4 = 0.95."""
    assert half_width_of_bounded([2.0]) == pytest.approx(1.9)
    assert half_width_of_bounded([1.0, 1.0]) == pytest.approx(2.0 - 2.0 * sqrt(0.05), abs=1e-4)


def test_a_trapezium_by_hand() -> None:
    """±1 and ±0.5: density 1/2 in ±0.5, then down to 0 at ±1.5; (1.5 - h)² / 2 = 0.05."""
    assert half_width_of_bounded([0.5, 1.0]) == pytest.approx(1.5 - sqrt(0.1), abs=1e-4)


def test_many_come_near_the_normal_distribution() -> None:
    """Twelve of ±1: standard deviation 2, 1.96 of it 3.92."""
    assert half_width_of_bounded([1.0] * 12) == pytest.approx(3.92, abs=0.03)


def test_it_holds_its_share_of_drawn_sums() -> None:
    bounds, rng = (1.9, 0.94, 0.03), np.random.default_rng(20)
    sums = sum(bound * rng.uniform(-1, 1, 200_000) for bound in bounds)
    assert np.mean(np.abs(sums) <= half_width_of_bounded(bounds)) == pytest.approx(0.95, abs=0.002)


def test_no_error_has_no_width() -> None:
    assert half_width_of_bounded([0.0, 0.0]) == 0.0
