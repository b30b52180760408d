"""fill-repeatability. The printed chart is the example of NIST/SEMATECH, e-Handbook of Statistical Methods, 6.3.2.2."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from bevelbook.declare.errors import InputError
from bevelbook.stats.odd_one_out import odd_one_out
from bevelbook_plugins.fill_repeatability import (
    FALSE_ALARMS,
    RANGE_LIMIT_FACTOR,
    RANGE_TO_SIGMA,
    Fill,
    RepeatabilityFound,
    RepeatabilityGiven,
    individuals_chart,
    judge_repeatability,
    repeatability,
    repeatability_working,
)

REFERENCES = Path(__file__).parent.parent / "references"
GRUBBS_EXAMPLE = (199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57)


def filled(
    differences: Sequence[float], people: Sequence[str | None] | None = None, **more: float
) -> tuple[RepeatabilityGiven, RepeatabilityFound]:
    names = people or [None] * len(differences)
    fills = tuple(Fill(difference_g=one, person=name) for one, name in zip(differences, names, strict=True))
    given = RepeatabilityGiven(fills=fills, **more)
    return given, repeatability(given)


@pytest.fixture
def printed() -> list[dict[str, str]]:
    with (REFERENCES / "statistics_individuals_chart.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_limits_of_the_printed_example(printed: list[dict[str, str]]) -> None:
    """e-Handbook 6.3.2.2: centre 50.81, limits 55.8041 and 45.8159, none outside; ranges printed to 0.1."""
    given, found = filled([float(row["value"]) for row in printed])
    assert found.centre_g == pytest.approx(50.81, abs=5e-3)
    assert found.high_limit_g == pytest.approx(55.8041, abs=5e-5)
    assert found.low_limit_g == pytest.approx(45.8159, abs=5e-5)
    assert found.outside == 0
    for row, charted in zip(printed[1:], found.rows[1:], strict=True):
        assert charted.moving_range_g == pytest.approx(float(row["moving_range_printed"]), abs=1e-9)
    assert found.rows[0].moving_range_g is None
    assert judge_repeatability(given, found).verdict == "ok"


def test_limit_of_the_moving_range(printed: list[dict[str, str]]) -> None:
    """e-Handbook 6.3.2.1, constant 3.267, times the mean range 1.8778 of the example."""
    _, found = filled([float(row["value"]) for row in printed])
    assert found.range_limit_g == pytest.approx(6.1347, abs=1e-4)


def test_grubbs_finds_the_odd_one_of_the_printed_example() -> None:
    """e-Handbook 1.3.5.17 (through public copies): of eight values the last does not belong, G = 2.4688."""
    values = np.array(GRUBBS_EXAMPLE)
    assert float(np.max(np.abs(values - values.mean())) / values.std(ddof=1)) == pytest.approx(2.4688, abs=5e-5)
    assert odd_one_out(GRUBBS_EXAMPLE) == 7
    assert odd_one_out(GRUBBS_EXAMPLE[:-1]) is None


@pytest.mark.parametrize(("score", "found"), [(2.033, 7), (2.031, None)])
def test_grubbs_decides_at_the_printed_critical_value(score: float, found: int | None) -> None:
    """e-Handbook 1.3.5.17: 2.032 for eight values, one tail at 5 %; the spread is set for a score next to it."""
    away = max(GRUBBS_EXAMPLE) - float(np.mean(GRUBBS_EXAMPLE))
    assert odd_one_out(GRUBBS_EXAMPLE, smallest_sd=away / score, alarms=0.10) == found


def test_grubbs_raises_few_alarms_over_good_fills() -> None:
    """Simulated: 1 % of charts of eight good fills; four standard errors of 4,000."""
    chance = np.random.default_rng(2032)
    alarms = sum(odd_one_out(row) is not None for row in chance.normal(0.0, 0.01, (4000, 8)).tolist())
    assert alarms / 4000 == pytest.approx(0.01, abs=4 * (0.01 * 0.99 / 4000) ** 0.5)


def test_sigma_is_never_less_than_rounding_makes() -> None:
    """step / sqrt 6 = 0.0041 g on a 0.01 g scale (JCGM 100:2008, F.2.2.1): no limits of zero width."""
    given, found = filled([0.0] * 20)
    assert found.sigma_g == pytest.approx(0.0041, abs=5e-5)
    assert found.high_limit_g - found.low_limit_g == pytest.approx(6 * 0.0040825, abs=1e-6)
    judged = judge_repeatability(given, found)
    assert judged.verdict == "ok"
    assert any("the limits are the scale's" in finding for finding in judged.findings)


def test_an_odd_fill_is_named_with_its_person() -> None:
    """Constructed: spread 0.012 g, and one of 25 fills 0.25 g over."""
    chance = np.random.default_rng(7)
    differences = [round(float(one), 2) for one in chance.normal(0.004, 0.012, 25)]
    differences[16] = 0.25
    given, found = filled(differences, ["ana"] * 16 + ["cy"] + ["bo"] * 8)
    assert [row.order for row in found.rows if row.outside == "yes"] == [17]
    judged = judge_repeatability(given, found)
    assert judged.verdict == "caution"
    assert judged.reasons[0].startswith("fill 17 (cy), +0.250 g, is outside")
    assert any(finding.startswith("by person: ana") for finding in judged.findings)


def test_an_odd_fill_that_widens_a_short_chart_is_found_all_the_same() -> None:
    """Constructed: of eight fills one is 0.25 g over; limits from the mean range reach 0.252 g."""
    given, found = filled([0.01, 0.0, 0.02, -0.01, 0.0, 0.01, 0.25, 0.0])
    assert found.outside == 0
    judged = judge_repeatability(given, found)
    assert judged.verdict == "caution"
    assert "fill 7, +0.250 g, does not belong" in judged.reasons[0]


@pytest.mark.parametrize(("count", "provisional"), [(5, True), (19, True), (20, False)])
def test_limits_are_provisional_under_twenty(count: int, provisional: bool) -> None:
    given, found = filled([0.01 if i % 2 else -0.01 for i in range(count)])
    findings = judge_repeatability(given, found).findings
    assert any("provisional" in finding for finding in findings) is provisional


@pytest.mark.parametrize(("count", "share"), [(6, 0.020), (20, 0.049)])
def test_a_whole_chart_of_good_fills_holds_an_alarm_as_often_as_said(count: int, share: float) -> None:
    """Simulated, fine scale: at least one fill outside or odd; three standard errors of 2,000."""
    chance = np.random.default_rng(20260101)
    alarms = 0
    for row in chance.normal(0.0, 1.0, (2000, count)).tolist():
        given, found = filled(row, scale_step_g=0.001)
        alarms += judge_repeatability(given, found).verdict == "caution"
    assert found.chart_alarm_fraction == pytest.approx(share)
    assert alarms / 2000 == pytest.approx(share, abs=3 * (share * (1 - share) / 2000) ** 0.5)


def test_the_chance_of_the_whole_chart_is_said_beside_an_alarm_and_without_one() -> None:
    given, found = filled([0.0, 0.01] * 10)
    assert "of 100 charts with 20 good fills 5 hold a false alarm" in judge_repeatability(given, found).reasons
    given, found = filled([*([0.0, 0.01] * 10), 0.2])
    judged = judge_repeatability(given, found)
    assert (judged.verdict, judged.reasons[1]) == ("caution", "of 100 charts with 21 good fills 5 hold a false alarm")
    given, found = filled([0.0, 0.01] * 150)
    said = judge_repeatability(given, found).reasons
    assert "of 100 charts with 300 good fills more than 41 hold a false alarm" in said
    assert filled([0.0, 0.01])[1].chart_alarm_fraction is None


@pytest.mark.parametrize("differences", [[0.0] * 5 + [0.01], [0.01, 0.0, 0.01, 0.0, 0.0, -0.01], [0.01] * 12])
def test_fills_one_step_of_the_scale_apart_are_not_odd(differences: list[float]) -> None:
    """Constructed: all but one alike. A step is what the scale's rounding does, not what a hand did."""
    given, found = filled(differences)
    assert (found.outside, judge_repeatability(given, found).verdict) == (0, "ok")
    assert odd_one_out([0.0] * 5 + [0.01], smallest_sd=0.0040) == 5, "without its step the test does name it"


