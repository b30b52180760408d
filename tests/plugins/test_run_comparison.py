"""run-comparison. Times are constructed; independent libraries: scipy's and statsmodels' own routines."""

from __future__ import annotations

import random
from collections.abc import Sequence
from functools import partial
from typing import Any

import numpy as np
import pytest
import statsmodels.api as sm
from benchmarks.coverages import laps, seen
from benchmarks.coverages.laps import times_of, verdicts
from scipy import stats

from bevelbook.calculating.calculate import bind
from bevelbook.calculating.calculate import run as run_calculator
from bevelbook.declare.errors import InputError
from bevelbook.formulas.drift_model import cancels_drift, drift_model, drift_of, more_runs_needed, next_turn
from bevelbook.formulas.lap_comparison import LapComparisonFound, compare_laps, judge_laps, laps_working
from bevelbook.formulas.lap_standing import LapComparisonGiven
from bevelbook.formulas.timed_runs import TimedRun, is_in_blocks
from bevelbook.plugin.returned_values import Judgement
from bevelbook.stats.least_squares import Interval
from bevelbook_plugins.run_comparison import RUN_COMPARISON

FEW_A, FEW_B = (15.61, 15.70, 15.65), (15.70, 15.72)
CLEAR_A, CLEAR_B = (15.90, 15.94, 15.88, 15.95), (15.70, 15.74, 15.69, 15.76)
DRIFTING = (15.653, 15.698, 15.751, 15.797, 15.802, 15.849, 15.903, 15.948)
"""a a a a b b b b: b is 0.05 s faster, each run 0.05 s slower than the one before."""
IN_TURN = (15.70, 15.63, 15.66, 15.82, 15.85, 15.78, 15.81, 15.97)
"""a b b a a b b a: b is some 0.115 s faster, with a drift larger than that."""


def runs_of(
    groups: str, times: Sequence[float], day: str | None = None, driver: str | None = None
) -> tuple[TimedRun, ...]:
    return tuple(
        TimedRun(group=group, order=order, time_s=time, day=day, driver=driver)
        for order, (group, time) in enumerate(zip(groups, times, strict=True), start=1)
    )


def without_order(groups: str, times: Sequence[float]) -> tuple[TimedRun, ...]:
    return tuple(TimedRun(group=group, time_s=time) for group, time in zip(groups, times, strict=True))


def compared(
    runs: tuple[TimedRun, ...], also_changed: str | None = "nothing", **more: str
) -> tuple[LapComparisonFound, Judgement]:
    given = LapComparisonGiven(runs=runs, also_changed=also_changed, **more)
    found = compare_laps(given)
    return found, judge_laps(given, found)


