"""run-comparison. Times are constructed; independent libraries: scipy's and statsmodels' own routines."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats
from statsmodels.stats.power import TTestIndPower
from statsmodels.stats.weightstats import CompareMeans, DescrStatsW

from bevelbook.declare.errors import InputError
from bevelbook.formulas.lap_comparison import (
    LapComparisonFound,
    LapComparisonGiven,
    TimedRun,
    balanced,
    compare_laps,
    difference_without_drift,
    drift_of,
    judge_laps,
    laps_working,
    more_runs_needed,
    welch,
)

FEW_A, FEW_B = (15.61, 15.70, 15.65), (15.70, 15.72)
CLEAR_A, CLEAR_B = (15.90, 15.94, 15.88, 15.95), (15.70, 15.74, 15.69, 15.76)


def runs_of(groups: str, times: Sequence[float], day: str | None = None) -> tuple[TimedRun, ...]:
    return tuple(
        TimedRun(group=group, order=order, time_s=time, day=day)
        for order, (group, time) in enumerate(zip(groups, times, strict=True), start=1)
    )


def compared(runs: tuple[TimedRun, ...], **more: str) -> tuple[LapComparisonGiven, LapComparisonFound]:
    given = LapComparisonGiven(runs=runs, **more)
    return given, compare_laps(given)


def alternating(times_a: Sequence[float], times_b: Sequence[float]) -> tuple[TimedRun, ...]:
    """a b b a a b b a ..."""
    groups = "abba" * (len(times_a) // 2)
    left = {"a": list(times_a), "b": list(times_b)}
    return runs_of(groups, [left[group].pop(0) for group in groups])


def test_two_without_a_clear_difference() -> None:
    """Constructed, scipy 1.17: +0.0567 s, 95 % -0.0424 to +0.1557, df 2.52."""
    given, found = compared(runs_of("aaabb", FEW_A + FEW_B))
    assert found.difference_s == pytest.approx(0.0567, abs=5e-5)
    assert found.difference_low_s == pytest.approx(-0.0424, abs=5e-5)
    assert found.difference_high_s == pytest.approx(0.1557, abs=5e-5)
    assert found.degrees_of_freedom == pytest.approx(2.52, abs=5e-3)
    assert judge_laps(given, found).verdict == "unclear"
    assert "not decided" in found.answer
    assert "from 0.042 s faster to 0.156 s slower" in found.answer


@pytest.mark.parametrize("order", ["in turn", "one after the other"])
def test_two_with_a_clear_difference(order: str) -> None:
    """Constructed, scipy 1.17: -0.195 s, 95 % -0.252 to -0.138, df 6.00; the second is faster, in either order."""
    runs = alternating(CLEAR_A, CLEAR_B) if order == "in turn" else runs_of("aaaabbbb", CLEAR_A + CLEAR_B)
    given, found = compared(runs, also_changed="nothing", label_a="15,000", label_b="5,000")
    assert found.difference_s == pytest.approx(-0.195, abs=5e-4)
    assert found.difference_low_s == pytest.approx(-0.252, abs=5e-4)
    assert found.difference_high_s == pytest.approx(-0.138, abs=5e-4)
    assert found.degrees_of_freedom == pytest.approx(6.00, abs=5e-3)
    assert found.more_runs_needed == 0
    judged = judge_laps(given, found)
    assert judged.verdict == "ok"
    assert "5,000 is faster than 15,000 by 0.195 s a lap; from 0.138 to 0.252 s fits" in judged.reasons[0]
    assert judged.findings == ()


def test_welch_against_statsmodels() -> None:
    """Independent library: CompareMeans with unequal variances."""
    found = welch(FEW_A, FEW_B)
    library = CompareMeans(DescrStatsW(FEW_B), DescrStatsW(FEW_A)).tconfint_diff(usevar="unequal")
    assert (found.low, found.high) == pytest.approx(library, rel=1e-9)


def test_drift_and_difference_without_it_against_statsmodels() -> None:
    """Independent library: statsmodels OLS of time on group and order."""
    runs = runs_of("abbabaab", (15.90, 15.71, 15.66, 15.80, 15.61, 15.77, 15.70, 15.52))
    drift, without = drift_of(runs), difference_without_drift(runs)
    assert drift is not None
    assert without is not None
    design = sm.add_constant(np.array([[run.group == "b", run.order] for run in runs], dtype=float))
    fit = sm.OLS(np.array([run.time_s for run in runs]), design).fit()
    low, high = fit.conf_int()[:, 0], fit.conf_int()[:, 1]
    assert without[:3] == pytest.approx((fit.params[1], low[1], high[1]), rel=1e-8)
    assert drift[:3] == pytest.approx((fit.params[2], low[2], high[2]), rel=1e-8)
    assert drift.degrees_of_freedom == fit.df_resid


def test_days_have_levels_of_their_own() -> None:
    """Independent library: statsmodels OLS with a level for each day. A slow second day is not drift."""
    first = runs_of("abab", (15.60, 15.50, 15.58, 15.47), "day 1")
    second = runs_of("baba", (16.52, 16.60, 16.49, 16.57), "day 2")
    runs = first + second
    without = difference_without_drift(runs)
    assert without is not None
    rows = [[run.day == "day 1", run.day == "day 2", run.group == "b", run.order] for run in runs]
    fit = sm.OLS(np.array([run.time_s for run in runs]), np.array(rows, dtype=float)).fit()
    assert without.value == pytest.approx(fit.params[2], rel=1e-8)
    assert without.low == pytest.approx(fit.conf_int()[2][0], rel=1e-8)
    assert without.decided
    given, found = compared(runs)
    judged = judge_laps(given, found)
    assert judged.verdict == "unclear"
    assert any("runs of 2 days" in finding for finding in judged.findings)


def test_drift_is_exact_without_scatter() -> None:
    """Constructed: 0.02 s faster with each run, b another 0.1 s slower: no scatter, so both come out whole."""
    groups = "aabbab"
    times = [15.9 - 0.02 * i + (0.1 if group == "b" else 0.0) for i, group in enumerate(groups)]
    _, found = compared(runs_of(groups, times))
    assert found.drift_s_per_run == pytest.approx(-0.02, abs=1e-9)
    assert found.drift_over_day_s == pytest.approx(-0.10, abs=1e-9)
    assert found.difference_without_drift_s == pytest.approx(0.10, abs=1e-9)
    middle = [row.time_without_drift_s for row in found.rows if row.group == "a"]
    assert middle == pytest.approx([15.9 - 0.02 * 2.5] * 3)


def test_a_gain_that_is_only_the_drift_of_the_day_does_not_count() -> None:
    """Constructed: 0.02 s faster with each run, nothing else; a first and b after: Welch alone would call b faster."""
    scatter = (0.004, -0.005, 0.003, -0.002, 0.005, -0.004, 0.002, -0.003)
    times = [15.90 - 0.02 * i + one for i, one in enumerate(scatter)]
    given, found = compared(runs_of("aaaabbbb", times), also_changed="nothing")
    assert found.difference_high_s < 0
    judged = judge_laps(given, found)
    assert judged.verdict == "unclear"
    assert judged.reasons[0].startswith("the runs got 0.1")
    assert "run them in turn, a b b a" in judged.reasons[0]
    assert found.more_runs_needed is None


def test_drift_larger_than_the_difference_is_said_first() -> None:
    """Constructed: 0.03 s faster with each run, run in turn, so that the difference is left as it is."""
    groups, scatter = "abbaabba", (0.0, 0.004, -0.004, 0.003, -0.003, 0.002, 0.0, -0.002)
    times = [15.9 - 0.03 * i + one for i, one in enumerate(scatter)]
    _, found = compared(runs_of(groups, times))
    assert found.answer.startswith("the runs got 0.21")
    assert "not decided" in found.answer


def test_run_in_turn_a_steady_drift_cancels() -> None:
    assert balanced(runs_of("abba", (1.0, 2.0, 3.0, 4.0)))
    assert not balanced(runs_of("aabb", (1.0, 2.0, 3.0, 4.0)))
    assert not balanced(runs_of("aa", (1.0, 2.0), "one") + runs_of("bb", (1.0, 2.0), "two"))


@pytest.mark.parametrize("difference", [0.02, 0.03, 0.04, 0.06])
def test_more_runs_needed_is_the_power_of_the_test(difference: float) -> None:
    """Independent library: TTestIndPower, two-sided 5 %, power 0.8; equal spread and numbers, where Welch agrees."""
    a = np.array(CLEAR_A)
    library = TTestIndPower().solve_power(effect_size=difference / a.std(ddof=1), power=0.8, alpha=0.05)
    assert more_runs_needed(CLEAR_A, (a - difference).tolist()) == max(1, ceil(library) - len(CLEAR_A))


def test_two_hundred_more_runs_are_not_enough_for_everything() -> None:
    assert more_runs_needed(CLEAR_A, [time + 0.001 for time in CLEAR_A]) is None
    given, found = compared(alternating(CLEAR_A, [time + 0.001 for time in CLEAR_A]))
    assert "even 200 more runs" in found.answer
    assert judge_laps(given, found).verdict == "unclear"


def test_anything_else_is_asked_for_and_reported() -> None:
    given, found = compared(alternating(CLEAR_A, CLEAR_B))
    assert any(finding.startswith("anything else changed") for finding in judge_laps(given, found).findings)
    given, found = compared(alternating(CLEAR_A, CLEAR_B), also_changed="tyres")
    judged = judge_laps(given, found)
    assert judged.verdict == "caution"
    assert any("also changed: tyres" in reason for reason in judged.reasons)


def test_groups_on_different_days_are_a_caution() -> None:
    given, found = compared(runs_of("aaaa", CLEAR_A, "one") + runs_of("bbbb", CLEAR_B, "two"), also_changed="nothing")
    assert found.difference_without_drift_s is None
    assert found.drift_s_per_run is not None
    judged = judge_laps(given, found)
    assert judged.verdict == "caution"
    assert any("different days" in reason for reason in judged.reasons)


def test_runs_on_a_doubtful_diff_do_not_count() -> None:
    doubtful = TimedRun(group="b", order=9, time_s=14.0, doubtful="yes")
    given, found = compared((*alternating(CLEAR_A, CLEAR_B), doubtful))
    assert found.difference_s == pytest.approx(-0.195, abs=5e-4)
    assert len(found.rows) == 8
    assert any("1 left out" in finding for finding in judge_laps(given, found).findings)


@pytest.mark.parametrize(
    ("runs", "said"),
    [
        (runs_of("aab", (15.6, 15.7, 15.7)), "two runs a side, there are 2 of a and 1 of b"),
        (runs_of("aabb", (15.6, 15.6, 15.7, 15.7)), "nothing about the scatter"),
    ],
)
def test_too_little_is_refused(runs: tuple[TimedRun, ...], said: str) -> None:
    with pytest.raises(InputError, match=said):
        compared(runs)


def test_one_order_twice_is_a_finding() -> None:
    runs = runs_of("aaaa", CLEAR_A) + runs_of("bbbb", CLEAR_B)
    given, found = compared(runs)
    assert any("same order in one day" in finding for finding in judge_laps(given, found).findings)


def test_the_working_shows_both_groups_and_the_interval() -> None:
    given, found = compared(alternating(CLEAR_A, CLEAR_B), label_a="7,000", label_b="10,000")
    lines = laps_working(given, found)
    assert lines[0].startswith("7,000: mean 15.9175 s")
    assert any("6.00 degrees of freedom (Welch)" in line for line in lines)
    assert any("with the drift taken out" in line for line in lines)


def test_the_interval_of_the_comparison_holds_the_truth_as_often_as_it_says() -> None:
    """Simulated: five against five, spreads 0.03 and 0.06 s, b 0.05 s slower; four standard errors of 2,000."""
    chance = np.random.default_rng(1947)
    many = 2000
    a = chance.normal(15.65, 0.03, (many, 5)).tolist()
    b = chance.normal(15.70, 0.06, (many, 5)).tolist()
    held = 0
    for one, other in zip(a, b, strict=True):
        found = welch(one, other)
        held += found.low <= 0.05 <= found.high
    assert held / many == pytest.approx(0.95, abs=4 * (0.95 * 0.05 / many) ** 0.5)


def test_drift_makes_welch_alone_call_noise_a_gain_and_the_verdict_does_not() -> None:
    """Simulated: no difference, drift -0.021 s per run, spread 0.045 s, four after four."""
    chance = np.random.default_rng(21)
    alone, alarms, many = 0, 0, 300
    for _ in range(many):
        times = 15.6 - 0.021 * np.arange(8) + chance.normal(0.0, 0.045, 8)
        given, found = compared(runs_of("aaaabbbb", times.tolist()), also_changed="nothing")
        alone += found.difference_high_s < 0 or found.difference_low_s > 0
        alarms += judge_laps(given, found).verdict == "ok"
    assert alone / many > 0.3
    assert alarms / many < 0.05 + 4 * (0.05 * 0.95 / many) ** 0.5


def test_power_is_what_a_simulation_finds() -> None:
    """The runs named as needed decide it in four of five simulated comparisons; four standard errors of 1,500."""
    spread = float(np.std(CLEAR_A, ddof=1))
    more = more_runs_needed(CLEAR_A, [time - 0.04 for time in CLEAR_A])
    assert more is not None
    chance = np.random.default_rng(80)
    count = len(CLEAR_A) + more
    a, b = chance.normal(0.0, spread, (1500, count)), chance.normal(-0.04, spread, (1500, count))
    decided = float(np.mean(stats.ttest_ind(a, b, axis=1, equal_var=False).pvalue < 0.05))
    power = TTestIndPower().power(effect_size=0.04 / spread, nobs1=count, alpha=0.05)
    assert power > 0.8
    assert decided == pytest.approx(power, abs=4 * (power * (1 - power) / 1500) ** 0.5)
