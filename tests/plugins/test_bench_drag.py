"""bench-drag. No published falling-weight drum example with a number was found: the cases are constructed."""

from __future__ import annotations

from math import exp, log, pi

import numpy as np
import pytest
import statsmodels.api as sm
from benchmarks.coverages import cases_of, seen

from bevelbook.declare.errors import InputError
from bevelbook_plugins.bench_drag import BENCH_DRAG, DragFound, DragGiven, DropTime, drag, drag_working, judge_drag

G = 9.80665


def timed(*falls: tuple[float, float], **more: float) -> tuple[DragGiven, DragFound]:
    listed = tuple(DropTime(mass_g=mass, time_s=time) for mass, time in falls)
    given = DragGiven(**{"falls": listed, "drum_radius_mm": 10.0, "fall_mm": 200.0, **more})  # type: ignore[arg-type]
    return given, drag(given)


def equivalent_fall(torque_nm: float, speed_rad_s: float) -> tuple[DragGiven, DragFound]:
    """The weight and time on a 10 mm drum over 200 mm that make this torque and speed."""
    return timed((torque_nm / (G * 0.010) * 1000.0, 0.200 / (speed_rad_s * 0.010)))


def test_one_weight() -> None:
    """Constructed: 0.100 kg on 10.0 mm, 0.200 m in 12.0 s: T 9.80665e-3, omega 1.66667, c 5.88399e-3."""
    given, found = timed((100.0, 12.0))
    assert found.damping_nm_s == pytest.approx(5.88399e-3, rel=1e-5)
    assert found.rows[0].torque_nm == pytest.approx(9.80665e-3, rel=1e-5)
    assert found.rows[0].turns_per_minute * pi / 30.0 == pytest.approx(1.66667, rel=1e-5)
    assert found.friction_nm is None
    judged = judge_drag(given, found)
    assert judged.verdict == "caution"
    assert any("one weight only" in reason for reason in judged.reasons)


def test_two_weights_tell_friction_from_damping() -> None:
    """Constructed: and 0.150 kg in 7.6 s: c 5.08163e-3, T_f 1.33727e-3 N·m."""
    given, found = timed((100.0, 12.0), (150.0, 7.6))
    assert found.damping_nm_s == pytest.approx(5.08163e-3, rel=1e-5)
    assert found.friction_nm == pytest.approx(1.33727e-3, rel=1e-5)
    assert found.damping_low_nm_s is None
    assert found.friction_low_nm is None
    assert judge_drag(given, found).verdict == "ok"


def test_damping_of_two_cylinders() -> None:
    """Constructed (a widely printed exercise, publisher unknown): 1.8 N·m at 5 turns a second, R 0.06, gap 0.0015,
    L 0.4 m: damping 0.0572958 N·m·s, viscosity torque gap / (4 pi^2 R^3 n L) = 0.158 Pa·s.
    """
    _, found = equivalent_fall(1.8, 2.0 * pi * 5.0)
    assert found.damping_nm_s == pytest.approx(0.0572958, abs=1e-6)
    assert found.damping_nm_s * 0.0015 / (2.0 * pi * 0.06**3 * 0.4) == pytest.approx(0.158, abs=5e-4)


def test_damping_is_what_stops_a_spinning_cylinder() -> None:
    """Constructed (an exercise, publisher unknown): I 0.0273 kg·m2, R 0.05, H 0.08, gap 0.0002 m, 0.1 Pa·s.

    The side wall's torque at 10 rad/s, measured as a falling weight, slows it to 1 % in I / c ln 100 = 4.00 s.
    """
    torque = 2.0 * pi * 0.1 * 0.05**3 * 0.08 / 0.0002 * 10.0
    _, found = equivalent_fall(torque, 10.0)
    assert 0.0273 / found.damping_nm_s * log(100.0) == pytest.approx(4.00, abs=0.005)


def test_several_falls_against_statsmodels() -> None:
    """Independent library: WLS of speed on torque; damping is one over the slope, its interval turned over too.

    The weights: a time that is off by dt puts the speed h / (t r) off by h dt / (t² r).
    """
    falls = ((60.0, 25.1), (100.0, 12.1), (100.0, 11.8), (150.0, 7.6), (200.0, 5.5))
    given, found = timed(*falls)
    torque = np.array([mass / 1000.0 * G * 0.010 for mass, _ in falls])
    speed = np.array([0.200 / (time * 0.010) for _, time in falls])
    fit = sm.WLS(speed, sm.add_constant(torque), weights=np.array([time for _, time in falls]) ** 4).fit()
    assert found.damping_nm_s == pytest.approx(1.0 / fit.params[1], rel=1e-9)
    assert found.friction_nm == pytest.approx(-fit.params[0] / fit.params[1], rel=1e-9)
    low, high = fit.conf_int()[1]
    assert found.damping_low_nm_s == pytest.approx(1.0 / high, rel=1e-9)
    assert found.damping_high_nm_s == pytest.approx(1.0 / low, rel=1e-9)
    ends = sm.add_constant(np.array([found.friction_low_nm, found.friction_high_nm]), has_constant="add")
    band = fit.get_prediction(ends).summary_frame(0.05)
    assert band["mean_ci_upper"][0] == pytest.approx(0.0, abs=1e-9)
    assert band["mean_ci_lower"][1] == pytest.approx(0.0, abs=1e-9)
    assert judge_drag(given, found).verdict == "ok"


