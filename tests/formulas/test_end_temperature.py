"""The temperature of a diff at the end of a run: refusals, cautions, and how often its interval is right."""

from __future__ import annotations

import numpy as np
import pytest
from benchmarks.coverages.temperatures import end_holds_truth

from bevelbook.declare.errors import InputError
from bevelbook.formulas.end_temperature import (
    CoolingReading,
    EndFound,
    EndGiven,
    end_temperature,
    end_working,
    judge_end,
)


def read(*readings: tuple[float, float], air_c: float = 22.0, **more: float) -> tuple[EndGiven, EndFound]:
    listed = tuple(CoolingReading(after_s=after, temperature_c=temperature) for after, temperature in readings)
    given = EndGiven(readings=listed, ambient_c=air_c, **more)
    return given, end_temperature(given)


def test_two_readings_and_their_interval() -> None:
    """Sensitivities 1.913 and -0.942 per °C (by hand: 18.38 × 5/3 / 16 and 18.38 × 2/3 / 13), and 0.03 of the air:
    a trapezium, 1.913 + 0.942 - sqrt(0.1 × 1.913 × 0.942 × 2) = 2.255."""
    given, found = read((300.0, 35.0), (120.0, 38.0))
    assert found.end_temperature_c == pytest.approx(40.376, abs=0.001)
    assert found.high_c - found.end_temperature_c == pytest.approx(2.26, abs=0.01)
    assert found.end_temperature_c - found.low_c == pytest.approx(2.26, abs=0.01)
    judged = judge_end(given, found)
    assert (judged.verdict, judged.findings) == ("ok", ())
    assert "38.1 to 42.6 °C fits (95 %)" in judged.reasons[0]
    assert any("ln(38 − 22)" in line for line in end_working(given, found))


def test_a_better_thermometer_narrows_it_in_proportion() -> None:
    _, wide = read((120.0, 38.0), (300.0, 35.0))
    _, narrow = read((120.0, 38.0), (300.0, 35.0), reading_error_k=0.5)
    assert wide.high_c - wide.low_c == pytest.approx(2.0 * (narrow.high_c - narrow.low_c))


@pytest.mark.parametrize(
    ("readings", "air_c", "said"),
    [
        ((), 22.0, "there is no reading"),
        (((120.0, 38.0),), 22.0, "one reading does not say how fast"),
        (((120.0, 38.0), (120.0, 36.0)), 22.0, "all readings are from one time, 2 min after the run"),
        (((120.0, 38.0), (300.0, 38.0)), 22.0, "the readings do not fall: 38 °C after 2 min, 38 °C after 5 min"),
        (((120.0, 38.0), (300.0, 39.0)), 22.0, "the readings do not fall"),
        (((120.0, 38.0), (300.0, 38.0), (400.0, 38.0)), 22.0, "the readings do not fall"),
        (((120.0, 38.0), (300.0, 21.0)), 22.0, "21 °C after 5 min is not above the air at 22 °C"),
        (((120.0, 38.0), (121.0, 27.0)), 22.0, "38 °C after 2 min, 27 °C after 2.02 min is a fall so fast"),
        (((1200.0, 38.0), (1201.0, 25.0)), 22.0, "would have ended above 200 °C"),
        (((120.0, 38.0), (300.0, 23.5)), 22.0, "23.5 °C after 5 min is only 1.5 °C above the air"),
    ],
)
def test_readings_without_a_curve_are_refused(
    readings: tuple[tuple[float, float], ...], air_c: float, said: str
) -> None:
    with pytest.raises(InputError) as refused:
        read(*readings, air_c=air_c)
    assert said in str(refused.value.what)
    assert refused.value.remedy


def test_taking_back_over_more_than_the_readings_span_is_a_caution() -> None:
    judged = judge_end(*read((300.0, 38.0), (420.0, 36.0)))
    assert judged.verdict == "caution"
    assert "taken back over 5 min from readings only 2 min apart" in judged.reasons[-1]


@pytest.mark.parametrize(
    "readings",
    [
        ((60.0, 50.0), (61.0, 49.9)),
        ((60.0, 50.0), (61.0, 49.9), (62.0, 49.8)),
        ((300.0, 38.0), (330.0, 37.6)),
    ],
)
def test_readings_too_close_are_unclear_and_it_was_never_colder_than_what_was_read(
    readings: tuple[tuple[float, float], ...],
) -> None:
    """A diff that only cools was at least as hot at the end of the run as a reading less its error."""
    given, found = read(*readings, air_c=20.0)
    judged = judge_end(given, found)
    assert found.low_c == readings[0][1] - 1.0
    assert found.low_c < found.end_temperature_c < found.high_c <= 200.0
    assert judged.verdict == "unclear"
    assert "the readings are too close" in judged.reasons[1]
    assert judged.reasons[1].endswith("read the same spot again later")


def test_far_off_one_curve_is_unclear_for_another_reason() -> None:
    judged = judge_end(*read((120.0, 40.0), (300.0, 48.0), (480.0, 33.8)))
    assert judged.verdict == "unclear"
    assert "off one cooling curve" in judged.reasons[1]


def test_the_first_minute_is_worth_a_look() -> None:
    judged = judge_end(*read((30.0, 39.0), (300.0, 35.0)))
    assert (judged.verdict, len(judged.findings)) == ("ok", 1)
    assert "in the first minute the oil inside is still hotter" in judged.findings[0]


def test_readings_off_one_curve_widen_the_interval_and_say_so() -> None:
    _, smooth = read((120.0, 40.0), (300.0, 36.5), (480.0, 33.8))
    given, found = read((120.0, 40.0), (300.0, 41.0), (480.0, 33.8))
    judged = judge_end(given, found)
    assert judged.verdict == "caution"
    assert "off one cooling curve" in judged.reasons[-1]
    assert found.high_c - found.low_c > 1.5 * (smooth.high_c - smooth.low_c)


def test_the_interval_holds_the_truth_as_often_as_it_says() -> None:
    """300 simulations; 2,000 of each case by hand with tests/benchmarks/interval_coverage.py."""
    held = end_holds_truth(np.random.default_rng(14), 300, (120.0, 300.0), 40.0, 900.0)
    assert 0.91 <= held.mean() <= 0.985
