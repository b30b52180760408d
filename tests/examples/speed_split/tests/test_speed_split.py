"""Tests of speed_split, run by whoever changes it: python -m pytest"""

import doctest
from math import pi

import pytest
from bevelbook import InputError
from bevelbook.testing import check_plugin

import speed_split
from speed_split import Bend, compute


def bend(**changed: float) -> Bend:
    usual = {"track_width_mm": 160.0, "turn_radius_m": 0.98, "speed_km_h": 3.528, "wheel_diameter_mm": 78.0}
    return Bend(**(usual | changed))


def test_bevelbook_finds_nothing_wrong_with_it() -> None:
    check_plugin(speed_split)


def test_the_examples_in_the_text_are_right() -> None:
    assert doctest.testmod(speed_split).failed == 0


def test_the_ratio_of_a_physics_problem() -> None:
    """Wheels of 0.78 m on an axle of 1.6 m around an inner radius of 9 m: (9 + 1.6) / 9. A problem of a physics course,
    quoted in a public forum; here at a tenth of the size, and as a whole with a car's own bounds."""
    found = compute(bend())
    assert found.outer_per_min / found.inner_per_min == pytest.approx((9 + 1.6) / 9, rel=1e-12)


def test_the_difference_by_hand() -> None:
    """0.98 m/s around 0.98 m is 1 rad/s; 160 mm apart that is 0.16 m/s, on wheels of 39 mm: 0.16 / 0.039 rad/s."""
    found = compute(bend())
    assert found.speed_difference_rad_s == pytest.approx(0.16 / 0.039)
    assert found.case_per_min == pytest.approx(0.98 / 0.039 * 60 / (2 * pi))


def test_a_straight_is_a_bend_without_end() -> None:
    """The geometry's own limit: 160 mm against 1000 m is 0.016 %."""
    assert compute(bend(turn_radius_m=1000.0)).difference_percent == pytest.approx(0.016)


def test_tighter_than_half_the_track_width_is_refused() -> None:
    with pytest.raises(InputError, match="tighter than half the track width"):
        compute(bend(turn_radius_m=0.08))


def test_one_gear_alone_is_refused() -> None:
    with pytest.raises(InputError, match="the other gear's teeth"):
        compute(bend(pinion_teeth=20))
