"""falling-ball and fluid-ratio: what was measured, how sure it is, and what stays unclear."""

from __future__ import annotations

from math import exp, log, sqrt
from typing import Any

import numpy as np
import pytest
from benchmarks.coverages.ratio import ratio_holds
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from scipy.integrate import quad
from uncertainties import ufloat
from uncertainties.umath import exp as uexp

from bevelbook.calculating.calculate import Result, bind, run
from bevelbook.declare.errors import InputError
from bevelbook.declare.fields import fields_of
from bevelbook_plugins.falling_ball import FALLING_BALL, BallFall, BallGiven, budget, haberman_sayre, measure
from bevelbook_plugins.fluid_ratio import FLUID_RATIO, RatioGiven, Timed, compare

BENCH = {
    "ball_diameter_mm": "2.000",
    "tube_diameter_mm": "16.0",
    "fall_mm": "40.0",
    "oil_density_g_cm3": "0.970",
    "temperature_c": "25",
    "times": ["33.0"],
}
SHORT = {"ball_diameter_mm": 2.0, "tube_diameter_mm": 16.0, "fall_mm": 40.0, "oil_density_g_cm3": 0.97}


def ball(**texts: Any) -> Result:
    return run(FALLING_BALL, bind(FALLING_BALL, {**BENCH, **texts}))


def ratio(*times: str, **texts: Any) -> Result:
    return run(FLUID_RATIO, bind(FLUID_RATIO, {"times": list(times), "temperature_c": "21", **texts}))


def test_ball_in_a_syringe() -> None:
    """F7, constructed: d 2.000 mm, D 16.0, 7810 and 970 kg/m3, 40.0 mm in 33.0 s: 9.1115 Pa·s, Re 2.6e-4."""
    found = ball().outputs
    assert found["viscosity_at_temperature_cst"] == pytest.approx(9.1115 / 970 * 1e6, rel=1e-4)
    assert found["viscosity_cst"] == found["viscosity_at_temperature_cst"]
    assert found["wall_factor"] == pytest.approx(12.2975 / 9.1115, rel=1e-4)
    assert found["reynolds"] == pytest.approx(2.6e-4, abs=0.05e-4)


def test_uncertainty_is_that_of_the_worked_budget() -> None:
    """Constructed, computed with the uncertainties package: 2.1 % in all; by cause in percent as listed."""
    given_record = BallGiven(**SHORT, temperature_c=25.0, times=(BallFall(time_s=33.0),))
    shares = [100.0 * one for one in budget(given_record, 6.84)]
    assert shares == pytest.approx([0.48, 0.12, 1.52, 0.75, 0.44, 0.99], abs=0.005)
    assert ball().outputs["uncertainty_cst"] == pytest.approx(2 * 0.0207 * 9393, rel=0.005)


def test_uncertainty_against_the_uncertainties_package() -> None:
    wide, tube = ufloat(2.0, 0.01 / sqrt(3)), ufloat(16.0, 0.1 / sqrt(3))
    seconds, length, heavier, kelvin = ufloat(33.0, 0.5), ufloat(40.0, 0.3), ufloat(6.84, 0.03), ufloat(298.15, 0.5)
    x = wide / tube
    factor = (1 - 0.75857 * x**5) / (1 - 2.1050 * x + 2.0865 * x**3 - 1.7068 * x**5 + 0.72603 * x**6)
    pa_s = 9.80665 * wide**2 * heavier * seconds / (18 * length) / factor
    at_25 = pa_s * uexp(1757.1 * (1 / 298.15 - 1 / kelvin))
    assert ball().outputs["uncertainty_cst"] / ball().outputs["viscosity_cst"] == pytest.approx(
        2 * at_25.std_dev / at_25.nominal_value, rel=1e-4
    )


def test_viscosity_is_brought_to_25_degrees_by_the_law() -> None:
    """20 °C is 1.1057 times as thick (law, by hand); the oil's density is brought there too."""
    found = ball(temperature_c="20").outputs
    assert found["viscosity_at_temperature_cst"] / found["viscosity_cst"] == pytest.approx(1.1057, abs=5e-5)


def test_metres_and_millimetres_give_one_answer() -> None:
    assert ball(fall_mm="4.0 cm", ball_diameter_mm="0.002 m").outputs == ball().outputs


def test_more_times_narrow_the_interval_and_scatter_widens_it() -> None:
    one = ball().outputs["uncertainty_cst"]
    three = ball(times=["33.0", "33.1", "32.9"]).outputs["uncertainty_cst"]
    scattered = ball(times=["33.0", "36.0", "30.0"])
    assert three < one < scattered.outputs["uncertainty_cst"]
    assert "the times differ by 6.0 s" in " ".join(scattered.findings)
    assert "time three" in " ".join(ball().findings)
    assert "time three" not in " ".join(ball(times=["33.0", "33.1", "32.9"]).findings)


@pytest.mark.parametrize(("wide", "verdict"), [("4.79", "ok"), ("4.85", "caution"), ("7.99", "caution")])
def test_wide_ball_is_a_caution(wide: str, verdict: str) -> None:
    assert ball(ball_diameter_mm=wide).verdict == verdict


