"""Least squares with several columns and Welch's interval, against statsmodels and scipy. Values are constructed."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
import statsmodels.api as sm
from numpy.typing import NDArray
from scipy import stats
from statsmodels.stats.weightstats import CompareMeans, DescrStatsW

from bevelbook.stats.least_squares import least_squares
from bevelbook.stats.odd_one_out import odd_residual
from bevelbook.stats.welch import welch

FEW_A, FEW_B = (15.61, 15.70, 15.65), (15.70, 15.72)


def constructed(
    rng: np.random.Generator, rows: int = 9, columns: int = 3
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    design = rng.normal(0.0, 1.0, (rows, columns))
    design[:, 0] = 1.0
    return design, rng.normal(15.0, 0.1, rows)


@pytest.mark.parametrize("start", range(5))
def test_coefficients_and_any_sum_of_them_against_statsmodels(start: int) -> None:
    """Independent library: statsmodels OLS, coefficients, intervals, a weighted sum (t_test), leverages."""
    design, values = constructed(np.random.default_rng(start))
    fit, library = least_squares(design.T.tolist(), values.tolist()), sm.OLS(values, design).fit()
    for place in range(3):
        weights = [float(place == one) for one in range(3)]
        found = fit.interval(weights)
        assert found is not None
        low, high = library.conf_int()[place]
        assert found == pytest.approx((library.params[place], low, high, library.df_resid), rel=1e-9)
    both, expected = fit.interval([1.0, -0.5, 2.0]), library.t_test(np.array([1.0, -0.5, 2.0]))
    assert both is not None
    assert both[:3] == pytest.approx((expected.effect.item(), *expected.conf_int()[0]), rel=1e-9)
    assert fit.leverages == pytest.approx(library.get_influence().hat_matrix_diag, rel=1e-9)


def test_what_columns_do_not_determine_has_no_interval() -> None:
    """Two columns that are one: each alone is not determined, their sum is."""
    fit = least_squares([[1, 1, 1, 1], [0, 1, 2, 3], [0, 1, 2, 3]], [1.0, 3.0, 4.9, 7.1])
    assert fit.interval([0, 1, 0]) is None
    total = fit.interval([0, 1, 1])
    assert total is not None
    assert total.value == pytest.approx(2.02)
    assert total.degrees_of_freedom == 2


def test_columns_of_very_different_size_are_fitted() -> None:
    fit = least_squares([[1.0] * 4, [0.0, 1e9, 2e9, 3e9]], [1.0, 3.0, 4.9, 7.1])
    slope = fit.interval([0, 1])
    assert slope is not None
    assert slope.value == pytest.approx(2.02e-9, rel=1e-9)
    assert slope.high == pytest.approx(2.2026e-9, rel=1e-4)


def test_without_a_value_left_over_there_is_no_interval() -> None:
    assert least_squares([[1, 1], [0, 1]], [1.0, 2.0]).interval([0, 1]) is None


def test_rounding_keeps_an_interval_open() -> None:
    found = least_squares([[1, 1, 1], [0, 1, 2]], [1.0, 2.0, 3.0], smallest_sd=0.1).interval([0, 1])
    assert found is not None
    assert found.high - found.value == pytest.approx(stats.t.ppf(0.975, 1) * 0.1 / 2**0.5)


@pytest.mark.parametrize("start", range(20))
def test_an_odd_value_of_a_fit_against_statsmodels(start: int) -> None:
    """Independent library: OLSInfluence, outlier_test with Bonferroni at 1 %; every second case has a value far off."""
    design, values = constructed(np.random.default_rng(start))
    values[4] += 2.0 * (start % 2)
    library = sm.OLS(values, design).fit().outlier_test()
    least = int(np.argmin(library[:, 2]))
    expected = least if library[least, 2] < 0.01 else None
    assert odd_residual(least_squares(design.T.tolist(), values.tolist()), values.tolist()) == expected
    assert expected == (4 if start % 2 else None)


def test_an_odd_value_needs_two_degrees_of_freedom_and_more_than_rounding() -> None:
    times = [15.6, 15.6, 15.6, 15.6, 15.7]
    mean_alone = [[1.0] * 5]
    assert odd_residual(least_squares(mean_alone, times), times, smallest_sd=0.0289) is None
    assert odd_residual(least_squares(mean_alone, times), times, smallest_sd=0.001) == 4
    assert odd_residual(least_squares([[1.0, 1.0]], [15.6, 19.9]), [15.6, 19.9]) is None


def test_welch_against_scipy_and_statsmodels() -> None:
    """Independent libraries: scipy's ttest_ind and statsmodels' CompareMeans with unequal variances."""
    found, fit = welch(FEW_A, FEW_B), stats.ttest_ind(FEW_B, FEW_A, equal_var=False)
    assert found[1:] == pytest.approx((*fit.confidence_interval(0.95), fit.df), rel=1e-9)
    library = CompareMeans(DescrStatsW(FEW_B), DescrStatsW(FEW_A)).tconfint_diff(usevar="unequal")
    assert (found.low, found.high) == pytest.approx(library, rel=1e-9)


def test_one_side_of_equal_times_gives_the_same_without_a_warning() -> None:
    """scipy's ttest_ind computes it too, and warns."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        low, high = stats.ttest_ind((15.70, 15.71), (15.6, 15.6), equal_var=False).confidence_interval(0.95)
    found = welch((15.6, 15.6), (15.70, 15.71))
    assert (found.low, found.high) == pytest.approx((low, high), rel=1e-9)
