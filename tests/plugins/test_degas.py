"""degas: times as a range, what to do without a gauge, and a gauge read the right way round."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from bevelbook.calculating.calculate import Result, bind, run
from bevelbook.declare.errors import InputError
from bevelbook_plugins.degas import DEGAS, DegasGiven, degas, pumped_time_s, range_in_words, worth_s

AT_25 = {"viscosity_cst": "7000", "temperature_c": "25"}


def bubbles(**texts: Any) -> Result:
    return run(DEGAS, bind(DEGAS, {**AT_25, **texts}))


def test_time_is_a_range_from_mobile_to_rigid_surface() -> None:
    """D7, constructed: 1.0 mm, 10 mm, 20 of 101.325 kPa, computed with the speed of fluids 1.3.1."""
    found = bubbles(absolute_kpa="20").outputs
    assert found["time_low_s"] == pytest.approx(29.07, abs=0.01)
    assert found["time_high_s"] == pytest.approx(43.61, abs=0.01)
    assert found["standing_time_s"] == pytest.approx(128.64, abs=0.01)


def test_time_without_a_pump() -> None:
    """D8, constructed: 0.5 mm, 10 mm, 101.325 kPa."""
    found = bubbles(bubble_mm="0.5").outputs
    assert found["time_low_s"] == found["standing_time_low_s"] == pytest.approx(343.05, abs=0.01)
    assert found["time_high_s"] == found["standing_time_s"] == pytest.approx(514.57, abs=0.01)


@pytest.mark.parametrize(
    ("viscosity", "kpa", "perhaps", "cleared"),
    [
        ("7000", "20", 0.70, 0.85),
        ("1000", "101.325", 0.45, 0.55),
        ("3000", "40", 0.57, 0.70),
        ("10000", "10", 0.66, 0.81),
        ("20000", "5", 0.74, 0.91),
    ],
)
def test_smallest_bubble_that_clears_in_a_minute(viscosity: str, kpa: str, perhaps: float, cleared: float) -> None:
    """D10 and its table, constructed: 10 mm deep, 60 s, two digits."""
    for wait in ({}, {"wait_s": "60"}):
        found = bubbles(viscosity_cst=viscosity, absolute_kpa=kpa, **wait).outputs
        assert found["smallest_bubble_perhaps_mm"] == pytest.approx(perhaps, abs=0.005)
        assert found["smallest_bubble_cleared_mm"] == pytest.approx(cleared, abs=0.005)


@pytest.mark.parametrize(("gauge", "kpa"), [("-65", 36), ("-80", 21), ("-90", 11)])
def test_gauge_and_absolute_pressure_are_one_calculation(gauge: str, kpa: float) -> None:
    by_gauge = bubbles(gauge_kpa=gauge)
    assert by_gauge.rows[-1]["absolute_kpa"] == pytest.approx(kpa, abs=0.5)
    by_absolute = bubbles(absolute_kpa=str(101.325 + float(gauge)))
    assert by_gauge.outputs == pytest.approx(by_absolute.outputs, rel=1e-12)


def test_without_a_gauge_no_pump_and_two_pressures_are_shown() -> None:
    result = bubbles()
    assert [row["absolute_kpa"] for row in result.rows] == [101.325, 40, 20]
    assert "standing without a pump 86 to 129 s" in result.judgement.reasons[0]
    assert "at 40 kPa absolute 46 to 69 s; at 20 kPa absolute 29 to 44 s" in result.judgement.reasons[0]
    assert result.judgement.reasons[1].startswith("in 60 s (no waiting time is given) without a pump bubbles from")


def test_with_a_pump_the_rim_and_the_closed_diff_are_named() -> None:
    joined = " ".join(bubbles(gauge_kpa="-80").findings)
    assert "rim" in joined
    assert "never put a closed diff in the vessel" in joined
    assert "rim" not in " ".join(bubbles().findings)
    assert any("vessel made for vacuum" in caution for caution in DEGAS.cautions)


@pytest.mark.parametrize(
    ("wait", "verdict", "words"),
    [("20", "caution", "wait 9.1 to 23.6 s longer"), ("35", "unclear", "wait until 44 s"), ("50", "ok", "29 to 44 s")],
)
def test_wait_is_judged_against_the_range(wait: str, verdict: str, words: str) -> None:
    result = bubbles(absolute_kpa="20", wait_s=wait)
    assert result.verdict == verdict
    assert words in result.judgement.reasons[0]


positive = st.floats(0.05, 1.0)


@given(positive, st.floats(1.0, 100.0), st.floats(0.0, 60.0))
def test_better_vacuum_is_never_slower_and_a_slow_pump_never_faster(bubble: float, kpa: float, tau: float) -> None:
    assume(bubble * (101.325 / kpa) ** (1 / 3) < 10.0)

    def of(absolute_kpa: float, constant_s: float) -> float:
        given_record = DegasGiven(
            viscosity_cst=7000, bubble_mm=bubble, absolute_kpa=absolute_kpa, pump_time_constant_s=constant_s
        )
        return degas(given_record).time_high_s

    assert of(kpa, 0.0) <= of(101.325, 0.0) * (1 + 1e-12)
    assert of(kpa, tau) >= of(kpa, 0.0) * (1 - 1e-12)
    assert of(kpa, tau) <= of(101.325, 0.0) * (1 + 1e-12)


@given(st.floats(1.0, 1e5), st.floats(0.5, 101.0), st.floats(0.1, 100.0))
def test_time_under_vacuum_is_worth_the_standing_time(standing: float, kpa: float, tau: float) -> None:
    time = pumped_time_s(standing, 101.325, kpa, tau)
    assert worth_s(time, 101.325, kpa, tau) == pytest.approx(standing, rel=1e-9)


@given(positive, st.floats(1.0, 50.0))
def test_smallest_bubble_takes_just_the_wait(wait: float, kpa: float) -> None:
    seconds = 1000.0 * wait
    first = degas(DegasGiven(viscosity_cst=7000, absolute_kpa=kpa, wait_s=seconds, pump_time_constant_s=5.0))
    smallest = first.smallest_bubble_cleared_mm
    assume(smallest * (101.325 / kpa) ** (1 / 3) < 10.0)
    again = degas(
        DegasGiven(viscosity_cst=7000, absolute_kpa=kpa, bubble_mm=smallest, pump_time_constant_s=5.0, depth_mm=10.0)
    )
    assert again.time_high_s == pytest.approx(seconds, rel=1e-9)


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (29.07, 43.61, "29 to 44 s"),
        (3.0, 4.5, "3.0 to 4.5 s"),
        (343, 514.6, "343 to 515 s"),
        (686, 1029.2, "11.4 to 17.2 min"),
        (4800, 7200, "1.3 to 2.0 h"),
    ],
)
def test_times_in_words(low: float, high: float, words: str) -> None:
    assert range_in_words(low, high) == words


@pytest.mark.parametrize(
    ("texts", "words"),
    [
        ({"gauge_kpa": "80"}, "Below ambient, or absolute?"),
        ({"gauge_kpa": "-102"}, "below absolute zero pressure"),
        ({"gauge_kpa": "-80", "altitude_m": "3000"}, "below absolute zero pressure"),
        ({"absolute_kpa": "0"}, "not a vacuum"),
        ({"absolute_kpa": "-3"}, "not a vacuum"),
        ({"absolute_kpa": "150"}, "not a vacuum"),
        ({"absolute_kpa": "20", "gauge_kpa": "-80"}, "given twice"),
        ({"temperature_c": "-280"}, "-273.15"),
        ({"viscosity_cst": ""}, "viscosity_cst is missing"),
        ({"bubble_mm": "12"}, "does not rise through"),
        ({"bubble_mm": "5", "gauge_kpa": "-95"}, "does not rise through"),
        ({"bubble_mm": "3", "viscosity_cst": "50"}, "too fast for this formula"),
        ({"bubble_mm": "0"}, "more than 0"),
    ],
)
def test_degas_refuses_with_what_to_give_instead(texts: dict[str, str], words: str) -> None:
    with pytest.raises(InputError) as caught:
        bubbles(**texts)
    assert words in str(caught.value)
    assert caught.value.remedy or caught.value.wanted


def test_thin_oil_with_a_large_bubble_is_a_finding() -> None:
    assert "Reynolds number" in " ".join(bubbles(viscosity_cst="100", bubble_mm="1.5").findings)


def test_uncertainty_of_gauge_and_oil_is_carried() -> None:
    """By hand: relative, viscosity 3 % and two thirds of 2 kPa in 20."""
    carried = bubbles(viscosity_cst="7000 +/- 210 (k = 1)", absolute_kpa="20 +/- 2 (k = 1)").uncertainties[
        "time_high_s"
    ]
    assert carried == pytest.approx(43.61 * (0.03**2 + (0.1 * 2 / 3) ** 2) ** 0.5, rel=1e-3)


@pytest.mark.parametrize(("absolute", "said"), [("0.3", "at 0.3 kPa absolute"), ("20.4", "at 20 kPa absolute")])
def test_a_low_pressure_is_not_printed_as_none(absolute: str, said: str) -> None:
    result = run(DEGAS, bind(DEGAS, {"viscosity_cst": "7000", "absolute_kpa": absolute}))
    assert said in result.judgement.reasons[0]