def test_fast_ball_is_a_caution_with_its_size() -> None:
    """F1 and F3: OpenStax, College Physics: Re 0.270 from 225 mPa·s; Clift's drag is 4.3 % off Stokes there."""
    fast = {
        "ball_diameter_mm": "1.6",
        "ball_density_g_cm3": "7.86",
        "tube_diameter_mm": "1000",
        "fall_mm": "43.2",
        "oil_density_g_cm3": "0.88",
        "times": ["1.0"],
    }
    result = ball(**fast)
    assert result.outputs["reynolds"] == pytest.approx(0.270, abs=0.002)
    assert result.verdict == "caution"
    assert "reads about 5 % too thick" in " ".join(result.judgement.reasons)


@pytest.mark.parametrize(
    ("texts", "words"),
    [
        ({"ball_diameter_mm": "16"}, "as wide as the tube"),
        ({"ball_diameter_mm": "20"}, "as wide as the tube"),
        ({"ball_diameter_mm": "9"}, "Take a ball of at most 4.8 mm"),
        ({"ball_density_g_cm3": "0.9"}, "does not sink"),
        ({"times": ["0.01"]}, "too fast"),
        ({"times": []}, "no times given"),
        ({"times": ["0"]}, "more than 0"),
        ({"oil_density_g_cm3": ""}, "oil_density_g_cm3 is missing"),
        ({"temperature_c": "-300"}, "-273.15"),
        ({"temperature_c": "-60"}, "-55 to 250"),
        ({"tube_diameter_mm": "-4"}, "more than 0"),
    ],
)
def test_falling_ball_refuses_with_what_to_give_instead(texts: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError) as caught:
        ball(**texts)
    assert words in str(caught.value)
    assert caught.value.remedy or caught.value.wanted


@given(st.floats(5.0, 500.0), st.floats(0.5, 4.0))
def test_thicker_oil_takes_longer_in_proportion(seconds: float, wide: float) -> None:
    def of(time_s: float) -> float:
        bench = {**SHORT, "ball_diameter_mm": wide, "ball_density_g_cm3": 7.81}
        return measure(BallGiven(**bench, temperature_c=21.0, times=(BallFall(time_s=time_s),))).viscosity_cst

    assert of(2 * seconds) == pytest.approx(2 * of(seconds), rel=1e-9)


@given(st.floats(0.001, 0.49))
def test_wall_only_slows_and_more_so_when_nearer(x: float) -> None:
    assert 1.0 < haberman_sayre(x) < haberman_sayre(x + 0.01)


def test_ratio_is_b_over_a_with_welchs_interval() -> None:
    """scipy 1.17: standard error of ttest_ind of the logarithms, unequal variances; no difference in temperature.

    Degrees of freedom by hand from scipy's variances: (va + vb)^2 / (va^2 / (na + 1) + vb^2 / (nb + 1)) - 2, Welch 1947
    as manuals of statistics programs print it (from memory); here 3.0.
    """
    a, b = [33.0, 33.9, 32.1], [37.4, 37.9, 36.9, 37.2]
    result = ratio(
        *(f"a:{one}" for one in a),
        *(f"b:{one}" for one in b),
        temperature_difference_k="0",
    )
    logs_a, logs_b = [log(one) for one in a], [log(one) for one in b]
    test = stats.ttest_ind(logs_b, logs_a, equal_var=False)
    va, vb = stats.sem(logs_a) ** 2, stats.sem(logs_b) ** 2
    middle = test.confidence_interval(0.95).low + test.confidence_interval(0.95).high
    freedom = (va + vb) ** 2 / (va**2 / (len(a) + 1) + vb**2 / (len(b) + 1)) - 2
    half = stats.t.ppf(0.975, freedom) * middle / 2 / test.statistic
    assert 2.0 < freedom < 5.0
    assert result.outputs["ratio_low"] == pytest.approx(exp(middle / 2 - half), rel=1e-9)
    assert result.outputs["ratio_high"] == pytest.approx(exp(middle / 2 + half), rel=1e-9)
    assert result.outputs["thicker"] == "b"
    assert result.judgement.reasons[0] == "oil b is thicker, by 13 %"


def test_two_times_by_hand_are_judged_by_the_hand() -> None:
    """0.5 s each by hand, and up to 0.5 K between the oils, evenly: the share inside by integration (scipy)."""
    result = ratio("a:33.0", "b:33.2")
    half = log(result.outputs["ratio_high"] / result.outputs["ratio"])
    sd, bound = sqrt((0.5 / 33) ** 2 + (0.5 / 33.2) ** 2), 1757.1 / 294.15**2 * 0.5
    inside, _ = quad(
        lambda off: stats.norm.cdf((half - off) / sd) - stats.norm.cdf((-half - off) / sd), -bound, bound, epsabs=1e-12
    )
    assert inside / (2 * bound) == pytest.approx(0.95, abs=1e-9)
    assert result.outputs["thicker"] == "cannot tell"
    assert result.verdict == "unclear"
    assert "sees no difference under 4 %" in result.judgement.reasons[0]
    assert "1 time of a and 1 time of b: counted as stopped to 0.5 s (k = 1)" in result.findings[0]