def test_falls_that_agree_to_the_last_digit_are_no_better_than_their_times_are_read() -> None:
    """By hand: 0.1 s / sqrt 12 in each of four times, two of each weight; the interval is not empty."""
    given, found = timed((100.0, 12.0), (100.0, 12.0), (150.0, 7.6), (150.0, 7.6))
    low, high = found.damping_low_nm_s, found.damping_high_nm_s
    assert low is not None
    assert high is not None
    assert low < 0.995 * found.damping_nm_s < 1.005 * found.damping_nm_s < high
    assert judge_drag(given, found).verdict == "ok"


@pytest.mark.parametrize("name", ["damping, 6 falls, hand 0.5 s", "friction, 6 falls, hand 0.5 s"])
def test_95_of_100_intervals_hold_the_truth(name: str) -> None:
    """A small version of the table of coverages, from the same fixed start."""
    case = next(one for one in cases_of("bench_drag") if one.name == name)
    assert seen("bench_drag", case, 500).is_within((0.92, 0.98))


def test_the_same_weight_several_times_is_a_mean() -> None:
    """By hand: times 11, 12, 13 s: the mean of m g r^2 t / h is that at 12 s."""
    _, found = timed((100.0, 11.0), (100.0, 12.0), (100.0, 13.0))
    assert found.damping_nm_s == pytest.approx(5.88399e-3, rel=1e-5)
    assert found.friction_nm is None


def test_effective_viscosity_at_one_temperature() -> None:
    """By hand: twice the reference's damping drags like twice its viscosity."""
    _, found = timed((100.0, 12.0), reference_damping_nm_s=5.88399e-3 / 2.0, reference_viscosity_cst=5000.0)
    assert found.effective_viscosity_cst == pytest.approx(10_000.0, rel=1e-5)


def test_effective_viscosity_between_temperatures() -> None:
    """By hand: equal damping at 35 °C needs exp(1757.1 (1/298.15 - 1/308.15)) = 1.211 times the oil of 25 °C."""
    _, found = timed(
        (100.0, 12.0),
        temperature_c=35.0,
        reference_damping_nm_s=5.88399e-3,
        reference_viscosity_cst=5000.0,
        reference_temperature_c=25.0,
    )
    warmer = exp(1757.1 * (1.0 / 298.15 - 1.0 / 308.15))
    assert warmer == pytest.approx(1.211, abs=5e-4)
    assert found.effective_viscosity_cst == pytest.approx(5000.0 * warmer, rel=1e-5)


@pytest.mark.parametrize(
    ("falls", "more", "said"),
    [
        ((), {}, "no fall"),
        (((100.0, 8.0), (150.0, 13.0)), {}, "fell no faster"),
        (
            ((100.0, 12.0),),
            {"reference_damping_nm_s": 0.005},
            "both reference_damping_nm_s and reference_viscosity_cst",
        ),
        (
            ((100.0, 12.0),),
            {"reference_viscosity_cst": 5000.0},
            "both reference_damping_nm_s and reference_viscosity_cst",
        ),
        (
            ((100.0, 12.0),),
            {
                "reference_damping_nm_s": 0.005,
                "reference_viscosity_cst": 5000.0,
                "reference_temperature_c": 25.0,
            },
            "Give temperature_c",
        ),
    ],
)
def test_what_cannot_be_computed_is_refused(
    falls: tuple[tuple[float, float], ...], more: dict[str, float], said: str
) -> None:
    with pytest.raises(InputError, match=said):
        timed(*falls, **more)


def test_a_fall_that_still_speeds_up_is_a_caution() -> None:
    """By hand: c = (1.471 - 0.981) / (3.333 - 2) = 0.368 N·m·s; 1.5 kg on 100 mm: 0.015 / 0.368 = 0.041 of 0.6 s."""
    given, found = timed((1000.0, 1.0), (1500.0, 0.6), drum_radius_mm=100.0, fall_mm=200.0)
    assert any("speeding up takes 7 %" in reason for reason in judge_drag(given, found).reasons)


def test_friction_below_zero_is_a_caution() -> None:
    given, found = timed((100.0, 12.0), (150.0, 8.6))
    assert found.friction_nm is not None
    assert found.friction_nm < 0
    judged = judge_drag(given, found)
    assert judged.verdict == "caution"
    assert any("below zero" in reason for reason in judged.reasons)


def test_the_speed_and_temperature_stand_with_the_result() -> None:
    given, found = timed((100.0, 12.0), (150.0, 7.6), temperature_c=22.0)
    judgement = judge_drag(given, found)
    assert judgement.reasons[0] == "damping 5.08 mN·m·s at 16 to 25 turns a minute, diff at 22 °C"
    given, found = timed((100.0, 12.0), (150.0, 7.6))
    assert any("without the temperature" in finding for finding in judge_drag(given, found).findings)


def test_the_working_shows_each_fall() -> None:
    given, found = timed(
        (100.0, 12.0), (150.0, 7.6), reference_damping_nm_s=0.005, reference_viscosity_cst=5000.0, temperature_c=25.0
    )
    lines = drag_working(given, found)
    assert lines[0].startswith("100 g in 12 s: torque = m g r = 0.0098067 N·m")
    assert any("÷ 1.0000" in line for line in lines)
    assert any("taken as one at the same temperature" in finding for finding in judge_drag(given, found).findings)


def test_the_oil_of_a_build_is_not_taken_for_the_known_oil_of_another_test() -> None:
    """Kept for a build, it needs nothing but what was timed."""
    assert not [field.name for field in BENCH_DRAG.inputs if field.same_as]