def alternating(times_a: Sequence[float], times_b: Sequence[float]) -> tuple[TimedRun, ...]:
    """a b b a a b b a ..."""
    groups = "abba" * (len(times_a) // 2)
    left = {"a": list(times_a), "b": list(times_b)}
    return runs_of(groups, [left[group].pop(0) for group in groups])


@pytest.mark.parametrize(
    ("groups", "times", "plain"),
    [
        ("aaabb", FEW_A + FEW_B, (0.0567, -0.0424, 0.1557, 2.52)),
        ("aaaabbbb", CLEAR_A + CLEAR_B, (-0.195, -0.252, -0.138, 6.00)),
    ],
)
def test_without_an_order_it_is_unclear_and_the_times_as_they_are_are_shown(
    groups: str, times: tuple[float, ...], plain: tuple[float, ...]
) -> None:
    """Constructed, scipy 1.17: +0.0567 s, 95 % -0.0424 to +0.1557, df 2.52; -0.195 s, -0.252 to -0.138, df 6.00."""
    found, judged = compared(without_order(groups, times))
    shown = (found.plain_difference_s, found.plain_low_s, found.plain_high_s, found.plain_degrees_of_freedom)
    assert shown[:3] == pytest.approx(plain[:3], abs=5e-4)
    assert shown[3] == pytest.approx(plain[3], abs=5e-3)
    assert (found.difference_s, found.drift_s_per_run, found.more_runs_needed) == (None, None, None)
    assert judged.verdict == "unclear"
    assert "the order of the runs is not known" in judged.reasons[0]
    assert "a b b a" in judged.reasons[0]
    assert "95 % only if nothing drifted" in judged.reasons[1]


@pytest.mark.parametrize(
    ("orders", "said"),
    [
        ((1, 1, 1, 1, 1, 1), "all runs have the order 1"),
        ((1, 2, 3, 1, 2, 3), "the order 1 is given to a run of a and to a run of b"),
        ((1, 2, 3, None, 5, None), "2 runs have no order"),
        ((1, 2, 3, None, 5, 6), "1 run has no order"),
    ],
)
def test_an_order_that_cannot_be_is_unclear_and_said(orders: tuple[int | None, ...], said: str) -> None:
    times = (15.90, 15.94, 15.88, 15.70, 15.74, 15.69)
    runs = tuple(
        TimedRun(group=group, order=order, time_s=time)
        for group, order, time in zip("aaabbb", orders, times, strict=True)
    )
    found, judged = compared(runs)
    assert judged.verdict == "unclear"
    assert said in judged.reasons[0]
    assert found.plain_difference_s == pytest.approx(-0.19667, abs=1e-5)


def test_a_wrong_sign_is_never_ok() -> None:
    """b is 0.05 s faster; as timed, after a, it is 0.151 s slower (0.042 to 0.260 s, scipy's Welch)."""
    found, judged = compared(runs_of("aaaabbbb", DRIFTING))
    assert (found.plain_difference_s, found.plain_low_s) == pytest.approx((0.151, 0.042), abs=5e-4)
    assert (found.difference_s, found.difference_low_s, found.difference_high_s) == pytest.approx(
        (-0.045, -0.052, -0.038), abs=5e-4
    )
    assert judged.verdict == "unclear"
    assert "as timed b was slower than a by 0.151 s" in judged.reasons[0]
    assert "with the drift taken out it is faster by 0.045 s" in judged.reasons[0]
    assert "a b b a" in judged.reasons[0]


def test_run_in_turn_a_drift_no_longer_hides_a_difference() -> None:
    """statsmodels: -0.115 s, 95 % -0.123 to -0.107; Welch alone would leave it open."""
    found, judged = compared(runs_of("abbaabba", IN_TURN))
    assert (found.difference_s, found.difference_low_s, found.difference_high_s) == pytest.approx(
        (-0.115, -0.123, -0.107), abs=5e-4
    )
    assert found.plain_low_s < 0 < found.plain_high_s
    assert (judged.verdict, found.more_runs_needed) == ("ok", 0)
    assert judged.reasons[0] == (
        "the runs got 0.265 s slower over the day, more than the difference; b is faster than a by 0.115 s a lap; "
        "0.107 to 0.123 s fits (95 %), a steady drift of the day taken out"
    )
    assert judged.reasons[1].startswith("as timed, with any drift left in: b was faster than a by 0.115 s; 0.291 s")


def test_a_clear_difference_in_turn_is_ok() -> None:
    found, judged = compared(alternating(CLEAR_A, CLEAR_B), label_a="15,000", label_b="5,000")
    assert (judged.verdict, found.more_runs_needed, judged.findings) == ("ok", 0, ())
    assert judged.reasons[0].startswith("5,000 is faster than 15,000 by 0.")


def test_a_clear_difference_of_one_before_the_other_is_a_caution_that_names_the_order() -> None:
    found, judged = compared(runs_of("aaaabbbb", CLEAR_A + CLEAR_B), label_a="15,000", label_b="5,000")
    assert (judged.verdict, found.more_runs_needed) == ("caution", 0)
    assert judged.reasons[0].startswith("if nothing else changed between the two, 5,000 is faster than 15,000 by 0.")
    assert "all of one was run before all of the other (a a a a b b b b)" in judged.reasons[-1]
    assert "run them in turn, a b b a" in judged.reasons[-1]


@pytest.mark.parametrize(
    ("days", "are_blocks"),
    [(["aabb"], True), (["aab", "abb"], True), (["aabb", "bbaa"], False), (["abba"], False), (["ab", "aba"], False)],
)
def test_blocks_are_one_change_on_every_day_and_always_the_same_way_round(days: list[str], are_blocks: bool) -> None:
    runs = [run for day in days for run in runs_of(day, [15.6] * len(day), f"{day} {len(day)}")]
    assert is_in_blocks(runs) == are_blocks


def test_a_jump_between_blocks_is_never_ok() -> None:
    """Simulated: equal builds, 0.15 s at the change; without the rule for blocks two in five are called different."""
    assert "ok" not in verdicts(times_of(np.random.default_rng(4), 60, ("aaaabbbb",), jump=0.15), ("aaaabbbb",))


def test_two_runs_that_scatter_more_decide_nothing() -> None:
    """Equal builds, constructed by chance: a scatters 0.1 s, b 0.03 s; scipy's Welch leaves it open too."""
    times = (15.58, 15.61, 15.67, 15.59, 15.62, 15.70, 15.59, 15.58)
    found, judged = compared(runs_of("bbabbabb", times))
    welch = stats.ttest_ind(times[2:6:3], times[:2] + times[3:5] + times[6:], equal_var=False)
    assert welch.pvalue > 0.05
    assert judged.verdict == "unclear"
    assert (found.difference_low_s, found.difference_high_s) == pytest.approx((-0.194, 0.014), abs=5e-4)
    assert any("2 runs against 6" in finding for finding in judged.findings)


def test_a_group_of_at_most_half_the_runs_of_the_other_is_at_most_a_caution() -> None:
    """Clearly apart, constructed: two runs hardly know their own scatter. With as many of each it is ok."""
    _, far = compared(runs_of("bbabbabb", (15.50, 15.51, 15.71, 15.50, 15.51, 15.70, 15.51, 15.50)))
    assert far.verdict == "caution"
    assert any(one.startswith("2 runs against 6") for one in far.reasons)
    assert not any("2 runs against 6" in one for one in far.findings)
    _, even = compared(runs_of("abbaabba", (15.70, 15.50, 15.51, 15.71, 15.70, 15.51, 15.50, 15.71)))
    assert even.verdict == "ok"


def grip_days(patterns: Sequence[str]) -> tuple[TimedRun, ...]:
    """Constructed: equal builds, every day starts 0.3 s slower, gone by a factor e every two runs."""
    scatter = (0.004, -0.005, 0.003, -0.002, 0.001)
    return tuple(
        run
        for day, pattern in enumerate(patterns)
        for run in runs_of(
            pattern,
            [
                round(15.6 + day / 10 + 0.3 * float(np.exp(-place / 2)) + scatter[(place + day) % 5], 3)
                for place in range(len(pattern))
            ],
            f"day {day}",
        )
    )


def test_days_of_one_order_are_unclear_and_the_mirrored_order_settles_it() -> None:
    """Grip that comes in fast each day looks like a difference where b is always in the middle."""
    found, judged = compared(grip_days(("abba",) * 4))
    assert (found.difference_high_s or 0.0) < 0.0, "decided if the drift was steady"
    assert (judged.verdict, found.more_runs_needed) == ("unclear", None)
    assert "run b a a b on as many days more" in judged.reasons[0]
    assert judged.reasons[0].index("if the drift was steady") < judged.reasons[0].index("b is faster")
    _, judged = compared(grip_days(("abba", "baab") * 2))
    assert judged.verdict == "unclear"
    assert "anything from" in judged.reasons[0]


@pytest.mark.parametrize(
    ("days", "order"),
    [
        (("abba",), "baab"),
        (("baab",), "abba"),
        (("aba", "aba"), "baab"),
        (("aab",), "abba"),
        (("abba", "baab"), "abba"),
        (("ab", "ba"), "abba"),
    ],
)
def test_the_order_to_run_next_has_the_other_in_the_middle(days: Sequence[str], order: str) -> None:
    assert next_turn(grip_days(days)) == order


def test_who_looks_again_is_warned() -> None:
    _, judged = compared(alternating(CLEAR_A, [time + 0.02 for time in CLEAR_A]))
    assert any("decide before how many runs you will do" in finding for finding in judged.findings)


def test_a_difference_that_rests_on_the_drift_alone_is_a_caution() -> None:
    """Constructed: a b a b a b a b with a drift of 0.05 s a run; as timed it is not decided."""
    scatter = (0.004, -0.005, 0.003, -0.002, 0.005, -0.004, 0.002, -0.003)
    times = [
        15.6 + 0.05 * place - 0.1 * (group == "b") + off
        for place, (group, off) in enumerate(zip("abababab", scatter, strict=True))
    ]
    found, judged = compared(runs_of("abababab", times))
    assert found.plain_low_s < 0 < found.plain_high_s
    assert judged.verdict == "caution"
    assert "rests on a steady drift" in judged.reasons[-1]


def test_a_single_turn_decides_with_a_caution() -> None:
    found, judged = compared(runs_of("abba", (15.6, 15.70, 15.71, 15.6)))
    assert (found.difference_s, found.degrees_of_freedom) == (pytest.approx(0.105), 1)
    assert judged.verdict == "caution"
    assert "if the drift was steady, b is slower than a by 0.105 s a lap" in judged.reasons[0]
    assert "one turn of b a a b more" in judged.reasons[-1]


def test_one_between_the_others_is_never_ok_where_the_drift_bends() -> None:
    """Constructed: equal builds, b in the middle; 0.3 s of grip gone by a factor e every run, and a day slow at its
    ends."""
    grip = [round(15.6 + 0.3 * float(np.exp(-place)) + 0.001 * (place % 3), 3) for place in range(8)]
    _, judged = compared(runs_of("abbbbbba", grip))
    assert judged.verdict == "unclear"
    bowl = [round(15.6 + 0.01 * (place - 3.5) ** 2 + 0.002 * (place % 3), 3) for place in range(8)]
    found, judged = compared(runs_of("abbbbbba", bowl))
    assert (found.difference_high_s or 0.0) < 0
    assert judged.verdict == "caution"
    assert judged.reasons[0].startswith("if the drift was steady, b is faster")
    assert "if the drift was not steady" in judged.reasons[-1]


def fitted_by_statsmodels(runs: Sequence[TimedRun], own_drifts: bool = True) -> Any:
    """Independent library: OLS on the group, a level and a drift for each day and driver."""
    sessions = list(dict.fromkeys((run.day, run.driver) for run in runs))
    rows = []
    for run in runs:
        here = [(run.day, run.driver) == session for session in sessions]
        order = float(run.order or 0)
        rows.append([run.group == "b", *here, *([order * one for one in here] if own_drifts else [order])])
    return sm.OLS(np.array([run.time_s for run in runs]), np.array(rows, dtype=float)).fit()


def hc2_of(library: Any) -> float:
    """Independent library: the variance of the difference with residuals weighed by 1 / (1 - leverage)."""
    return float(library.get_robustcov_results("HC2").cov_params()[0, 0])


def half_width(found: Interval | None) -> float:
    assert found is not None
    return (found.high - found.low) / 2.0


def test_difference_and_drift_against_statsmodels() -> None:
    runs = runs_of("abbabaab", (15.90, 15.71, 15.66, 15.80, 15.61, 15.77, 15.70, 15.52))
    model, library = drift_model(runs), fitted_by_statsmodels(runs)
    intervals = library.conf_int()
    assert model.fit.interval([1, 0, 0]) == pytest.approx(
        (library.params[0], *intervals[0], library.df_resid), rel=1e-8
    )
    assert model.difference is not None
    assert model.difference.value == pytest.approx(library.params[0], rel=1e-8)
    limit = stats.t.ppf(0.975, model.difference.degrees_of_freedom)
    assert half_width(model.difference) == pytest.approx(limit * hc2_of(library) ** 0.5, rel=1e-8)
    assert model.difference.degrees_of_freedom < library.df_resid
    assert model.drift == pytest.approx((library.params[2], *intervals[2], library.df_resid), rel=1e-8)
    assert drift_of(runs) == pytest.approx(model.drift, rel=1e-8)


def test_each_day_and_driver_has_a_level_and_a_drift_of_its_own() -> None:
    """A slow second day and a slower second driver are not drift, and do not widen the interval."""
    runs = (
        *runs_of("abba", (15.60, 15.50, 15.51, 15.63), "Saturday", "ana"),
        *runs_of("baab", (16.52, 16.60, 16.57, 16.41), "Sunday", "ana"),
        *runs_of("abba", (17.60, 17.53, 17.56, 17.72), "Sunday", "bo"),
    )
    model, library = drift_model(runs), fitted_by_statsmodels(runs)
    assert model.difference is not None
    assert model.difference.value == pytest.approx(library.params[0], rel=1e-8)
    limit = stats.t.ppf(0.975, model.difference.degrees_of_freedom)
    assert half_width(model.difference) == pytest.approx(limit * hc2_of(library) ** 0.5, rel=1e-8)
    mean_drift = library.t_test(np.array([0, 0, 0, 0, 1 / 3, 1 / 3, 1 / 3]))
    assert model.drift is not None
    assert model.drift[:3] == pytest.approx((mean_drift.effect.item(), *mean_drift.conf_int()[0]), rel=1e-8)
    found, judged = compared(runs)
    assert judged.verdict == "ok"
    assert "a steady drift of each day and driver taken out" in judged.reasons[0]
    assert found.plain_high_s - found.plain_low_s > 5 * (found.difference_high_s or 0) - 5 * (
        found.difference_low_s or 0
    )
    assert {row.driver for row in found.rows} == {"ana", "bo"}


def test_days_of_two_runs_share_one_drift() -> None:
    times = ((15.60, 15.50), (16.52, 16.60), (15.71, 15.62), (16.41, 16.53))
    runs = tuple(
        run
        for day, (groups, pair) in enumerate(zip(("ab", "ba", "ab", "ba"), times, strict=True))
        for run in runs_of(groups, pair, f"day {day}")
    )
    library = fitted_by_statsmodels(runs, own_drifts=False)
    assert drift_model(runs).difference == pytest.approx((library.params[0], *library.conf_int()[0], 2), rel=1e-8)
    _, judged = compared(runs)
    assert any("one drift is taken for the 4 days with under 3 runs" in finding for finding in judged.findings)


def test_too_few_runs_for_a_drift_of_each_day_take_one_for_all_and_say_so() -> None:
    runs = (*runs_of("aba", (15.60, 15.50, 15.61), "one"), *runs_of("ab", (15.90, 15.81), "two"))
    library = fitted_by_statsmodels(runs, own_drifts=False)
    assert drift_model(runs).difference == pytest.approx((library.params[0], *library.conf_int()[0], 1), rel=1e-8)
    _, judged = compared(runs)
    assert any("one drift is taken for all" in finding for finding in judged.findings)


def test_drift_is_exact_without_scatter() -> None:
    """Constructed: 0.02 s faster with each run, b another 0.1 s slower: no scatter but the reading of hundredths."""
    groups = "aabbab"
    times = [round(15.9 - 0.02 * i + (0.1 if group == "b" else 0.0), 2) for i, group in enumerate(groups)]
    found, _ = compared(runs_of(groups, times))
    assert found.drift_s_per_run == pytest.approx(-0.02, abs=1e-9)
    assert found.drift_over_day_s == pytest.approx(-0.10, abs=1e-9)
    assert found.difference_s == pytest.approx(0.10, abs=1e-9)
    assert found.difference_high_s is not None
    assert 0.10 < found.difference_high_s < 0.12, "times to 0.01 s allow no less"
    middle = [row.time_without_drift_s for row in found.rows if row.group == "a"]
    assert middle == pytest.approx([15.9 - 0.02 * 2.5] * 3)


def test_a_gain_that_is_only_the_drift_of_the_day_does_not_count() -> None:
    """Constructed: 0.02 s faster with each run, nothing else; a first and b after: Welch alone would call b faster."""
    scatter = (0.004, -0.005, 0.003, -0.002, 0.005, -0.004, 0.002, -0.003)
    times = [15.90 - 0.02 * i + one for i, one in enumerate(scatter)]
    found, judged = compared(runs_of("aaaabbbb", times))
    assert found.plain_high_s < 0
    assert judged.verdict == "unclear"
    assert judged.reasons[0].startswith("the runs got 0.1")


@pytest.mark.parametrize(
    ("days", "cancels"),
    [(["abba"], True), (["aabb"], False), (["abba", "abab"], False), (["ab", "ba"], True), (["aab", "abb"], False)],
)
def test_a_steady_drift_cancels_where_the_orders_balance(days: list[str], cancels: bool) -> None:
    """On each day with a drift of its own; days of two runs share one."""
    times = (15.6, 15.52, 15.51, 15.63)
    runs = tuple(
        run for number, groups in enumerate(days) for run in runs_of(groups, times[: len(groups)], f"day {number}")
    )
    assert cancels_drift(drift_model(runs)) == cancels


@pytest.mark.parametrize(
    ("days", "drivers", "said"),
    [
        (("one", "two"), (None, None), "ran on different days"),
        (("one", "one"), ("ana", "bo"), "had different drivers"),
    ],
)
def test_groups_apart_are_unclear_and_what_would_settle_it_is_named(
    days: tuple[str, str], drivers: tuple[str | None, str | None], said: str
) -> None:
    runs = runs_of("aaaa", CLEAR_A, days[0], drivers[0]) + runs_of("bbbb", CLEAR_B, days[1], drivers[1])
    found, judged = compared(runs)
    assert (found.difference_s, judged.verdict) == (None, "unclear")
    assert found.drift_s_per_run is not None
    assert said in judged.reasons[0]
    assert "a b b a, on one day by one driver" in judged.reasons[0]


def power_by_scipy(groups: str, further: int, difference: float, scatter: float) -> float:
    """Independent library: scipy's noncentral t, the design written out here; the drift goes on."""
    whole = groups + "baab" * (further // 2)
    design = np.array([[group == "b", 1.0, place] for place, group in enumerate(whole)], dtype=float)
    error = scatter * np.linalg.inv(design.T @ design)[0, 0] ** 0.5
    left = len(whole) - 3
    limit = stats.t.ppf(0.975, left)
    away = abs(difference) / error
    return float(stats.nct.sf(limit, left, away) + stats.nct.cdf(-limit, left, away))


@pytest.mark.parametrize("difference", [0.02, 0.03, 0.04])
@pytest.mark.parametrize("groups", ["abbaabba", "aaaabbbb"])
def test_more_runs_needed_is_the_power_of_the_model(groups: str, difference: float) -> None:
    times = dict(zip("ab", (list(CLEAR_A), [time - difference for time in CLEAR_A]), strict=True))
    model = drift_model(runs_of(groups, [times[group].pop(0) for group in groups]))
    more = more_runs_needed(model)
    assert more is not None
    assert model.difference is not None
    seen_s, scatter = model.difference.value, model.fit.residual_sd
    assert power_by_scipy(groups, more, seen_s, scatter) >= 0.8
    assert more == 2 or power_by_scipy(groups, more - 2, seen_s, scatter) < 0.8


def test_two_hundred_more_runs_are_not_enough_for_everything() -> None:
    found, judged = compared(alternating(CLEAR_A, [time + 0.001 for time in CLEAR_A]))
    assert found.more_runs_needed is None
    assert "even 200 more runs" in found.answer
    assert judged.verdict == "unclear"


def test_times_without_a_difference_are_called_as_fast() -> None:
    found, judged = compared(runs_of("abba", (15.6, 15.7, 15.6, 15.7)))
    assert judged.verdict == "unclear"
    assert "b was as fast as a to 0.001 s a lap, but anything from" in found.answer


def test_anything_else_is_asked_for_and_reported() -> None:
    _, judged = compared(alternating(CLEAR_A, CLEAR_B), also_changed=None)
    assert any(finding.startswith("anything else changed") for finding in judged.findings)
    _, judged = compared(alternating(CLEAR_A, CLEAR_B), also_changed="tyres")
    assert judged.verdict == "caution"
    assert any("also changed: tyres" in reason for reason in judged.reasons)


def test_runs_on_a_doubtful_diff_do_not_count() -> None:
    doubtful = TimedRun(group="b", order=9, time_s=14.0, doubtful="yes")
    found, judged = compared((*alternating(CLEAR_A, CLEAR_B), doubtful))
    assert found.plain_difference_s == pytest.approx(-0.195, abs=5e-4)
    assert len(found.rows) == 8
    assert any("1 left out" in finding for finding in judged.findings)


CRASHED = runs_of("abbaab", (15.6, 15.50, 15.52, 15.62, 19.9, 15.51), "2026-05-03", "ana")


def test_a_lap_far_off_is_asked_about_before_it_counts() -> None:
    found, judged = compared(CRASHED, label_a="7,000")
    assert judged.verdict == "unclear"
    assert "19.900 s of 7,000 (run 5 of 2026-05-03, ana), 4.290 s slower than the others" in judged.reasons[0]
    assert judged.reasons[1].startswith("without it: if the drift was steady, b is faster than 7,000 by 0.10")
    assert judged.reasons[2].startswith("with it: not decided")
    assert [row.counts for row in found.rows] == ["yes", "yes", "yes", "yes", "no", "yes"]
    assert found.more_runs_needed is None


def test_a_lap_far_off_is_left_out_or_counted_on_request() -> None:
    found, judged = compared(CRASHED, odd_times="leave out")
    assert judged.verdict == "caution", "five runs do not show whether the drift was steady"
    assert "left out as far off the others: 19.900 s of a" in judged.findings
    found, judged = compared(CRASHED, odd_times="count")
    assert (judged.verdict, found.rows[4].counts) == ("unclear", "yes")
    assert found.answer.endswith("would decide it, if it stays like this")


def test_an_odd_time_of_two_a_side_is_asked_about_though_leaving_it_out_leaves_too_few() -> None:
    runs = runs_of("abba", (15.6, 15.5, 15.52, 19.9))
    found, judged = compared(runs)
    assert judged.verdict == "unclear"
    assert "19.900 s of a (run 4)" in judged.reasons[0]
    assert [reason[:8] for reason in judged.reasons[1:]] == ["with it:"]
    assert found.plain_difference_s == pytest.approx(-2.24)
    with pytest.raises(InputError, match="there is 1 of a and 2 of b"):
        compared(runs, odd_times="leave out")


def test_an_odd_time_without_an_order_is_asked_about_too() -> None:
    _, judged = compared(without_order("aaabbb", (15.6, 15.62, 19.9, 15.50, 15.52, 15.51)))
    assert judged.reasons[0].startswith("not decided: 19.900 s of a, 4.290 s slower")


def test_laps_of_one_run_are_one_figure() -> None:
    laps_of_a = tuple(TimedRun(group="a", order=1, time_s=time) for time in (15.60, 15.62, 15.61))
    rest = tuple(
        TimedRun(group=group, order=order, time_s=time)
        for order, (group, time) in enumerate((("b", 15.51), ("b", 15.50), ("a", 15.60)), start=2)
    )
    found, judged = compared(laps_of_a + rest)
    alone, _ = compared(runs_of("abba", (15.61, 15.51, 15.50, 15.60)))
    assert found.difference_s == pytest.approx(alone.difference_s)
    assert len(found.rows) == 4
    assert any("3 rows are laps of 1 run" in finding for finding in judged.findings)
    with pytest.raises(InputError, match="1 of a and 1 of b \\(the laps of one run are one figure\\)"):
        compared(laps_of_a + tuple(TimedRun(group="b", order=2, time_s=time) for time in (15.5, 15.52)))


@pytest.mark.parametrize(
    ("runs", "said"),
    [
        (runs_of("a", (15.6,)), "there is 1 of a and 0 of b"),
        (runs_of("aab", (15.6, 15.7, 15.7)), "two runs a side, there are 2 of a and 1 of b"),
    ],
)
def test_too_little_is_refused(runs: tuple[TimedRun, ...], said: str) -> None:
    with pytest.raises(InputError, match=said):
        compared(runs)


@pytest.mark.parametrize("groups", ["aabb", "abba", "abbaabba", "abababab"])
def test_times_too_coarse_to_show_scatter_are_unclear(groups: str) -> None:
    """Read to 0.1 s, each mean may be 0.05 s off however often it is repeated."""
    found, judged = compared(runs_of(groups, [15.6 if group == "a" else 15.5 for group in groups]))
    assert judged.verdict == "unclear"
    assert "read too coarsely" in judged.reasons[0]
    assert (found.difference_low_s or 0.0) <= -0.2 + 1e-9
    assert (found.difference_high_s or 0.0) >= -1e-9
    assert found.more_runs_needed is None


def test_equal_times_without_an_order_are_unclear() -> None:
    found, judged = compared(without_order("aabb", (15.6, 15.6, 15.6, 15.6)))
    assert judged.verdict == "unclear"
    assert "the order of the runs is not known" in judged.reasons[0]
    assert (found.plain_low_s, found.plain_high_s) == pytest.approx((-0.1, 0.1))
    assert "as the times are read off" in judged.reasons[1]
    given = LapComparisonGiven(runs=without_order("aabb", (15.6, 15.6, 15.6, 15.6)))
    assert not any("Welch" in line for line in laps_working(given, compare_laps(given)))


@pytest.mark.parametrize("groups", ["aabb", "abba"])
def test_one_side_of_equal_times_is_answered_without_a_warning(groups: str) -> None:
    """Warnings are errors here; times to 0.1 s and 0.01 s."""
    times = {"a": [15.6, 15.6], "b": [15.70, 15.71]}
    _, judged = compared(runs_of(groups, [times[group].pop(0) for group in groups]))
    assert judged.verdict == {"aabb": "unclear", "abba": "caution"}[groups]


def test_typed_runs_leave_the_order_empty_and_name_day_and_driver() -> None:
    typed = ["a::15.61", "a::15.70:2026-05-03:ana", "b::15.70", "b:4:15.72:2026-05-03:bo"]
    given = bind(RUN_COMPARISON, {"runs": typed}).given
    assert [(run.order, run.day, run.driver) for run in given.runs] == [
        (None, None, None),
        (None, "2026-05-03", "ana"),
        (None, None, None),
        (4, "2026-05-03", "bo"),
    ]
    with pytest.raises(InputError, match="a:3"):
        bind(RUN_COMPARISON, {"runs": ["a:3"]})
    assert run_calculator(
        RUN_COMPARISON, bind(RUN_COMPARISON, {"runs": ["a::15.6", "a::15.7", "b::15.6", "b::15.8"]})
    ).verdict


def test_the_working_shows_both_groups_and_both_intervals() -> None:
    given = LapComparisonGiven(runs=alternating(CLEAR_A, CLEAR_B), label_a="7,000", label_b="10,000")
    lines = laps_working(given, compare_laps(given))
    assert lines[0].startswith("7,000: mean 15.9175 s")
    assert any("b − a = -0.1950 s, half width t u" in line for line in lines)
    assert any("6.00 degrees of freedom (Welch)" in line for line in lines)


def test_whatever_is_typed_gets_an_answer_or_a_refusal_in_words() -> None:
    """Orders missing or given twice, days of one run, coarse times: no warning (an error here), no nan in the words."""
    chance = random.Random(15)
    verdicts_seen = set()
    for _ in range(120):
        is_ordered, step = chance.random() < 0.6, chance.choice([1.0, 0.1, 0.01, 0.001])
        runs = tuple(
            TimedRun(
                group=chance.choice("ab"),
                order=place if is_ordered else chance.choice([None, 1, place]),
                time_s=round(round((15.6 + chance.choice([0.1, 0.1, 3.0]) * chance.random()) / step) * step, 3),
                day=chance.choice([None, "Sunday"]),
            )
            for place in range(1, chance.randint(2, 12))
        )
        try:
            found, judged = compared(runs, odd_times=chance.choice(["ask", "count", "leave out"]))
        except InputError:
            verdicts_seen.add("refused")
            continue
        verdicts_seen.add(judged.verdict)
        assert "nan" not in " ".join(judged.reasons)
        if judged.verdict == "ok":
            assert (found.difference_s or 0.0) * found.plain_difference_s > 0
    assert {"refused", "unclear", "caution"} <= verdicts_seen


@pytest.mark.parametrize("groups", ["aaaabbbb", "abbaabba"])
@pytest.mark.parametrize("drift", [0.0, 0.05])
def test_the_interval_holds_the_truth_as_often_as_it_says(groups: str, drift: float) -> None:
    """Simulated with a fixed start; 93 to 97 % within four standard errors of 300."""
    held = np.asarray(
        laps.holds(np.random.default_rng(1947), 300, (groups,), difference=-0.1, drifts=(drift,), scatter=0.05)
    )
    assert held.mean() == pytest.approx(0.95, abs=4 * (0.95 * 0.05 / 300) ** 0.5)


def test_drift_makes_welch_alone_call_noise_a_gain_and_the_verdict_does_not() -> None:
    """Simulated: no difference, drift -0.021 s per run, spread 0.045 s, four after four."""
    chance, many = np.random.default_rng(21), 120
    times = times_of(chance, many, ("aaaabbbb",), difference=0.0, drifts=(-0.021,), scatter=0.045)
    alone = stats.ttest_ind(times[:, :4], times[:, 4:], axis=1, equal_var=False).pvalue < 0.05
    said = verdicts(times, ("aaaabbbb",))
    assert alone.mean() > 0.3
    assert np.mean([verdict == "ok" for verdict in said]) < 0.05 + 4 * (0.05 * 0.95 / many) ** 0.5


def test_power_is_what_a_simulation_finds() -> None:
    """The runs named as needed decide it in four of five simulated comparisons; four standard errors of 1,500."""
    model = drift_model(alternating(CLEAR_A, [time - 0.03 for time in CLEAR_A]))
    more = more_runs_needed(model)
    assert more is not None
    assert model.difference is not None
    groups = "abbaabba" + "baab" * (more // 2)
    design = np.array([[group == "b", 1.0, place] for place, group in enumerate(groups)], dtype=float)
    chance = np.random.default_rng(80)
    times = chance.normal(0.0, model.fit.residual_sd, (1500, len(groups))) + model.difference.value * design[:, 0]
    found = times @ np.linalg.pinv(design).T
    left = len(groups) - 3
    scatter = (((times - found @ design.T) ** 2).sum(axis=1) / left) ** 0.5
    error = scatter * np.linalg.inv(design.T @ design)[0, 0] ** 0.5
    decided = float(np.mean(abs(found[:, 0]) > stats.t.ppf(0.975, left) * error))
    power = power_by_scipy("abbaabba", more, model.difference.value, model.fit.residual_sd)
    assert decided == pytest.approx(power, abs=4 * (power * (1 - power) / 1500) ** 0.5)


def test_the_coverage_case_of_wrong_signs_has_none_in_a_fixed_start() -> None:
    wrong = next(case for case in laps.cases() if case.name.startswith("ok with the wrong sign"))
    assert seen("laps", wrong, 150).share == 0.0
    assert isinstance(wrong.simulate, partial)
