"""A prediction interval for one new run, from runs that come in days."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm

from bevelbook.stats.prediction import fit_by_day, inflation

TIME = [
    *(16.68, 11.50, 12.03, 14.88, 13.75, 18.11, 8.00, 17.83, 79.24, 21.50, 40.33, 21.00, 13.50, 19.75, 24.00, 29.00),
    *(15.35, 19.00, 9.50, 35.10, 17.90, 52.32, 18.75, 19.83, 10.75),
]
CASES = [7, 3, 3, 4, 6, 7, 2, 7, 30, 5, 16, 10, 4, 6, 9, 10, 6, 7, 3, 17, 10, 26, 9, 8, 4]
FEET = [
    *(560, 220, 340, 80, 150, 330, 110, 210, 1460, 605, 688, 215, 255, 462, 448, 776, 200, 132, 36, 770, 140, 810),
    *(450, 635, 150),
]
"""Montgomery, Peck, Vining, Introduction to Linear Regression Analysis (John Wiley & Sons): delivery time data. Time
and cases read in a web copy (table 2.11), feet from memory."""


def test_a_published_prediction_interval() -> None:
    """The same book: at 8 cases and 275 feet a new delivery takes 12.28 to 26.16 minutes (printed figures from memory;
    that they come out confirms them and the feet)."""
    fit = fit_by_day(list(zip(CASES, FEET, strict=True)), TIME, range(25))
    assert fit is not None
    found = fit.at([8.0, 275.0])
    assert found.value - found.half_width == pytest.approx(12.28, abs=0.005)
    assert found.value + found.half_width == pytest.approx(26.16, abs=0.005)


def test_a_published_line() -> None:
    """The same book, table 2.12 (read): time = 3.321 + 2.1762 cases, S = 4.18140."""
    fit = fit_by_day([[float(one)] for one in CASES], TIME, range(25))
    assert fit is not None
    assert fit.coefficients == pytest.approx([3.321, 2.1762], abs=5e-4)
    assert fit.between**0.5 == pytest.approx(4.18140, abs=5e-6)


def test_one_run_a_day_is_the_interval_of_statsmodels() -> None:
    rng = np.random.default_rng(3)
    x = rng.normal([22.0, 31.0], [5.0, 7.0], (14, 2))
    y = 5.0 + x @ [0.4, 0.5] + rng.normal(0.0, 2.0, 14)
    fit = fit_by_day(x.tolist(), y.tolist(), range(14))
    peer = sm.OLS(y, sm.add_constant(x)).fit()
    frame = peer.get_prediction([[1.0, 25.0, 30.0]]).summary_frame(alpha=0.05)
    assert fit is not None
    found = fit.at([25.0, 30.0])
    assert found.value == pytest.approx(frame["mean"].iloc[0], rel=1e-10)
    assert found.value + found.half_width == pytest.approx(frame["obs_ci_upper"].iloc[0], rel=1e-9)
    assert found.largest_leverage == pytest.approx(max(peer.get_influence().hat_matrix_diag), rel=1e-9)


def test_equal_runs_of_a_day_do_not_count_twice() -> None:
    """The same run written down three times a day is one run a day, but for the spread within days, which is zero."""
    x, y = [[20.0], [24.0], [28.0], [30.0], [35.0]], [30.0, 33.5, 35.0, 37.0, 40.0]
    once = fit_by_day(x, y, "abcde")
    thrice = fit_by_day([row for row in x for _ in range(3)], [one for one in y for _ in range(3)], "aaabbbcccdddeee")
    assert once is not None and thrice is not None
    assert (thrice.days, thrice.runs) == (5, 15)
    assert thrice.at([26.0]).half_width == pytest.approx(once.at([26.0]).half_width)


def test_the_spread_within_days_widens_it() -> None:
    """Two runs a day, 2 °C above and below: variance within 8 by hand (2 × 4 on one degree of freedom a day)."""
    x, y = [[20.0], [24.0], [28.0], [30.0], [35.0]], [30.0, 33.5, 35.0, 37.0, 40.0]
    twice = fit_by_day(
        [row for row in x for _ in range(2)], [one + off for one in y for off in (-2.0, 2.0)], "aabbccddee"
    )
    once = fit_by_day(x, y, "abcde")
    assert once is not None and twice is not None
    assert (twice.within, twice.runs_a_day) == (pytest.approx(8.0), pytest.approx(2.0))
    assert twice.between == pytest.approx(once.between)
    assert twice.at([26.0]).half_width > once.at([26.0]).half_width


def test_days_that_do_not_determine_it_have_no_fit() -> None:
    assert fit_by_day([[20.0], [24.0]], [30.0, 33.0], "ab") is None
    assert fit_by_day([[20.0]] * 6, [30.0, 31.0, 32.0, 33.0, 34.0, 35.0], "abcdef") is None
    assert fit_by_day([[20.0, 40.0], [24.0, 48.0], [26.0, 52.0], [30.0, 60.0]], [1.0, 2.0, 3.0, 4.0], "abcd") is None


def test_all_equal_values_have_no_spread_and_no_fault() -> None:
    fit = fit_by_day([[20.0], [24.0], [28.0]], [38.0, 38.0, 38.0], "abc")
    assert fit is not None
    assert fit.at([25.0]).half_width == pytest.approx(0.0, abs=1e-9)
    assert fit.at([25.0], least_sd=0.5).half_width == pytest.approx(12.706 * 0.5, abs=0.01)


def test_inflation_of_predictors_that_move_together() -> None:
    """1 / (1 - r²): r = 0.6 gives 1.5625."""
    assert inflation([1.0, 2.0, 3.0, 4.0], [2.0, 1.0, 4.0, 3.0]) == pytest.approx(1.5625)
    assert inflation([1.0, 2.0, 3.0], [2.0, 4.0, 6.0]) == float("inf")
    assert inflation([1.0, 2.0, 3.0], [5.0, 5.0, 5.0]) == 1.0
