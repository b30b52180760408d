"""Boschloo's test against a general-purpose library: scipy.stats.boschloo_exact, an independent implementation."""

from __future__ import annotations

import pytest
from scipy.stats import boschloo_exact

from bevelbook.stats.boschloo import chance_both_ways


@pytest.mark.parametrize(
    "counts",
    [
        (1, 1, 0, 1),
        (2, 2, 1, 5),
        (5, 6, 1, 7),
        (3, 12, 1, 23),
        (24, 25, 11, 20),
        (10, 11, 0, 2),
        (74, 117, 31, 63),
        (900, 1100, 0, 4),
    ],
)
def test_the_library_finds_the_same_chance(counts: tuple[int, int, int, int]) -> None:
    """The last has whole numbers of over 330 digits, more than a float holds."""
    a, of_a, b, of_b = counts
    expected = boschloo_exact([[a, b], [of_a - a, of_b - b]]).pvalue
    assert chance_both_ways(a, of_a, b, of_b) == pytest.approx(expected, rel=1e-9)
