"""leak-trend. Weighings called constructed have no publication: they are right by the arithmetic beside them."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from bevelbook.declare.errors import InputError
from bevelbook.formulas.leak import LeakFound, LeakGiven, LeakWeighing, judge_leak, leak, leak_working
from bevelbook_plugins.leak_trend import LEAK_TREND

REFERENCES = Path(__file__).parent.parent / "references"
SUDDEN = ((0.0, 22.35), (6.0, 22.34), (13.0, 22.05))


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
    assert any(reason.startswith("sudden: 0.29 g of it went between run 6 and 13") for reason in judged.reasons)


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
    assert judged.reasons == ("no loss seen in 6 runs (the scale can see 0.016 g)",)


def test_service_date_is_the_inverse_regression() -> None:
    """Constructed masses, 1.50 to 1.46 g, limit 1.40 g: slope -0.0064286 (SE 0.00050508), 15.944 (13.898 to 18.946).

    The formula is checked against printed examples and the band of statsmodels in test_statistics.py.
    """
    asked, found = worked(constructed_leak(), oil_mass_g=1.0)
    assert found.loss_g_per_run == pytest.approx(0.0064286, abs=1e-7)
    assert found.loss_high_g_per_run == pytest.approx(0.0064286 + 2.44691 * 0.00050508, abs=1e-6)
    assert found.runs_to_limit == pytest.approx(15.944, abs=1e-3)
    assert found.runs_to_limit_low == pytest.approx(13.898, abs=1e-3)
    assert found.runs_to_limit_high == pytest.approx(18.946, abs=1e-3)
    assert found.runs_left == pytest.approx(15.944 - 7.0, abs=1e-3)
    assert any("2.3 times as far out" in finding for finding in judge_leak(asked, found).findings)


def test_a_date_takes_five_weighings() -> None:
    _, found = worked(constructed_leak()[:4], oil_mass_g=1.0)
    assert found.loss_g_per_run is None
    assert found.runs_to_limit is None
    _, found = worked(constructed_leak()[:5], oil_mass_g=1.0)
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
    0 +- t(3) u / sqrt(Sxx), Sxx = 250 runs squared, t(3) = 3.1824 (table of Student's t, 95 %, from memory).
    """
    asked, found = worked(
        [(runs, 22.40) for runs in (0.0, 5.0, 10.0, 15.0, 20.0)], repeatability_g=0.0, oil_mass_g=1.86
    )
    half = 3.1824 * (0.01 / 12**0.5) / 250**0.5
    assert found.loss_g_per_run == 0.0
    assert found.loss_high_g_per_run == pytest.approx(half, rel=1e-4)
    assert found.loss_low_g_per_run == pytest.approx(-half, rel=1e-4)
    assert found.runs_to_limit is None
    assert judge_leak(asked, found).verdict == "ok"


def test_weighings_on_one_line_to_the_last_digit_still_leave_the_scales_doubt_in_the_date() -> None:
    """Constructed: 0.10 g every five runs; 0.186 g are gone at run 9.3."""
    _, found = worked([(5.0 * n, 22.40 - 0.10 * n) for n in range(5)], oil_mass_g=1.86)
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
    reached = "the trend reached the proposed limit of 0.186 g (10 % of the oil) at run 8"
    assert any(reason.startswith(reached) for reason in reasons)
    assert any(reason.startswith("good at run 0, bad at run 6 (over 0.093 g)") for reason in reasons)


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
    asked = LeakGiven(
        weighings=(
            LeakWeighing(runs=0, mass_g=22.4, scale_step_g=0.1, repeatability_g=0.0),
            LeakWeighing(runs=9, mass_g=22.35),
        ),
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
    assert "over your limit of 0.074 g (4 % of the oil)" in judged.reasons


def test_a_heavier_diff_is_asked_about() -> None:
    asked, found = worked([(0, 22.40), (9, 22.46)], oil_mass_g=1.86)
    judged = judge_leak(asked, found)
    assert judged.verdict == "unclear"
    assert "0.06 g heavier" in judged.reasons[0]


def test_a_scale_that_was_never_checked_counts_with_one_step_and_says_so() -> None:
    """This project's proposal: 1.96 sqrt 2 sqrt(0.01^2 / 12 + 0.01^2) = 0.029 g."""
    asked, found = worked([(0, 22.40), (9, 22.39)], oil_mass_g=1.86)
    assert found.smallest_loss_seen_g == pytest.approx(0.0289, abs=5e-5)
    assert [row.detected for row in found.rows] == ["no"]
    assert any("never checked: one step, 0.01 g, is assumed" in one for one in judge_leak(asked, found).findings)


def test_another_scale_that_was_never_checked_does_not_borrow_the_repeatability() -> None:
    """Constructed: U = 2 sqrt((0.01^2 / 12 + 0.005^2) + (0.01^2 / 12 + 0.01^2)) = 0.0238 g."""
    asked = LeakGiven(
        weighings=(LeakWeighing(runs=0, mass_g=22.4), LeakWeighing(runs=9, mass_g=22.35, scale_step_g=0.01)),
        repeatability_g=0.005,
    )
    found = leak(asked)
    assert found.loss_high_g - found.loss_g == pytest.approx(0.0238, abs=5e-5)


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
    """Simulated leaks of 0.0186 g per run, seven weighings, noise 0.01 g on a fine scale; four standard errors.

    The truth is when the true mass passes the limit, which is set by what the scale showed first.
    """
    chance = np.random.default_rng(18100)
    many, dated, held = 1500, 0, 0
    runs = np.arange(7) * 3.0
    for _ in range(many):
        masses = 22.5 - 0.0186 * runs + chance.normal(0.0, 0.01, 7)
        asked = given(zip(runs, masses, strict=True), scale_step_g=0.001, repeatability_g=0.015, oil_mass_g=1.86)
        found = leak(asked)
        if found.runs_to_limit_low is None or found.runs_to_limit_high is None:
            continue
        dated += 1
        true_runs = (22.5 - (masses[0] - 0.186)) / 0.0186
        held += found.runs_to_limit_low <= true_runs <= found.runs_to_limit_high
    assert dated > 0.99 * many
    assert held / dated == pytest.approx(0.95, abs=4 * (0.95 * 0.05 / dated) ** 0.5)


def test_it_is_declared_with_sources_and_says_which_limits_are_proposals() -> None:
    assert LEAK_TREND.listing_in is not None
    assert LEAK_TREND.listing_in.option == "--weighing"
    assert any(source.kind == "proposal" for source in LEAK_TREND.sources)