def test_a_fill_is_outside_only_past_a_quarter_of_a_step() -> None:
    """Constructed: fourteen fills within 0.02 g, and one farther and farther away."""
    usual = [0.0, 0.01, -0.01, 0.02, -0.02, 0.01, 0.0, -0.01, 0.01, 0.0, -0.02, 0.02, 0.0, 0.01]
    seen = set()
    for last in (0.03, 0.04, 0.05, 0.06, 0.07, 0.08, 0.09):
        _, found = filled([*usual, last])
        assert (found.rows[-1].outside == "yes") is (last > found.high_limit_g + 0.0025)
        seen.add((last > found.high_limit_g, found.rows[-1].outside))
    assert {(True, "yes"), (False, "no")} <= seen


def test_four_fills_tell_nothing() -> None:
    given, found = filled([0.01, 0.0, 0.02, -0.01])
    assert judge_repeatability(given, found).verdict == "unclear"


def test_a_constant_overfill_is_said() -> None:
    """Constructed: 0.03 +/- 0.01 g ten times; its interval is well off zero."""
    given, found = filled([0.02, 0.04] * 5)
    assert any("too much is poured" in finding for finding in judge_repeatability(given, found).findings)
    given, found = filled([-0.02, 0.02] * 5)
    assert not any("is poured" in finding for finding in judge_repeatability(given, found).findings)


