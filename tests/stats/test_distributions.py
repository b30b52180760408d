"""Distributions in plain arithmetic, against the library scipy and printed tables."""

from __future__ import annotations

from math import inf, isnan, sqrt

import pytest
from scipy.special import betainc, chdtri, nctdtr, ndtri, stdtr, stdtrit

from bevelbook.stats.distributions import (
    beta_share,
    chi_squared_over,
    noncentral_t_chance,
    normal_quantile,
    t_chance,
    t_quantile,
    where_zero,
)

# Abramowitz and Stegun, Handbook of Mathematical Functions, 1964, table 26.10: percentage points of t (from memory).
PRINTED_T = {(1, 0.975): 12.706, (2, 0.975): 4.303, (10, 0.975): 2.228, (30, 0.95): 1.697, (120, 0.995): 2.617}
FREEDOMS = (0.3, 0.7, 1, 1.3, 2, 2.5, 3, 6, 7.7, 30, 99.5, 101, 2000, 4999, 5001, 1e6, inf)


@pytest.mark.parametrize(("of", "printed"), PRINTED_T.items())
def test_quantiles_of_t_are_those_of_the_printed_table(of: tuple[int, float], printed: float) -> None:
    assert round(t_quantile(*of), 3) == printed


def test_quantiles_are_those_of_the_library() -> None:
    for free in FREEDOMS:
        for share in (0.6, 0.8, 0.95, 0.975, 0.995):
            assert t_quantile(free, share) == pytest.approx(float(stdtrit(free, share)), rel=1e-9)
            assert t_quantile(free, 1.0 - share) == pytest.approx(-t_quantile(free, share), rel=1e-12)
            if free < inf:
                assert t_chance(free, t_quantile(free, share)) == pytest.approx(share, rel=1e-11)
    for share in (1e-9, 0.01, 0.4, 0.51, 0.975, 0.9999):
        assert normal_quantile(share) == pytest.approx(float(ndtri(share)), rel=1e-14)
    closed_form = 0.95 * sqrt(2.0 / (4.0 * 0.975 * 0.025))  # of two degrees of freedom
    assert t_quantile(2, 0.975) == pytest.approx(closed_form, rel=1e-14)
    assert isnan(t_quantile(0, 0.975))


def test_chances_are_those_of_the_library() -> None:
    for free in (0.7, 1, 2, 3.5, 10, 100, 3e4):
        for t in (-9.0, -2.0, -0.1, 0.0, 0.3, 4.0):
            assert t_chance(free, t) == pytest.approx(float(stdtr(free, t)), abs=1e-13)
    for a, b, x in ((0.5, 3.0, 0.2), (40.0, 0.5, 0.97), (17.0, 80.0, 0.1), (1.0, 1.0, 0.4), (90.0, 90.0, 0.5)):
        assert beta_share(a, b, x, 1.0 - x) == pytest.approx(float(betainc(a, b, x)), abs=1e-13)
    assert (beta_share(2.0, 3.0, 0.0, 1.0), beta_share(2.0, 3.0, 1.0, 0.0)) == (0.0, 1.0)


def test_a_chance_of_the_noncentral_t_is_that_of_the_library() -> None:
    for free in (1, 2, 5, 41, 300):
        limit = t_quantile(free, 0.975)
        for away in (0.0, 0.5, 2.0, 6.5, 9.0):
            expected = float(nctdtr(free, away, limit))
            assert noncentral_t_chance(free, away, limit) == pytest.approx(expected, abs=1e-12)
    for away in (0.0, 0.5, 2.0):  # farther out the library has no number
        assert noncentral_t_chance(5, away, -2.0) == pytest.approx(float(nctdtr(5, away, -2.0)), abs=1e-12)


def test_a_chi_squared_is_that_of_the_library() -> None:
    for free in (1, 2, 3, 9, 50, 199):
        for chance in (0.025, 0.05, 0.975):
            assert chi_squared_over(free, chance) == pytest.approx(float(chdtri(free, chance)), rel=1e-12)


def test_a_zero_is_found_from_either_side() -> None:
    for low, high in ((0.0, 2.0), (2.0, 0.0), (-1.0, 1.5)):
        assert where_zero(lambda x: x**3 - 1.0, low, high, 1e-12) == pytest.approx(1.0, abs=1e-12)
    assert where_zero(lambda x: x, 0.0, 1.0, 1e-12) == 0.0
    assert where_zero(lambda x: x - 1.0, 0.0, 1.0, 1e-12) == 1.0
