"""The formulas that several calculators share: lines, inverse regression, proportions, weighing.

Sources of the tables in tests/references/:
statistics_nist_norris.csv         National Institute of Standards and Technology, Statistical Reference Datasets,
                                   linear regression, Norris (data and certified values, through public copies)
statistics_gum_h3.csv              JCGM 100:2008, Annex H.3, calibration of a thermometer (through the documentation
                                   of the GTC package)
statistics_inverse_regression.csv  thermometer and chamber: Graybill, Iyer, Regression Analysis: Concepts and
                                   Applications, Duxbury Press 1994, p. 431 and 433 (through the tests of the R package
                                   investr); crystal: Greenwell, Schubert Kabban, The R Journal 6/1 (2014) 90-100;
                                   leak_constructed: constructed
statistics_proportions.csv         Newcombe, Statistics in Medicine 17 (1998) 857-872, Table I, and 873-890, Table II
                                   (through public test files)
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats
from scipy.stats import linregress
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from bevelbook.physics.weighing import difference_uncertainty_g, reading_uncertainty_g
from bevelbook.stats.line import Line, straight_line, t_value, where_line_reaches
from bevelbook.stats.proportions import chance_of_difference, newcombe_interval, shrunk_share, wilson_interval

REFERENCES = Path(__file__).parent.parent / "references"


def table(name: str) -> list[dict[str, str]]:
    with (REFERENCES / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def column(rows: list[dict[str, str]], name: str) -> list[float]:
    return [float(row[name]) for row in rows]


def example(name: str) -> tuple[list[float], list[float]]:
    rows = [row for row in table("statistics_inverse_regression.csv") if row["example"] == name]
    return column(rows, "x"), column(rows, "y")


@pytest.fixture
def norris() -> Line:
    rows = table("statistics_nist_norris.csv")
    assert len(rows) == 36
    return straight_line(column(rows, "x"), column(rows, "y"))


def test_line_through_norris_has_the_certified_values(norris: Line) -> None:
    """NIST StRD, Norris, certified estimates and standard deviations; tolerance: double precision."""
    assert norris.intercept == pytest.approx(-0.262323073774029, rel=1e-10)
    assert norris.slope == pytest.approx(1.00211681802045, rel=1e-10)
    assert norris.intercept_error == pytest.approx(0.232818234301152, rel=1e-9)
    assert norris.slope_error == pytest.approx(0.429796848199937e-3, rel=1e-9)
    assert norris.residual_sd == pytest.approx(0.884796396144373, rel=1e-9)


def test_norris_analysis_of_variance(norris: Line) -> None:
    """NIST StRD, Norris, certified analysis of variance."""
    residual = norris.residual_sd**2 * norris.degrees_of_freedom
    regression = norris.slope**2 * norris.s_xx
    assert residual == pytest.approx(26.6173985294224, rel=1e-9)
    assert regression == pytest.approx(4255954.13232369, rel=1e-9)
    assert regression / norris.residual_sd**2 == pytest.approx(5436385.54079785, rel=1e-9)
    assert regression / (regression + residual) == pytest.approx(0.999993745883712, rel=1e-9)


def test_line_through_the_thermometer_of_the_gum() -> None:
    """JCGM 100:2008, H.3: y1 -0.1712 (29), y2 0.00218 (67), s 0.0035, b(30 °C) -0.1494 (41); half the last digit."""
    rows = table("statistics_gum_h3.csv")
    line = straight_line([t - 20.0 for t in column(rows, "t_degC")], column(rows, "correction_degC"))
    assert line.intercept == pytest.approx(-0.1712, abs=5e-5)
    assert line.intercept_error == pytest.approx(0.0029, abs=5e-5)
    assert line.slope == pytest.approx(0.00218, abs=5e-6)
    assert line.slope_error == pytest.approx(0.00067, abs=5e-6)
    assert line.residual_sd == pytest.approx(0.0035, abs=5e-5)
    assert line.at(10.0) == pytest.approx(-0.1494, abs=5e-5)
    error_at_30 = line.residual_sd * (1.0 / line.points + (10.0 - line.x_mean) ** 2 / line.s_xx) ** 0.5
    assert error_at_30 == pytest.approx(0.0041, abs=5e-5)


@pytest.mark.parametrize("seed", range(5))
def test_line_is_that_of_an_independent_library(seed: int) -> None:
    """scipy.stats.linregress on constructed weighings far from zero; tolerance: its double precision."""
    chance = np.random.default_rng(seed)
    x = np.sort(chance.uniform(0.0, 60.0, size=5 + seed * 8))
    y = 2234.0 - 0.01 * x + chance.normal(0.0, 0.003, size=len(x))
    line, fit = straight_line(x.tolist(), y.tolist()), linregress(x, y)
    assert line.slope == pytest.approx(fit.slope, rel=1e-9)
    assert line.intercept == pytest.approx(fit.intercept, rel=1e-12)
    assert line.slope_error == pytest.approx(fit.stderr, rel=1e-6)
    assert line.intercept_error == pytest.approx(fit.intercept_stderr, rel=1e-6)


def test_points_at_one_place_give_no_line() -> None:
    with pytest.raises(ValueError, match="constant"):
        straight_line([2.0, 2.0, 2.0], [1.0, 2.0, 3.0])


def test_two_points_give_a_line_without_errors() -> None:
    line = straight_line([0.0, 2.0], [1.0, 5.0])
    assert (line.slope, line.intercept, line.residual_sd) == pytest.approx((2.0, 1.0, 0.0))
    reached = where_line_reaches(line, 9.0)
    assert reached.x == pytest.approx(4.0)
    assert reached.low is None
    assert reached.high is None


@pytest.mark.parametrize(
    ("name", "y", "readings", "confidence", "printed", "decimals"),
    [
        ("thermometer", 104.0, 1, 0.95, (103.995, 103.4, 104.6), (3, 1, 1)),
        ("thermometer", 100.0, 1, 0.90, (100.1, 99.63, 100.59), (1, 2, 2)),
        ("chamber", 400.0, 0, 0.99, (66.5, 65.07, 68.03), (1, 2, 2)),
        ("crystal", 8.0, 0, 0.95, (15.8882, 14.6590, 17.1596), (4, 4, 4)),
    ],
)
def test_inverse_regression_as_printed(
    name: str,
    y: float,
    readings: int,
    confidence: float,
    printed: tuple[float, float, float],
    decimals: tuple[int, int, int],
) -> None:
    """Graybill, Iyer 1994, p. 431 and 433; The R Journal 6/1 (2014) 90-100. Tolerance: the digits printed."""
    found = where_line_reaches(straight_line(*example(name)), y, readings, confidence)
    assert found.low is not None
    assert found.high is not None
    for value, expected, digits in zip((found.x, found.low, found.high), printed, decimals, strict=True):
        assert value == pytest.approx(expected, abs=0.5001 * 10.0**-digits)


@pytest.mark.parametrize(("name", "y", "confidence"), [("chamber", 400.0, 0.99), ("leak_constructed", 1.40, 0.95)])
def test_inverse_regression_is_where_the_confidence_band_meets_the_value(
    name: str, y: float, confidence: float
) -> None:
    """Independent library: the confidence band of the mean line from statsmodels passes y at both ends."""
    x, values = example(name)
    found = where_line_reaches(straight_line(x, values), y, 0, confidence)
    assert found.low is not None
    assert found.high is not None
    fit = sm.OLS(np.array(values), sm.add_constant(np.array(x))).fit()
    frame = fit.get_prediction(sm.add_constant(np.array([found.low, found.high]))).summary_frame(1.0 - confidence)
    ends = ("mean_ci_upper", "mean_ci_lower") if fit.params[1] > 0 else ("mean_ci_lower", "mean_ci_upper")
    assert frame[ends[0]][0] == pytest.approx(y, rel=1e-9)
    assert frame[ends[1]][1] == pytest.approx(y, rel=1e-9)


def test_a_slope_that_is_not_significant_has_no_interval() -> None:
    """The weighings 18.35, 18.34, 18.10 g at 0, 6, 13 runs: slope -0.020 +/- 0.119 g per run (constructed)."""
    line = straight_line([0.0, 6.0, 13.0], [18.35, 18.34, 18.10])
    assert line.slope == pytest.approx(-0.020, abs=5e-4)
    assert t_value(1) * line.slope_error == pytest.approx(0.119, abs=5e-4)
    found = where_line_reaches(line, 18.0)
    assert found.g > 1.0
    assert found.low is None
    assert found.high is None


@pytest.mark.parametrize("degrees", [1.0, 2.52, 6.0, 33.31])
def test_t_value_is_students(degrees: float) -> None:
    assert t_value(degrees) == pytest.approx(float(stats.t.ppf(0.975, degrees)), rel=1e-12)


@pytest.mark.parametrize("row", [row for row in table("statistics_proportions.csv") if row["kind"] == "wilson95"])
def test_wilson_as_printed(row: dict[str, str]) -> None:
    """Newcombe 1998, Table I, method 3; four decimals printed."""
    found = wilson_interval(int(row["k1"]), int(row["n1"]))
    assert found == pytest.approx((float(row["lower_printed"]), float(row["upper_printed"])), abs=5e-5)


@pytest.mark.parametrize(
    ("kept", "of", "low", "high"),
    [(3, 3, 0.438503, 1.0), (2, 3, 0.207660, 0.938508), (5, 5, 0.565518, 1.0), (1, 10, 0.017876, 0.404150)],
)
def test_wilson_for_few_runs(kept: int, of: int, low: float, high: float) -> None:
    """Computed; independent library: statsmodels."""
    assert wilson_interval(kept, of) == pytest.approx((low, high), abs=1e-6)
    assert wilson_interval(kept, of) == pytest.approx(proportion_confint(kept, of, method="wilson"), abs=1e-12)


@pytest.mark.parametrize(("kept", "of"), [(0.5, 3), (5 / 3, 3), (3.25, 4), (0.0, 1), (12.0, 12)])
def test_wilson_for_parts_of_days(kept: float, of: int) -> None:
    """Independent library: statsmodels, which takes parts too."""
    assert wilson_interval(kept, of) == pytest.approx(proportion_confint(kept, of, method="wilson"), abs=1e-12)


@pytest.mark.parametrize(("kept", "of"), [(0, 0), (4, 3), (-1, 3)])
def test_what_is_not_a_share_is_refused(kept: int, of: int) -> None:
    with pytest.raises(ValueError, match="is not a share"):
        wilson_interval(kept, of)


@pytest.mark.parametrize(
    ("counts", "chance"),
    [((3, 3, 0, 3), 2 / 64), ((4, 4, 0, 4), 2 / 256), ((3, 4, 0, 4), 18 / 256), ((3.4, 4, 0.2, 4), 74 / 256)],
)
def test_the_chance_of_a_difference_counted_by_hand(counts: tuple[float, int, float, int], chance: float) -> None:
    """By hand, at equal shares of one half: outcomes at least as far apart, either way round. 3.4 against 0.2 counts as
    3 against 1."""
    assert chance_of_difference(*counts) == pytest.approx(chance, rel=1e-6)
    assert chance_of_difference(*counts[2:], *counts[:2]) == chance_of_difference(*counts)


def test_the_chance_of_a_difference_as_the_library_prints_it() -> None:
    """The example in the documentation of scipy.stats.boschloo_exact: 74 of 117 against 31 of 63, one side, 0.0355
    (read; cut, not rounded)."""
    assert chance_of_difference(74, 117, 31, 63) == pytest.approx(2 * 0.0355, abs=2e-4)


@pytest.mark.parametrize("counts", [(2, 3, 2, 3), (0, 4, 0, 7), (1.6, 3, 1.4, 3), (12, 12, 5, 5)])
def test_shares_that_may_be_equal_differ_by_chance_alone(counts: tuple[float, int, float, int]) -> None:
    assert chance_of_difference(*counts) == 1.0


@pytest.mark.parametrize("of", [(3, 3), (3, 4), (6, 7), (8, 8)])
def test_a_difference_by_chance_is_found_in_one_of_twenty_at_most(of: tuple[int, int]) -> None:
    """Exact, over true shares from 0.02 to 0.98 (scipy.stats.binom): whole days that do not depend on each other."""
    first, second = of
    found = np.array(
        [[chance_of_difference(a, first, b, second) <= 0.05 for b in range(second + 1)] for a in range(first + 1)]
    )
    false_alarms = [
        stats.binom.pmf(range(first + 1), first, share) @ found @ stats.binom.pmf(range(second + 1), second, share)
        for share in np.linspace(0.02, 0.98, 49)
    ]
    assert 0.01 < max(false_alarms) <= 0.05


@pytest.mark.parametrize(
    "row", [row for row in table("statistics_proportions.csv") if row["kind"] == "newcombe10_diff95"]
)
def test_newcombe_as_printed(row: dict[str, str]) -> None:
    """Newcombe 1998, Table II, method 10, four decimals printed; independent library: statsmodels."""
    counts = tuple(int(row[name]) for name in ("k1", "n1", "k2", "n2"))
    found = newcombe_interval(*counts)
    assert found == pytest.approx((float(row["lower_printed"]), float(row["upper_printed"])), abs=5.1e-5)
    library = confint_proportions_2indep(*counts, compare="diff", method="newcomb")
    assert found == pytest.approx(library, abs=1e-9)


@pytest.mark.parametrize(("kept", "of", "expected"), [(2, 2, 0.7143), (5, 8, 0.6071), (1, 4, 0.4107)])
def test_shrunk_share_is_the_mean_of_a_beta_posterior(kept: int, of: int, expected: float) -> None:
    """Constructed: strength 4 at the pooled 8 of 14; scipy.stats.beta."""
    strength, pooled = 4.0, 8.0 / 14.0
    posterior = stats.beta(strength * pooled + kept, strength * (1.0 - pooled) + of - kept)
    assert shrunk_share(kept, of, pooled, strength) == pytest.approx(expected, abs=5e-5)
    assert shrunk_share(kept, of, pooled, strength) == pytest.approx(float(posterior.mean()), rel=1e-12)


def test_without_strength_nothing_is_shrunk() -> None:
    assert shrunk_share(3, 4, 0.1, 0.0) == pytest.approx(0.75)


def test_difference_uncertainty_agrees_with_simulated_rounding() -> None:
    """Constructed: vessel mass random within a step, noise 0.005 g, scale error within 0.01 g, rounded to 0.01 g."""
    chance = np.random.default_rng(20260503)
    many = 200_000
    empty = chance.uniform(9.0, 10.0, many)
    error = chance.uniform(-0.01, 0.01, many)
    first = np.round((empty + chance.normal(0.0, 0.005, many)) / 0.01) * 0.01
    second = np.round((empty + 1.5 + error + chance.normal(0.0, 0.005, many)) / 0.01) * 0.01
    spread = float(np.std(second - first - 1.5))
    assert difference_uncertainty_g(0.01, 0.005, 0.01) == pytest.approx(0.0100, abs=1e-5)
    assert spread == pytest.approx(difference_uncertainty_g(0.01, 0.005, 0.01), rel=0.01)
    assert difference_uncertainty_g(0.01, 0.005) == pytest.approx(2.0**0.5 * reading_uncertainty_g(0.01, 0.005))
