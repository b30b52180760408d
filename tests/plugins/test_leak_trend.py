"""leak-trend. Weighings called constructed have no publication: they are right by the arithmetic beside them."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from benchmarks.coverages.leak import Truth, is_detected, is_sudden, loss_holds
from conftest import Outcome

from bevelbook.declare.errors import InputError
from bevelbook.formulas.leak import LeakFound, LeakGiven, LeakWeighing, judge_leak, leak, leak_working
from bevelbook_plugins.leak_trend import LEAK_TREND

REFERENCES = Path(__file__).parent.parent / "references"
SUDDEN = ((0.0, 22.35), (6.0, 22.34), (13.0, 22.05))
ODD = (18.35, 18.35, 18.55, 18.34, 18.34)


def given(weighings: object, **more: object) -> LeakGiven:
    listed = tuple(LeakWeighing(runs=runs, mass_g=mass) for runs, mass in weighings)  # type: ignore[attr-defined]
    return LeakGiven(weighings=listed, **more)  # type: ignore[arg-type]


def worked(weighings: object, **more: object) -> tuple[LeakGiven, LeakFound]:
    asked = given(weighings, **more)
    return asked, leak(asked)


def constructed_leak() -> list[tuple[float, float]]:
    with (REFERENCES / "statistics_inverse_regression.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return [(float(row["x"]), float(row["y"])) for row in rows if row["example"] == "leak_constructed"]


def test_a_sudden_leak_is_found_by_difference() -> None:
    """Constructed: 0.30 g of 1.86 g; U = 2 sqrt 2 sqrt(0.01^2 / 12 + 0.005^2) = 0.016 g; 0.29 g in 7 runs."""
    asked, found = worked(SUDDEN, repeatability_g=0.005, oil_mass_g=1.86)
    assert found.loss_g == pytest.approx(0.30)
    assert found.loss_high_g - found.loss_g == pytest.approx(0.016, abs=5e-4)
    assert found.loss_g - found.loss_low_g == pytest.approx(0.016, abs=5e-4)
    assert found.loss_share == pytest.approx(0.161, abs=5e-4)
    assert found.smallest_loss_seen_g == pytest.approx(0.016, abs=5e-5)
    assert (found.changed_after_runs, found.changed_before_runs) == (6.0, 13.0)
    first, second = found.rows
    assert first.detected == "no"
    assert second.detected == "yes"
    assert second.loss_g_per_run == pytest.approx(0.041, abs=5e-4)
    assert second.uncertainty_g_per_run == pytest.approx(0.002, abs=5e-4)
    assert found.loss_g_per_run is None
    assert found.runs_to_limit is None
    judged = judge_leak(asked, found)
    assert judged.verdict == "stop"
    assert "lost 0.30 g of 1.86 g" in judged.reasons[0]
    went = "0.29 g of it went between run 6 and 13"
    assert any(reason.startswith(f"{went} by the last weighing alone") for reason in judged.reasons)
    asked, found = worked([*SUDDEN, (15.0, 22.05)], repeatability_g=0.005, oil_mass_g=1.86)
    assert any(reason.startswith(f"sudden: {went} (0.041") for reason in judge_leak(asked, found).reasons)


def test_a_sudden_loss_is_never_more_than_the_loss() -> None:
    """Constructed: 0.01 g heavier, then 0.30 g lighter, 0.29 g in all."""
    asked, found = worked([(0, 22.35), (6, 22.36), (13, 22.06), (15, 22.06)], repeatability_g=0.005, oil_mass_g=1.86)
    reasons = judge_leak(asked, found).reasons
    assert any(reason.startswith("sudden: all of it went between run 6 and 13") for reason in reasons)


@pytest.mark.parametrize(
    ("masses", "odd", "verdict"),
    [
        (ODD, "run 12 is 0.20 g off its neighbours (was something else on the scale?) and does not count", "ok"),
        (
            (18.35, 18.35, 18.15, 18.34, 18.34),
            "run 12 is 0.19 g off its neighbours (was something missing from the scale?) and does not count",
            "ok",
        ),
        (
            (18.35, 18.35, 18.34, 18.34, 18.55),
            "run 24 is 0.21 g off its neighbours (was something else on the scale?) and does not count, weigh again",
            "unclear",
        ),
        (
            (18.15, 18.35, 18.35, 18.34, 18.34),
            "run 0 is 0.20 g off its neighbours (was something missing from the scale?) and does not count",
            "ok",
        ),
        (
            (18.35, 18.20, 18.45, 18.10, 18.05),
            "run 12 is 0.25 g off its neighbours (was something else on the scale?) and does not count",
            "stop",
        ),
        (
            (18.35, 18.35, 18.34, 18.55, 18.34),
            "run 18 is 0.21 g off its neighbours (was something else on the scale?) and does not count, weigh again",
            "unclear",
        ),
        (
            (21.80, 21.88, 21.76, 21.64, 21.52, 21.40),
            "run 0 is 0.08 g off its neighbours (was something missing from the scale?) and does not count",
            "stop",
        ),
        (
            (18.35, 18.55, 18.35, 18.55, 18.35),
            "run 6 is 0.20 g heavier than the one at run 0 (was something else on the scale?) and nothing shows which "
            "of them to count, weigh again",
            "unclear",
        ),
        (
            (18.35, 18.20, 18.15, 18.35),
            "run 18 is 0.20 g off its neighbours (was something else on the scale?) and does not count, weigh again",
            "stop",
        ),
    ],
    ids=[
        "heavier",
        "lighter",
        "the last",
        "the first",
        "in a leak",
        "one after it",
        "the first of a leak",
        "several",
        "back after a loss",
    ],
)
def test_a_weighing_that_the_others_contradict_is_asked_about(
    masses: tuple[float, ...], odd: str, verdict: str
) -> None:
    """Constructed, every six runs. Nothing that the others show is hidden, and nothing is called sudden for it.

    Two sound weighings after it settle it.
    """
    asked, found = worked([(6.0 * n, mass) for n, mass in enumerate(masses)], repeatability_g=0.005, oil_mass_g=1.50)
    judged = judge_leak(asked, found)
    assert judged.verdict == verdict
    assert any(reason == f"the weighing at {odd}" for reason in judged.reasons)
    assert not any("sudden" in reason for reason in judged.reasons)
    assert verdict == "stop" or not any(row.detected == "yes" for row in found.rows)


@pytest.mark.parametrize(
    "masses",
    [(22.00, 22.03, 22.03, 22.00, 22.02, 22.00), (22.00, 22.03, 22.03, 22.00, 22.00, 22.00)],
    ids=["back and forth", "up and down"],
)
def test_nothing_is_sudden_where_no_loss_is_seen(masses: tuple[float, ...]) -> None:
    """Constructed, every six runs: 0.03 g up and down again; the scale can see 0.016 g, and nothing was lost."""
    asked, found = worked([(6.0 * n, mass) for n, mass in enumerate(masses)], repeatability_g=0.005, oil_mass_g=1.86)
    judged = judge_leak(asked, found)
    assert judged.verdict == "ok"
    assert judged.reasons == ("no loss seen in 30 runs (the scale can see 0.02 g and more)",)


def test_a_loss_by_the_first_weighing_alone_is_asked_about() -> None:
    """Constructed: 0.25 g in the first six runs, 0.02 g in the next eighteen: a heavy first one shows the same."""
    weighings = [(0, 22.60), (6, 22.35), (12, 22.34), (18, 22.34), (24, 22.33)]
    asked, found = worked(weighings, repeatability_g=0.005, oil_mass_g=1.86)
    judged = judge_leak(asked, found)
    assert judged.verdict == "stop"
    assert (
        "0.25 g of it went between run 0 and 6 by the first weighing alone (0.042 ± 0.003 g per run, k = 2): was "
        "something else on the scale?"
    ) in judged.reasons
    asked, found = worked(weighings[:2], repeatability_g=0.005, oil_mass_g=1.86)
    assert not any("alone" in reason for reason in judge_leak(asked, found).reasons)


def test_seven_percent_is_a_caution() -> None:
    """Constructed: 0.13 g of 1.86 g = 7.0 %, whole interval between 5 and 10 %."""
    asked, found = worked([(0, 22.60), (8, 22.47)], oil_mass_g=1.86)
    assert found.loss_share == pytest.approx(0.070, abs=5e-4)
    assert (found.changed_after_runs, found.changed_before_runs) == (0.0, 8.0)
    assert judge_leak(asked, found).verdict == "caution"


def test_smallest_loss_seen_from_resolution_alone() -> None:
    """1.96 x sqrt 2 x 0.01 / sqrt 12 = 0.008 g (JCGM 100:2008, F.2.2.1)."""
    _, found = worked([(0, 22.60), (8, 22.60)], repeatability_g=0.0, oil_mass_g=1.86)
    assert found.smallest_loss_seen_g == pytest.approx(0.008, abs=5e-5)


def test_no_loss_is_said_with_the_smallest_that_could_have_been_seen() -> None:
    asked, found = worked([(0, 22.35), (6, 22.34)], repeatability_g=0.005, oil_mass_g=1.86)
    judged = judge_leak(asked, found)
    assert judged.verdict == "ok"
    assert judged.reasons == ("no loss seen in 6 runs (the scale can see 0.02 g and more)",)


def test_the_date_is_the_limit_divided_by_the_rate() -> None:
    """Constructed masses, 1.50 to 1.46 g, Sxx = 42: slope -0.0064286 by least squares; u = 0.01 / sqrt 12 g.

    The line is checked against statsmodels in test_known_scatter.py.
    """
    asked, found = worked(constructed_leak(), repeatability_g=0.0, oil_mass_g=1.0)
    half = 1.96 * 0.01 / (12 * 42) ** 0.5
    assert found.loss_g_per_run == pytest.approx(0.0064286, abs=1e-7)
    assert found.loss_high_g_per_run == pytest.approx(0.0064286 + half, abs=1e-6)
    assert found.runs_to_limit == pytest.approx(0.1 / 0.0064286, abs=1e-3)
    assert found.runs_to_limit_low == pytest.approx(0.1 / (0.0064286 + half), abs=1e-3)
    assert found.runs_to_limit_high == pytest.approx(0.1 / (0.0064286 - half), abs=1e-3)
    assert found.runs_left == pytest.approx(0.1 / 0.0064286 - 7.0, abs=1e-3)
    assert any("2.2 times as far out" in finding for finding in judge_leak(asked, found).findings)


def test_the_date_counts_from_the_first_weighing() -> None:
    weighings = [(5.0 * n + 10.0, 22.40 - 0.02 * n) for n in range(5)]
    _, found = worked(weighings, repeatability_g=0.005, oil_mass_g=1.86)
    assert found.runs_to_limit == pytest.approx(10.0 + 0.186 / 0.004)


def test_a_date_takes_five_weighings() -> None:
    _, found = worked(constructed_leak()[:4], repeatability_g=0.0, oil_mass_g=1.0)
    assert found.loss_g_per_run is None
    assert found.runs_to_limit is None
    _, found = worked(constructed_leak()[:5], repeatability_g=0.0, oil_mass_g=1.0)
    assert found.loss_g_per_run is not None


def test_five_weighings_off_the_line_give_no_trend() -> None:
    """Constructed: sound to run 6, then 0.042 g per run; a line is off by up to 0.10 g, the scale explains 0.01 g."""
    asked, found = worked(
        [(0, 22.35), (3, 22.34), (6, 22.34), (13, 22.05), (17, 21.88)], repeatability_g=0.004, oil_mass_g=1.86
    )
    assert found.loss_g_per_run is None
    judged = judge_leak(asked, found)
    assert judged.verdict == "stop"
    assert any("do not lie on one line" in finding for finding in judged.findings)
    assert (found.changed_after_runs, found.changed_before_runs) == (6.0, 13.0)


def test_equal_weighings_of_a_tight_diff_lose_nothing_within_what_the_scale_can_see() -> None:
    """Constructed: five readings of 22.40 g. Their scatter is that of the scale, u = 0.01 / sqrt 12 g, so the slope is
    0 +- 1.96 u / sqrt(Sxx), Sxx = 250 runs squared.
    """
    weighings = [(runs, 22.40) for runs in (0.0, 5.0, 10.0, 15.0, 20.0)]
    asked, found = worked(weighings, repeatability_g=0.0, oil_mass_g=1.86)
    half = 1.96 * (0.01 / 12**0.5) / 250**0.5
    assert found.loss_g_per_run == 0.0
    assert found.loss_high_g_per_run == pytest.approx(half, rel=1e-4)
    assert found.loss_low_g_per_run == pytest.approx(-half, rel=1e-4)
    assert (found.runs_to_limit, found.runs_to_limit_high) == (None, None)
    assert found.runs_to_limit_low == pytest.approx(0.186 / half)
    judged = judge_leak(asked, found)
    assert judged.verdict == "ok"
    (left,) = [reason for reason in judged.reasons if "left" in reason]
    assert left == (
        "at least 499 runs left after run 20, if nothing changes (95 %): our default limit of 0.19 g (10 % of the "
        "oil) is not reached before run 519"
    )


def test_weighings_on_one_line_to_the_last_digit_still_leave_the_scales_doubt_in_the_date() -> None:
    """Constructed: 0.10 g every five runs; 0.186 g are gone at run 9.3."""
    _, found = worked([(5.0 * n, 22.40 - 0.10 * n) for n in range(5)], repeatability_g=0.005, oil_mass_g=1.86)
    assert found.runs_to_limit == pytest.approx(9.3)
    assert found.runs_to_limit_low is not None
    assert found.runs_to_limit_high is not None
    assert found.runs_to_limit_low < 9.2 < 9.4 < found.runs_to_limit_high


def test_a_flat_line_has_no_date() -> None:
    """g >= 1: masses that only flicker by a step."""
    masses = (22.35, 22.34, 22.35, 22.34, 22.35, 22.34)
    asked, found = worked([(3.0 * i, mass) for i, mass in enumerate(masses)], repeatability_g=0.004, oil_mass_g=1.86)
    assert found.loss_g_per_run is not None
    assert found.runs_to_limit is None
    assert any("is not distinguishable from zero" in finding for finding in judge_leak(asked, found).findings)


def test_a_steady_leak_is_not_called_sudden_and_its_date_is_past() -> None:
    """Constructed: 0.021 g per run from the start, 1.86 g of oil: 10 % at run 8 or 9."""
    asked, found = worked(
        zip((0, 6, 12, 18, 25), (22.41, 22.28, 22.16, 22.03, 21.89), strict=True),
        repeatability_g=0.004,
        oil_mass_g=1.86,
    )
    assert found.loss_g_per_run == pytest.approx(0.0208, abs=5e-4)
    assert found.runs_to_limit == pytest.approx(0.186 / 0.0208, abs=0.4)
    assert found.runs_left is None
    reasons = judge_leak(asked, found).reasons
    assert not any("sudden" in reason for reason in reasons)
    reached = "the trend reached our default limit of 0.19 g (10 % of the oil) at run 8"
    assert any(reason.startswith(reached) for reason in reasons)
    assert any(reason.startswith("good at run 0, bad at run 6 (over 0.09 g)") for reason in reasons)


def test_a_coarse_scale_cannot_tell() -> None:
    """Constructed: 1.96 sqrt 2 sqrt(0.1^2 / 12 + 0.05^2) = 0.160 g, and 5 % of the oil is 0.093 g."""
    asked, found = worked([(0, 22.4), (9, 22.4)], scale_step_g=0.1, repeatability_g=0.05, oil_mass_g=1.86)
    assert found.smallest_loss_seen_g == pytest.approx(0.160, abs=5e-4)
    judged = judge_leak(asked, found)
    assert judged.verdict == "unclear"
    assert (found.changed_after_runs, found.changed_before_runs) == (None, None)


@pytest.mark.parametrize(("last", "verdict"), [(22.37, "caution"), (22.32, "unclear"), (22.29, "stop")])
def test_a_limit_inside_the_interval_is_unclear(last: float, verdict: str) -> None:
    """Constructed: stop limit 0.186 g, U = 0.016 g: 0.13 is under it, 0.18 may be either, 0.21 is over it."""
    asked, found = worked([(0, 22.50), (9, last)], repeatability_g=0.005, oil_mass_g=1.86)
    assert judge_leak(asked, found).verdict == verdict


def test_each_weighing_may_have_its_own_scale() -> None:
    """Constructed: U = 2 sqrt(0.1^2 / 12 + 0.01^2 / 12) = 0.058 g."""
    coarse = LeakWeighing(runs=0, mass_g=22.4, scale_step_g=0.1, repeatability_g=0.0)
    asked = LeakGiven(
        weighings=(coarse, LeakWeighing(runs=9, mass_g=22.35)),
        repeatability_g=0.0,
        oil_mass_g=1.86,
    )
    found = leak(asked)
    assert found.loss_high_g - found.loss_g == pytest.approx(0.058, abs=5e-4)
    assert any("different scales" in finding for finding in judge_leak(asked, found).findings)


def test_weighings_after_the_same_runs_become_their_mean() -> None:
    """Constructed: two readings halve the variance, u^2 = u1^2 / 2 + u1^2."""
    _, found = worked([(0, 22.40), (0, 22.42), (9, 22.30)], repeatability_g=0.005)
    assert found.loss_g == pytest.approx(0.11)
    assert found.loss_high_g - found.loss_g == pytest.approx(2 * (1.5 * (0.01**2 / 12 + 0.005**2)) ** 0.5)


def test_weighings_after_the_same_runs_that_the_scale_cannot_explain_are_said_and_not_averaged() -> None:
    """Constructed: 0.29 g between two readings of a scale with U = 0.008 g; 0.30 g is over 10 % of 1.86 g."""
    asked, found = worked([(0, 22.35), (6, 22.34), (6, 22.05)], repeatability_g=0.0, oil_mass_g=1.86)
    judged = judge_leak(asked, found)
    assert (found.loss_g, judged.verdict) == (0.30, "stop")
    assert (found.changed_after_runs, found.changed_before_runs) == (0.0, 6.0)
    assert any("22.34 g and 22.05 g, both after 6 runs" in finding for finding in judged.findings)
    _, close = worked([(0, 22.35), (6, 22.34), (6, 22.33)], repeatability_g=0.005)
    assert close.loss_g == pytest.approx(0.015)


def test_order_of_the_weighings_does_not_matter() -> None:
    assert leak(given(SUDDEN, oil_mass_g=1.86)) == leak(given(reversed(SUDDEN), oil_mass_g=1.86))


def test_without_the_oil_put_in_there_is_no_share() -> None:
    asked, found = worked(SUDDEN, repeatability_g=0.005)
    assert found.loss_share is None
    assert (found.changed_after_runs, found.changed_before_runs) == (6.0, 13.0)
    assert judge_leak(asked, found).verdict == "caution"


def test_own_limits_are_called_ones_own() -> None:
    asked, found = worked(
        [(0, 22.50), (9, 22.40)], repeatability_g=0.0, oil_mass_g=1.86, caution_share=0.02, stop_share=0.04
    )
    judged = judge_leak(asked, found)
    assert judged.verdict == "stop"
    assert "over your limit of 0.07 g (4 % of the oil)" in judged.reasons


def test_a_heavier_diff_is_asked_about() -> None:
    asked, found = worked([(0, 22.40), (9, 22.46)], oil_mass_g=1.86)
    judged = judge_leak(asked, found)
    assert judged.verdict == "unclear"
    assert "0.06 g heavier" in judged.reasons[0]


def test_of_a_scale_that_was_never_checked_one_step_is_assumed_and_much_withheld() -> None:
    """U = 2 sqrt(2 (0.01^2 / 12 + 0.01^2)) = 0.0294 g (one step is our own figure); 0.25 g of 1.50 g."""
    weighings = [(0, 18.35), (6, 18.34), (13, 18.10), (15, 18.10)]
    asked, found = worked(weighings, oil_mass_g=1.50)
    assert found.loss_high_g - found.loss_g == pytest.approx(0.0294, abs=5e-5)
    assert {row.detected for row in found.rows} == {"not known"}
    judged = judge_leak(asked, found)
    assert judged.verdict == "stop"
    assert not any("sudden" in reason for reason in judged.reasons)
    assert any("the scale was never checked: one step, 0.01 g, is assumed" in finding for finding in judged.findings)
    steady = [(5.0 * n, 22.40 - 0.02 * n) for n in range(6)]
    asked, found = worked(steady, oil_mass_g=1.50)
    assert found.loss_g_per_run == pytest.approx(0.004)
    assert (found.runs_to_limit, found.runs_to_limit_low) == (None, None)
    assert "no date: the scale was never checked" in judge_leak(asked, found).findings


def test_another_scale_that_was_never_checked_does_not_borrow_the_repeatability() -> None:
    """Constructed: U = 2 sqrt((0.01^2 / 12 + 0.005^2) + (0.01^2 / 12 + 0.01^2)) = 0.0238 g."""
    asked = LeakGiven(
        weighings=(LeakWeighing(runs=0, mass_g=22.4), LeakWeighing(runs=9, mass_g=22.35, scale_step_g=0.01)),
        repeatability_g=0.005,
    )
    found = leak(asked)
    assert found.loss_high_g - found.loss_g == pytest.approx(0.0238, abs=5e-5)


def test_masses_of_different_days_carry_the_scales_shift_and_those_of_one_day_do_not() -> None:
    """U = 2 sqrt(2 (u^2 + 0.01^2)) between days and 2 sqrt 2 u on one, u^2 = 0.01^2 / 12 + 0.005^2; two readings of one
    day have one shift in their mean."""
    u2 = 0.01**2 / 12 + 0.005**2

    def wide_g(*days: str | None) -> float:
        listed = tuple(
            LeakWeighing(runs=runs, mass_g=22.40, day=day) for runs, day in zip((0.0, 6.0, 6.0), days, strict=False)
        )
        found = leak(
            LeakGiven(weighings=listed, repeatability_g=0.005, day_to_day_g=0.01, housing_material="aluminium")
        )
        return found.loss_high_g - found.loss_g

    assert wide_g("2026-05-01", "2026-05-02") == pytest.approx(2 * (2 * (u2 + 1e-4)) ** 0.5)
    assert wide_g("2026-05-01", "2026-05-01") == pytest.approx(2 * (2 * u2) ** 0.5)
    assert wide_g(None, None) == pytest.approx(2 * (2 * (u2 + 1e-4)) ** 0.5)
    assert wide_g("2026-05-01", "2026-05-02", "2026-05-02") == pytest.approx(2 * (1.5 * u2 + 2e-4) ** 0.5)
    assert wide_g("2026-05-01", "2026-05-02", "2026-05-03") == pytest.approx(2 * (1.5 * u2 + 1.5e-4) ** 0.5)
    assert wide_g("2026-05-01", "2026-05-01", "2026-05-02") == pytest.approx(2 * (1.5 * u2 + 0.5e-4) ** 0.5)


def test_an_unknown_shift_between_days_is_said_where_it_matters() -> None:
    """0.02 g is seen from 0.016 g on; with a shift of 0.01 g a day from 1.96 sqrt(2 (u^2 + 0.01^2)) = 0.032 g on. It
    counts where the days are known."""

    def findings(last_g: float, *days: str | None, **more: object) -> list[str]:
        listed = tuple(
            LeakWeighing(runs=runs, mass_g=mass_g, day=day)
            for (runs, mass_g), day in zip(((0.0, 22.40), (6.0, last_g)), days, strict=True)
        )
        fixed = {"repeatability_g": 0.005, "oil_mass_g": 1.86, "housing_material": "aluminium"}
        asked = LeakGiven(weighings=listed, **{**fixed, **more})  # type: ignore[arg-type]
        return [one for one in judge_leak(asked, leak(asked)).findings if one.startswith("weighed on d")]

    assert findings(22.38, "2026-05-01", "2026-05-02") == []
    assert findings(22.38, None, None)[0].startswith("weighed on days that are not said")
    assert findings(22.38, "2026-05-01", "2026-05-01") == []
    assert findings(22.10, None, None) == []
    assert findings(22.38, None, None, day_to_day_g=0.01) == []


def test_repeated_weighings_weigh_more_in_the_trend() -> None:
    """The slope through means of four readings and of one is that of all readings; statsmodels, WLS."""
    import statsmodels.api as sm

    weighings = [(0.0, 22.40), *[(6.0, 22.38)] * 4, (12.0, 22.37), (18.0, 22.34), (24.0, 22.33)]
    _, found = worked(weighings, repeatability_g=0.005, oil_mass_g=1.86)
    design = sm.add_constant(np.array([0.0, 6.0, 12.0, 18.0, 24.0]))
    fit = sm.WLS([22.40, 22.38, 22.37, 22.34, 22.33], design, weights=[1, 4, 1, 1, 1]).fit()
    assert found.loss_g_per_run == pytest.approx(-fit.params[1], rel=1e-9)


@pytest.mark.parametrize(
    "masses",
    [(22.40,) * 5, (22.40, 22.39, 22.38, 22.37, 22.36), (22.40, 22.40, 22.39, 22.39, 22.38)],
    ids=["all alike", "one step apart", "half a step"],
)
def test_masses_without_scatter_give_an_interval_and_no_warning(masses: tuple[float, ...]) -> None:
    asked, found = worked([(6.0 * n, mass) for n, mass in enumerate(masses)], repeatability_g=0.0, oil_mass_g=1.86)
    assert found.loss_low_g_per_run is not None
    assert found.loss_high_g_per_run is not None
    assert found.loss_low_g_per_run < found.loss_high_g_per_run
    assert judge_leak(asked, found).verdict == "ok"


def test_a_first_weighing_after_some_runs_is_said() -> None:
    asked, found = worked([(4, 22.40), (9, 22.40)], oil_mass_g=1.86)
    assert any("first weighing came after 4 runs" in finding for finding in judge_leak(asked, found).findings)


@pytest.mark.parametrize(
    ("weighings", "code"),
    [
        ([(0, 22.4)], "missing_input"),
        ([(3, 22.4), (3, 22.39)], "missing_input"),
        ([(0, 22.4), (5, 14.3)], "mass_basis"),
    ],
)
def test_what_cannot_be_compared_is_refused(weighings: list[tuple[float, float]], code: str) -> None:
    with pytest.raises(InputError) as caught:
        leak(given(weighings, oil_mass_g=1.86))
    assert caught.value.code == code
    assert caught.value.place.field == "weighings"


def test_the_working_shows_the_formula_with_its_values() -> None:
    asked, found = worked(SUDDEN, repeatability_g=0.005, oil_mass_g=1.86)
    lines = leak_working(asked, found)
    assert lines[0] == "loss = first − last = 22.35 g − 22.05 g = 0.300 g"
    assert any("5 weighings are needed" in line for line in lines)


def test_the_interval_of_the_loss_holds_the_truth_as_often_as_it_says() -> None:
    """Simulated readings with noise 0.005 g, rounded to 0.01 g: k = 2 is 95.4 %; four standard errors of 4,000."""
    chance = np.random.default_rng(18350)
    many, held = 4000, 0
    start = chance.uniform(22.0, 23.0, many)
    lost = chance.uniform(0.0, 0.3, many)
    first = np.round((start + chance.normal(0.0, 0.005, many)) / 0.01) * 0.01
    last = np.round((start - lost + chance.normal(0.0, 0.005, many)) / 0.01) * 0.01
    for one, other, true in zip(first, last, lost, strict=True):
        found = leak(given([(0.0, float(one)), (10.0, float(other))], repeatability_g=0.005))
        held += found.loss_low_g <= true <= found.loss_high_g
    assert held / many == pytest.approx(0.9545, abs=4 * (0.9545 * 0.0455 / many) ** 0.5)


def test_the_interval_of_the_date_holds_the_truth_as_often_as_it_says() -> None:
    """Simulated leaks of 0.003 g per run, eight weighings, noise 0.005 g, rounded to 0.01 g, 0.15 g to lose: at run 50.

    Larger ones: tests/benchmarks/coverages/leak.py.
    """
    chance = np.random.default_rng(18100)
    many, held, dated = 600, 0, 0
    runs = np.arange(8) * 6.0
    for _ in range(many):
        masses = np.round((22.5 - 0.003 * runs + chance.normal(0.0, 0.005, 8)) / 0.01) * 0.01
        found = leak(given(zip(runs, masses, strict=True), repeatability_g=0.005, oil_mass_g=1.5))
        if found.runs_to_limit_low is not None and found.runs_to_limit_high is not None:
            dated += 1
            held += found.runs_to_limit_low <= 50.0 <= found.runs_to_limit_high
    assert dated > 0.9 * many
    assert held / dated == pytest.approx(0.95, abs=4 * (0.95 * 0.05 / dated) ** 0.5)


@pytest.mark.parametrize("weighings", [6, 10])
def test_few_charts_of_tight_diffs_show_a_loss_in_any_stretch(weighings: int) -> None:
    """Simulated, noise 0.005 g, rounded to 0.01 g: at most 5 % of charts, and four standard errors of 300."""
    chance = np.random.default_rng(20140 + weighings)
    many, shown, asked_about = 300, 0, 0
    for start in chance.uniform(22.0, 23.0, many):
        masses = np.round((start + chance.normal(0.0, 0.005, weighings)) / 0.01) * 0.01
        asked, found = worked(zip(np.arange(weighings) * 6.0, masses, strict=True), repeatability_g=0.005)
        shown += any(row.detected == "yes" for row in found.rows)
        asked_about += any("neighbours" in reason for reason in judge_leak(asked, found).reasons)
    assert shown / many <= 0.05 + 4 * (0.05 * 0.95 / many) ** 0.5
    assert asked_about / many <= 0.02


def test_it_is_declared_with_sources_and_says_which_limits_are_proposals() -> None:
    assert LEAK_TREND.listing_in is not None
    assert LEAK_TREND.listing_in.option == "--weighing"
    assert any(source.kind == "proposal" for source in LEAK_TREND.sources)


def test_a_sister_in_the_wrong_column_is_refused(bevelbook: Callable[..., Outcome]) -> None:
    """One colon too few: 4.98 g would be the day term of a scale that weighs to 0.01 g."""
    outcome = bevelbook("calc", "leak-trend", "--weighing", "0:18.35::::4.98", "--weighing", "6:18.30")
    assert outcome.code != 0
    assert 'found "4.98", wanted at most 1 g' in outcome.err


def test_the_sister_of_a_day_holds_for_every_weighing_of_that_day() -> None:
    """Constructed: 0.02 g of water; 22.20 and 22.24 g on one day are 0.04 g apart, the scale and its sister explain
    3 sqrt(4 (0.01² / 12 + 0.005²)) = 0.035 g. The lighter one counts: 22.35 - (22.20 - 0.02) g.
    """
    rows = ((0, 22.35, "2026-05-01", 4.98), (6, 22.20, "2026-05-08", 5.00), (6, 22.24, "2026-05-08", None))
    listed = tuple(LeakWeighing(runs=r, mass_g=m, day=day, sister_mass_g=sister) for r, m, day, sister in rows)
    found, judged = [], []
    for weighings in (listed[:2], listed):
        asked = LeakGiven(weighings=weighings, repeatability_g=0.005, oil_mass_g=1.86, housing_material="nylon")
        found.append(leak(asked))
        judged.append(judge_leak(asked, found[-1]))
    assert [one.loss_g for one in found] == [pytest.approx(0.17), pytest.approx(0.17)]
    assert not any("takes up and gives off" in reason for one in judged for reason in one.reasons)
    assert any(
        reason == "two weighings at 6 runs are 0.04 g apart: the lighter one counts, weigh again"
        for reason in judged[1].reasons
    )


def weighed_on(
    *days: str | None, repeatability_g: float | None = 0.005, day_to_day_g: float | None = None
) -> LeakGiven:
    """0.04 g less at each weighing, 6 runs apart, of 1.86 g in a housing of aluminium."""
    listed = tuple(
        LeakWeighing(runs=6.0 * place, mass_g=round(22.35 - 0.04 * place, 2), day=day) for place, day in enumerate(days)
    )
    return LeakGiven(
        weighings=listed,
        repeatability_g=repeatability_g,
        day_to_day_g=day_to_day_g,
        oil_mass_g=1.86,
        housing_material="aluminium",
    )


def test_a_scale_never_checked_on_a_second_day_is_off_by_one_step_from_day_to_day() -> None:
    """U = 2 sqrt(2 (0.01^2 / 12 + 0.005^2 + d^2)) with d = 0.01 g, one step (our own figure): 0.0327 g, as
    where 0.01 g was found; 0.0163 g where 0 was typed, on one day and without days."""

    def wide_g(*days: str | None, day_to_day_g: float | None = None) -> float:
        found = leak(weighed_on(*days, day_to_day_g=day_to_day_g))
        return found.loss_high_g - found.loss_g

    two_days = ("2026-05-03", "2026-05-13")
    assert wide_g(*two_days) == wide_g(*two_days, day_to_day_g=0.01) == pytest.approx(0.0327, abs=5e-5)
    for one in (
        wide_g(*two_days, day_to_day_g=0.0),
        wide_g("2026-05-03", "2026-05-03"),
        wide_g(None, None),
    ):
        assert one == pytest.approx(0.0163, abs=5e-5)


def test_what_is_assumed_from_day_to_day_is_said_where_it_counts() -> None:
    said = "scale never checked on a second day: one step, 0.01 g, is assumed from day to day"

    def is_said(asked: LeakGiven) -> bool:
        return said in judge_leak(asked, leak(asked)).reasons

    two_days = ("2026-05-03", "2026-05-13")
    assert is_said(weighed_on(*two_days))
    assert is_said(weighed_on(*two_days, repeatability_g=None))
    assert not is_said(weighed_on(*two_days, day_to_day_g=0.0))
    assert not is_said(weighed_on("2026-05-03", "2026-05-03"))
    assert not is_said(weighed_on(None, None))


@pytest.mark.parametrize("weighings", [2, 6])
def test_with_a_scale_checked_on_one_day_losses_between_days_hold(weighings: int) -> None:
    """Simulated: a shift of one step from day to day of which nothing is known. Larger: coverages/leak.py."""
    truth = Truth(weighings, 0.0, 0.005, day_g=0.01, tells_day=False)
    count = 800
    held = loss_holds(np.random.default_rng(1), count, truth._replace(loss_g_per_run=0.003))
    assert 0.92 <= sum(held) / count <= 0.98
    assert sum(is_detected(np.random.default_rng(1), count, truth)) / count <= 0.07
    assert sum(is_sudden(np.random.default_rng(1), count, truth)) / count <= 0.01
