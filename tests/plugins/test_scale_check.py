"""``scale-check`` against scipy and by hand. Readings called constructed have no publication."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt

import numpy as np
import pytest
from benchmarks.coverages.scale import deviation_holds, drifts, is_odd, is_odd_over_days, loss_holds

from bevelbook.declare.errors import InputError
from bevelbook.formulas.scale_check import (
    CheckReading,
    ScaleCheckFound,
    ScaleCheckGiven,
    days_compared,
    judge_scale_check,
    scale_check,
    scale_check_working,
)
from bevelbook.plugin.returned_values import Judgement
from bevelbook.stats.variance_parts import deviation_interval, variance_parts, widening

FLICKER = (20.00, 20.01, 20.00, 20.00, 20.01, 20.01, 20.00, 20.01, 20.00, 20.01)


def given(*days: Sequence[float], step_g: float = 0.01) -> ScaleCheckGiven:
    listed = [CheckReading(mass_g=mass, day=str(place)) for place, day in enumerate(days) for mass in day]
    return ScaleCheckGiven(readings=tuple(listed), scale_step_g=step_g)


def checked(*days: Sequence[float], step_g: float = 0.01) -> tuple[ScaleCheckFound, Judgement]:
    asked = given(*days, step_g=step_g)
    found = scale_check(asked)
    scale_check_working(asked, found)
    return found, judge_scale_check(asked, found)


def test_repeatability_is_the_standard_deviation_of_the_readings() -> None:
    """JCGM 100:2008, 4.2.2, by numpy. What is kept: (t(9) / 1.96)^2 of that variance less 0.01^2 / 12, with t(9) =
    2.2622 (table of Student's t, from memory)."""
    found, judged = checked(FLICKER)
    deviation = float(np.std(FLICKER, ddof=1))
    assert found.repeatability_g == pytest.approx(deviation)
    kept = sqrt((2.2622 / 1.96) ** 2 * deviation**2 - 0.01**2 / 12)
    assert found.counted_repeatability_g == pytest.approx(kept, rel=1e-4)
    assert found.day_to_day_g is None
    assert judged.verdict == "ok"
    assert judged.reasons[0] == (
        "it sees 0.017 g on one day, 0.032 g from one day to another (one step assumed from day to day)"
    )
    assert "from one day to another: never checked on a second day, so one step is assumed" in judged.reasons[-1]


def test_ten_readings_know_a_standard_deviation_to_minus_31_plus_83_percent() -> None:
    from scipy.stats import chi2

    low, high = deviation_interval(1.0, 9)
    assert (low, high) == (pytest.approx(sqrt(9 / chi2.ppf(0.975, 9))), pytest.approx(sqrt(9 / chi2.ppf(0.025, 9))))
    assert (round(low, 2), round(high, 2)) == (0.69, 1.83)


def test_one_figure_ten_times_has_the_rounding_floor() -> None:
    """JCGM 100:2008, F.2.2.1: 0.01 / sqrt 12 = 0.0029 g. As much is kept, so that one digit of flicker
    is not seen as a loss: 1.96 sqrt(4 x 0.01^2 / 12) = 0.0113 g."""
    found, judged = checked([20.0] * 10)
    assert found.repeatability_g == pytest.approx(0.01 / sqrt(12))
    assert found.counted_repeatability_g == pytest.approx(0.01 / sqrt(12))
    assert found.smallest_seen_g == pytest.approx(0.0113, abs=5e-5)
    assert (found.drift_g_per_reading, judged.verdict) == (0.0, "ok")
    assert any("holds in more than 95 of 100" in one for one in judged.reasons)


def test_days_are_analysed_as_scipy_does() -> None:
    """F of scipy.stats.f_oneway is MSB / MSW; d^2 = (MSB - MSW) / n0."""
    from scipy.stats import f_oneway

    days = ((20.00, 20.02, 20.01, 20.03), (20.05, 20.04, 20.06), (20.01, 20.00, 20.02, 20.01, 20.02))
    parts = variance_parts([days])
    assert parts.between is not None
    assert parts.between / parts.within == pytest.approx(f_oneway(*days).statistic)
    n0 = (12 - (16 + 9 + 25) / 12) / 2
    assert parts.readings_per_group == pytest.approx(n0)
    found, judged = checked(*days)
    assert found.day_to_day_g == pytest.approx(sqrt((parts.between - parts.within) / n0))
    assert found.counted_day_to_day_g is not None
    assert found.counted_day_to_day_g > found.day_to_day_g
    assert found.smallest_seen_between_days_g > found.smallest_seen_g
    assert any("3 days say little about it" in one for one in judged.reasons)


def test_equal_days_have_no_term_from_day_to_day() -> None:
    found, _ = checked(FLICKER, FLICKER)
    assert (found.day_to_day_g, found.counted_day_to_day_g) == (0.0, 0.0)


def test_two_things_are_not_mixed() -> None:
    """Constructed: 20 g and 50 g, each read five times on one day; no day is compared with another."""
    readings = [CheckReading(mass_g=mass, thing=thing) for thing, mass in (("a", 20.0), ("b", 50.0)) for _ in range(5)]
    found = scale_check(ScaleCheckGiven(readings=tuple(readings)))
    assert found.repeatability_g == pytest.approx(0.01 / sqrt(12))
    assert found.day_to_day_g is None


@pytest.mark.parametrize(
    ("things", "compared", "said"),
    [
        ("abcc", 2, "2 days with one thing on them say little about it"),
        ("aabb", 3, "3 days with one thing on them say little about it"),
        ("aa", 2, "; 2 days say little about it"),
        ("aaaa", 4, None),
    ],
)
def test_only_days_that_share_a_thing_know_the_term_from_day_to_day(
    things: str, compared: int, said: str | None
) -> None:
    """Constructed: a thing that was on the scale on one day only says nothing of another day."""
    listed = [
        CheckReading(mass_g=mass, day=str(place), thing=thing) for place, thing in enumerate(things) for mass in FLICKER
    ]
    of_things = ScaleCheckGiven(readings=tuple(listed), scale_step_g=0.01)
    assert days_compared(of_things) == compared
    reasons = " ".join(judge_scale_check(of_things, scale_check(of_things)).reasons)
    assert (said in reasons) if said else ("say little" not in reasons)


def test_a_scale_that_creeps_is_said_to() -> None:
    """Constructed: 0.004 g more each time, as scipy's slope has it."""
    from scipy.stats import linregress

    creeping = [round(20.0 + 0.004 * place, 2) for place in range(10)]
    found, judged = checked(creeping)
    assert found.drift_g_per_reading == pytest.approx(linregress(range(10), creeping).slope)
    assert judged.verdict == "caution"
    assert any("it creeps by +0.004" in one and "warm up" in one for one in judged.reasons)
    assert not any("creeps" in one for one in checked(FLICKER)[1].reasons)


def test_a_reading_far_off_is_asked_about_first() -> None:
    _, judged = checked([*FLICKER[:9], 20.90])
    assert judged.verdict == "unclear"
    assert judged.reasons[0].startswith("20.90 g does not belong with the other readings")


@pytest.mark.parametrize(
    ("days", "said"),
    [
        ([FLICKER, [20.00, 25.00]], "25.00 g does not belong"),
        ([FLICKER, [25.00, 20.00]], "25.00 g does not belong"),
        ([[20.0, 20.0, 20.01, 25.0]], "25.00 g does not belong"),
        ([FLICKER, FLICKER, [25.00, 25.01]], "the readings of 2 are 5.0"),
        ([FLICKER, [25.00]], "the readings of 1 are 5.00 g off"),
        ([[20.00, 20.01]] * 5 + [[20.15, 20.16]], "the readings of 5 are 0.15 g off"),
        ([[20.0, 20.2, 20.1, 19.9, 20.3, 19.7, 20.1, 19.8, 20.0, 20.2]], "one reading scatters by 0.1"),
    ],
)
def test_what_no_scale_does_is_asked_about(days: list[list[float]], said: str) -> None:
    """Constructed: a slip, another thing on a later day, and a scatter over five steps."""
    _, judged = checked(*days)
    assert judged.verdict == "unclear"
    assert said in judged.reasons[0]


@pytest.mark.parametrize(
    ("days", "said"),
    [
        ([[20.0]], "one reading says nothing about scatter"),
        ([[20.0], [20.01], [20.0]], "no thing was read twice on one day"),
    ],
)
def test_readings_that_say_nothing_are_refused_in_words(days: list[list[float]], said: str) -> None:
    with pytest.raises(InputError, match=said):
        checked(*days)


@pytest.mark.parametrize(
    ("days", "verdict"),
    [
        ([[20.0, 20.0]], "unclear"),
        ([[20.0, 20.01]], "unclear"),
        ([[20.0, 20.01, 20.0]], "unclear"),
        ([[0.0] * 10], "ok"),
        ([[20.0, 20.0], [20.01]], "unclear"),
        ([[20.0] * 5, [20.01] * 5], "ok"),
        ([FLICKER[:6]], "caution"),
    ],
)
def test_few_or_odd_readings_get_an_answer_without_a_warning(days: list[list[float]], verdict: str) -> None:
    assert checked(*days)[1].verdict == verdict


def test_a_reading_finer_than_the_step_is_said() -> None:
    _, judged = checked([20.004] * 10)
    assert any("is not a reading of a scale with steps of 0.01 g" in one for one in judged.findings)


def test_few_readings_widen_what_counts() -> None:
    """t(4) / 1.96 = 1.416, t(1) / 1.96 = 6.48 (scipy)."""
    from scipy.stats import t

    assert widening(4) == pytest.approx(t.ppf(0.975, 4) / 1.959964, rel=1e-6)
    assert widening(1) == pytest.approx(6.48, abs=0.01)


def test_in_simulations_what_is_said_is_true() -> None:
    """A small version of the table of coverages, with fixed starts."""
    rng = np.random.default_rng(20261126)
    held = [loss_holds(rng, 150, scatter_g=s, readings_a_day=10, days=1, day_g=0.0).mean() for s in (0.002, 0.01)]
    assert all(0.9 <= share <= 1.0 for share in held)
    assert 0.88 <= np.mean(deviation_holds(rng, 150, scatter_g=0.01)) <= 1.0
    assert np.mean(drifts(rng, 60, scatter_g=0.005)) <= 0.15
    assert np.mean(is_odd(rng, 60, scatter_g=0.005)) <= 0.1
    assert np.mean(is_odd_over_days(rng, 60, scatter_g=0.005, days=5, readings_a_day=3, day_g=0.01)) <= 0.1
