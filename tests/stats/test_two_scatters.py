"""An interval for two groups that scatter differently. Independent libraries: scipy's Welch, statsmodels' HC2."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from bevelbook.stats.least_squares import Interval, least_squares
from bevelbook.stats.two_scatters import interval_of_two_scatters

VALUES = (15.58, 15.61, 15.67, 15.59, 15.62, 15.70, 15.59, 15.58)


def fitted(groups: str, values: Sequence[float], with_drift: bool = True, smallest_sd: float = 0.0) -> Interval | None:
    is_b = [group == "b" for group in groups]
    columns = [[float(one) for one in is_b], [1.0] * len(groups)]
    if with_drift:
        columns.append([float(place) for place in range(len(groups))])
    weights = [1.0] + [0.0] * (len(columns) - 1)
    return interval_of_two_scatters(least_squares(columns, values), weights, is_b, smallest_sd)


@pytest.mark.parametrize("groups", ["abbaabba", "aaaabbbb"])
def test_two_means_of_a_size_alone_are_welchs_interval(groups: str) -> None:
    found = fitted(groups, VALUES, with_drift=False)
    sides = [[value for value, group in zip(VALUES, groups, strict=True) if group == side] for side in "ba"]
    library = stats.ttest_ind(*sides, equal_var=False)
    low, high = library.confidence_interval()
    assert found is not None
    assert found[1:] == pytest.approx((low, high, library.df), rel=1e-9)


@pytest.mark.parametrize("groups", ["abbaabba", "bbabbabb", "abbabaab"])
def test_the_standard_error_is_that_of_statsmodels(groups: str) -> None:
    found = fitted(groups, VALUES)
    design = np.array([[group == "b", 1.0, place] for place, group in enumerate(groups)], dtype=float)
    library = sm.OLS(np.array(VALUES), design).fit().get_robustcov_results("HC2")
    assert found is not None
    half = float(stats.t.ppf(0.975, found.degrees_of_freedom)) * float(library.bse[0])
    assert (found.value, found.high - found.value) == pytest.approx((float(library.params[0]), half), rel=1e-9)


def test_a_single_turn_has_one_residual_and_the_interval_of_one_scatter() -> None:
    found = fitted("abba", (15.6, 15.70, 15.71, 15.6))
    design = np.array([[0, 1, 0], [1, 1, 1], [1, 1, 2], [0, 1, 3]], dtype=float)
    low, high = sm.OLS(np.array([15.6, 15.70, 15.71, 15.6]), design).fit().conf_int()[0]
    assert found is not None
    assert found[1:] == pytest.approx((low, high, 1.0), rel=1e-6)


def test_what_the_values_do_not_determine_has_no_interval() -> None:
    assert fitted("bbbb", VALUES[:4]) is None


def test_a_difference_that_rests_on_one_value_takes_one_scatter_for_both() -> None:
    """The only b has no residual; statsmodels: OLS."""
    groups = "aaabaaaa"
    found = fitted(groups, VALUES)
    design = np.array([[group == "b", 1.0, place] for place, group in enumerate(groups)], dtype=float)
    low, high = sm.OLS(np.array(VALUES), design).fit().conf_int()[0]
    assert found is not None
    assert found[1:3] == pytest.approx((low, high), rel=1e-9)


def test_values_without_scatter_keep_the_smallest() -> None:
    found = fitted("abba", (15.5, 15.6, 15.6, 15.5), smallest_sd=0.03)
    assert found is not None
    assert found.high - found.value == pytest.approx(float(stats.t.ppf(0.975, 1)) * 0.03, rel=1e-6)


@pytest.mark.parametrize("of_a", [0.03, 0.1, 0.3])
def test_it_holds_the_truth_where_one_group_scatters_more(of_a: float) -> None:
    """Simulated with a fixed start, a b b a a b b a; 93 to 97 % within four standard errors of 400."""
    chance, groups = np.random.default_rng(1985), "abbaabba"
    scatter = np.array([of_a if group == "a" else 0.03 for group in groups])
    rows = chance.normal(0.0, 1.0, (400, len(groups))) * scatter
    found = [fitted(groups, row) for row in rows.tolist()]
    held = np.mean([one is not None and one.low <= 0.0 <= one.high for one in found])
    assert held == pytest.approx(0.95, abs=0.02 + 4 * (0.95 * 0.05 / 400) ** 0.5)