def test_one_fill_is_refused() -> None:
    with pytest.raises(InputError, match="two fills"):
        filled([0.01])


def test_the_working_shows_the_constant() -> None:
    given, found = filled([0.01, -0.01, 0.02])
    assert any("/ 1.128" in line for line in repeatability_working(given, found))


def test_constants_are_those_of_the_normal_distribution() -> None:
    """Mean range of two, 2 / sqrt pi = 1.1284, and one plus three spreads over it, 3.2665 (scipy.stats.halfnorm)."""
    mean = 2.0**0.5 * float(stats.halfnorm.mean())
    spread = 2.0**0.5 * float(stats.halfnorm.std())
    assert pytest.approx(mean, abs=5e-4) == RANGE_TO_SIGMA
    assert pytest.approx(1.0 + 3.0 * spread / mean, abs=6e-4) == RANGE_LIMIT_FACTOR


@pytest.mark.parametrize(("count", "share"), FALSE_ALARMS[:3])
def test_false_alarms_of_limits_from_few_fills(count: int, share: float) -> None:
    """Simulated: the next good fill falls outside as often as is said; four standard errors of 8,000."""
    chance = np.random.default_rng(1128)
    many = 8000
    values = chance.normal(0.0, 1.0, (many, count + 1))
    alarms = 0
    for row in values.tolist():
        chart = individuals_chart(row[:-1])
        alarms += not chart.low <= row[-1] <= chart.high
    assert alarms / many == pytest.approx(share, abs=4 * (share * (1 - share) / many) ** 0.5 + 0.0005)


@pytest.mark.parametrize(("sigma", "share"), [(0.002, 0.25), (0.001, 0.63)])
def test_how_often_rounding_would_hide_the_spread(sigma: float, share: float) -> None:
    """Simulated fills on a 0.01 g scale: a quarter and 63 % of 20-value charts show only zero ranges.

    The mean lies anywhere within a step. With the floor no chart has limits of zero width.
    """
    chance = np.random.default_rng(4082)
    many = 3000
    true = chance.uniform(-0.005, 0.005, (many, 1)) + chance.normal(0.0, sigma, (many, 20))
    read = np.round(true / 0.01) * 0.01
    zero = float(np.mean(np.ptp(read, axis=1) < 1e-9))
    assert zero == pytest.approx(share, abs=0.05)
    assert individuals_chart(read[0].tolist(), 0.0041).sigma >= 0.0041
