"""Least squares with known errors, against statsmodels and a published set."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
import statsmodels.api as sm

from bevelbook.stats.known_scatter import line_of_known_scatter
from bevelbook.stats.several import k_of_several

REFERENCES = Path(__file__).parent.parent / "references"


@pytest.mark.parametrize("seed", range(4))
def test_the_line_is_that_of_generalised_least_squares_of_another_library(seed: int) -> None:
    """statsmodels GLS, its scale divided out; constructed weighings with shared shifts."""
    chance = np.random.default_rng(seed)
    x = np.sort(chance.uniform(0.0, 60.0, 6 + seed))
    days = chance.integers(0, 3, len(x))
    covariance = np.diag(chance.uniform(1e-5, 1e-4, len(x))) + 2e-4 * (days[:, None] == days[None, :])
    y = 22.4 - 0.003 * x + chance.multivariate_normal(np.zeros(len(x)), covariance)
    line = line_of_known_scatter(x.tolist(), y.tolist(), covariance.tolist())
    fit = sm.GLS(y, sm.add_constant(x), sigma=covariance).fit()
    assert line.slope == pytest.approx(fit.params[1], rel=1e-8)
    assert line.intercept == pytest.approx(fit.params[0], rel=1e-10)
    assert line.slope_error == pytest.approx(fit.bse[1] / fit.scale**0.5, rel=1e-8)
    assert line.misfit == pytest.approx(fit.scale * line.degrees_of_freedom, rel=1e-8)


def test_with_equal_errors_it_is_the_certified_line() -> None:
    """NIST Statistical Reference Datasets, Norris: certified slope, its standard deviation and residual sum of squares.

    The residual standard deviation 0.884796396144373 is taken as the known error of each.
    """
    with (REFERENCES / "statistics_nist_norris.csv").open(encoding="utf-8", newline="") as file:
        rows = [(float(row["x"]), float(row["y"])) for row in csv.DictReader(file)]
    known = np.diag(np.full(len(rows), 0.884796396144373**2))
    line = line_of_known_scatter([one[0] for one in rows], [one[1] for one in rows], known.tolist())
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-10)
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-9)
    assert line.slope_error == pytest.approx(0.429796848199937e-3, rel=1e-9)
    assert line.misfit * 0.884796396144373**2 == pytest.approx(26.6173985294224, rel=1e-9)


def test_of_many_chances_together_one_is_wrong_as_often_as_said() -> None:
    """Largest of m independent standard normal errors, either way: above k in 5 % of 100,000 simulated series."""
    chance = np.random.default_rng(1967)
    for many in (2, 5, 9):
        largest = np.abs(chance.standard_normal((100_000, many))).max(axis=1)
        assert float((largest > k_of_several(many, 0.05)).mean()) == pytest.approx(0.05, abs=0.003)
