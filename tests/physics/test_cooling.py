"""Newton's law of cooling, back to the end of a run."""

from __future__ import annotations

from math import exp, log

import numpy as np
import pytest

from bevelbook.physics.cooling import cooling_curve, half_life_s


def test_two_readings_give_the_curve_by_hand() -> None:
    """22 + 16 (16/13)^(120/180) = 40.376; tau = 180 s / ln(16/13) = 866.9 s."""
    curve = cooling_curve([120.0, 300.0], [38.0, 35.0], 22.0)
    assert curve is not None
    assert curve.end_c == pytest.approx(22.0 + 16.0 * (16.0 / 13.0) ** (2.0 / 3.0), rel=1e-12)
    assert curve.time_constant_s == pytest.approx(180.0 / log(16.0 / 13.0), rel=1e-12)
    assert half_life_s(curve.time_constant_s) == pytest.approx(180.0 * log(2.0) / log(16.0 / 13.0))


def test_a_cup_of_coffee() -> None:
    """An exercise of a school course (publisher unknown, read in a forum): 95 °C falls to 61 °C in 30 min in a room at
    20 °C, so T = 20 + 75 exp(-0.02 t): here back from 10 and 30 min, within what k = 0.02 is rounded to."""
    after = [10 * 60.0, 30 * 60.0]
    curve = cooling_curve(after, [20.0 + 75.0 * exp(-0.02 * one / 60.0) for one in after], 20.0)
    assert curve is not None
    assert curve.end_c == pytest.approx(95.0, abs=1e-9)
    assert 60.0 / curve.time_constant_s == pytest.approx(log(75.0 / 41.0) / 30.0, abs=0.00015)


def test_exact_readings_of_one_curve_give_it_back() -> None:
    after = [60.0, 150.0, 300.0, 600.0]
    curve = cooling_curve(after, [24.5 + 18.0 * exp(-one / 700.0) for one in after], 24.5)
    assert curve is not None
    assert (curve.end_c, curve.time_constant_s) == (pytest.approx(42.5), pytest.approx(700.0))
    assert max(map(abs, curve.off_c)) < 1e-9


def test_more_readings_are_weighted_least_squares_as_statsmodels_does_it() -> None:
    import statsmodels.api as sm

    after, read, air = [90.0, 240.0, 420.0, 600.0], [41.0, 37.6, 35.4, 32.8], 23.0
    excess = np.array(read) - air
    peer = sm.WLS(np.log(excess), sm.add_constant(np.array(after)), weights=excess**2).fit()
    curve = cooling_curve(after, read, air)
    assert curve is not None
    assert curve.end_c == pytest.approx(air + exp(peer.params[0]), rel=1e-10)
    assert curve.time_constant_s == pytest.approx(-1.0 / peer.params[1], rel=1e-9)


def test_sensitivities_are_what_moving_a_reading_does() -> None:
    """By differences; with the weights held, so for two readings, where they do not matter."""
    after, read, air, step = [120.0, 300.0], [38.0, 35.0], 22.0, 1e-5
    curve = cooling_curve(after, read, air)
    assert curve is not None
    for place, by in enumerate(curve.by_reading):
        moved = [one + step * (number == place) for number, one in enumerate(read)]
        other = cooling_curve(after, moved, air)
        assert other is not None
        assert (other.end_c - curve.end_c) / step == pytest.approx(by, rel=1e-4)
    warmer = cooling_curve(after, read, air + step)
    assert warmer is not None
    assert (warmer.end_c - curve.end_c) / step == pytest.approx(curve.by_ambient, rel=1e-3)


@pytest.mark.parametrize("read", [[38.0, 38.0], [38.0, 40.0], [38.0, 38.0, 38.0]])
def test_readings_that_do_not_fall_have_no_curve(read: list[float]) -> None:
    assert cooling_curve([60.0 * (one + 1) for one in range(len(read))], read, 22.0) is None