def test_a_better_hand_is_taken_at_its_word_under_three_times() -> None:
    assert ratio("a:33.0", "b:34.0").verdict == "unclear"
    assert ratio("a:33.0", "b:34.0", time_uncertainty_s="0.1").outputs["thicker"] == "b"
    assert ratio("a:33.0", "a:33.1", "b:34.0", time_uncertainty_s="0.1").findings[0].startswith("2 times of a and 1")


def test_from_three_times_on_their_own_scatter_counts() -> None:
    """Times within 0.1 s of each other tell more than a hand of 0.5 s would, times 2 s apart less."""
    times = ("a:33.0", "a:33.1", "a:32.9", "b:34.0", "b:34.1", "b:33.9")
    assert ratio(*times).outputs["thicker"] == "b"
    assert ratio(*times, time_uncertainty_s="9").outputs == ratio(*times).outputs
    assert ratio("a:33", "a:35", "a:31", "b:34", "b:36", "b:32").outputs["thicker"] == "cannot tell"
    assert not ratio(*times).findings


def test_equal_times_are_not_taken_for_a_perfect_hand() -> None:
    """All equal, or one step of the watch apart: an interval in words and numbers, without a warning of a library."""
    equal = ratio(*["a:33.0"] * 3, *["b:33.0"] * 3)
    assert (equal.verdict, equal.outputs["ratio"]) == ("unclear", 1.0)
    assert "all times of a are equal, which no hand is" in equal.findings[0]
    step = ratio("a:33.0", "a:33.0", "a:33.1", "b:33.0", "b:33.1", "b:33.1")
    assert step.outputs["ratio_low"] < step.outputs["ratio"] < step.outputs["ratio_high"]
    assert "all times are equal" in " ".join(ball(times=["33.0"] * 3).findings)
    assert ball(times=["33.0"] * 3).outputs["uncertainty_cst"] < ball().outputs["uncertainty_cst"]


def test_times_too_short_for_a_hand_are_said() -> None:
    assert "under 5 s by hand is too short" in ratio("a:3", "b:4").findings[-1]


@pytest.mark.parametrize(("counts", "hand_s"), [((1, 1), 0.5), ((3, 3), 0.2)])
def test_the_interval_of_the_ratio_holds_the_true_one(counts: tuple[int, int], hand_s: float) -> None:
    """Simulated, 600 tests of 33 and 37.4 s with hands as assumed and other ones: 95 %, within 2.3 standard errors."""
    held = ratio_holds(np.random.default_rng(374), 600, (33.0, 37.4), counts, hand_s)
    assert 0.93 <= held.mean() <= 0.97


def test_thicker_the_other_way_round() -> None:
    result = ratio("a:40.0", "b:33.0")
    assert result.outputs["thicker"] == "a"
    assert result.verdict == "ok"
    assert result.judgement.reasons[0] == "oil a is thicker, by 21 %"


seconds = st.lists(st.floats(10.0, 100.0), min_size=1, max_size=5)


@given(seconds, seconds)
def test_swapping_the_oils_turns_the_ratio_over(a: list[float], b: list[float]) -> None:
    def of(first: list[float], second: list[float]) -> Any:
        times = [Timed(fluid="a", time_s=one) for one in first] + [Timed(fluid="b", time_s=one) for one in second]
        return compare(RatioGiven(times=tuple(times), temperature_c=21.0))

    there, back = of(a, b), of(b, a)
    assert there.ratio_low <= there.ratio <= there.ratio_high
    assert back.ratio == pytest.approx(1 / there.ratio, rel=1e-12)
    assert back.ratio_low == pytest.approx(1 / there.ratio_high, rel=1e-9)
    other = {"a": "b", "b": "a"}
    assert back.thicker == other.get(there.thicker, there.thicker)


def test_ratio_never_turns_into_a_viscosity() -> None:
    assert not [one.name for one in fields_of(FLUID_RATIO.found) if one.unit == "cSt"]
    assert not [one.name for one in fields_of(FLUID_RATIO.given) if one.unit == "cSt"]


@pytest.mark.parametrize(
    ("times", "words"),
    [
        (["a:33.0"], "no time of oil b"),
        (["b:33.0"], "no time of oil a"),
        (["a:33.0", "c:40"], "a, b"),
        (["a:33.0", "b:0"], "more than 0"),
        (["a:33.0", "b:1.4"], "1.4 s is too short to be stopped by hand to 0.5 s"),
        (["a:33.0", "b:1e-9"], "too short"),
        ([], "no times given"),
    ],
)
def test_fluid_ratio_refuses_with_what_to_give_instead(times: list[str], words: str) -> None:
    with pytest.raises(InputError) as caught:
        ratio(*times)
    assert words in str(caught.value)
    assert caught.value.remedy or caught.value.wanted
