"""Drag of a diff on the bench: a weight on a thread turns one output, the other is held (``bench-drag``)."""

from __future__ import annotations

from collections.abc import Iterable
from math import pi, sqrt
from typing import Any, Final, NamedTuple

from bevelbook import (
    Calculator,
    Judgement,
    Named,
    Sentence,
    Source,
    Worked,
    about_inputs,
    hookimpl,
    listing,
    quantity,
    record,
    refuse,
)
from bevelbook.formulas.percent import percent
from bevelbook.formulas.thick_oils import SHEAR_RATES, THICK_OILS, THINNING, thick_oil_cautions
from bevelbook.physics.constants import STANDARD_GRAVITY_M_S2
from bevelbook.physics.viscosity import VISCOSITY_LAW, viscosity_ratio
from bevelbook.physics.weighing import GUM
from bevelbook.stats.line import INVERSE, Line, t_value, where_line_reaches
from bevelbook.stats.spread import mean
from bevelbook.stats.weighted_line import weighted_line

SETTLING_SHARE: Final = 0.01
ON_THE_LINE: Final = 1e-6
"""Scatter below this part of what the rounding of a time makes counts as none."""
TIME_STEP_S: Final = 0.1
"""To which a time by hand is written down (common practice, no source)."""
FALLING_WEIGHT: Final = Source(
    "computed",
    "steady fall: torque = m g r, speed = h / (t r), damping = torque / speed = m g r² t / h; "
    "two weights separate damping from friction; the same part of a second off in each fall, so weighted by time⁴",
)
CONSTRUCTED: Final = Source(
    "computed",
    "constructed: 0.100 kg × 9.80665 m/s² × 0.010 m = 9.80665 mN·m; 0.200 m / 12.0 s / 0.010 m = 1.66667 rad/s; "
    "with 0.150 kg in 7.6 s: (14.70998 - 9.80665) / (2.63158 - 1.66667) = 5.08163 mN·m·s",
)
STEADINESS: Final = Source("proposal", "a fall counts as steady when speeding up takes under 1 % of its time")


@record
class DropTime:
    mass_g: float = quantity("g", "Mass on the thread, hook too", above=0, plausible=(1, 2000), example="100")
    time_s: float = quantity("s", "Time over the measured fall", above=0, example="12.0")


@record
class DragGiven:
    falls: tuple[DropTime, ...] = listing(DropTime, "Falls, with one mass or several", singular="weight")
    drum_radius_mm: float = quantity("mm", "Radius of the drum and half the thread", above=0, plausible=(1, 100))
    fall_mm: float = quantity("mm", "Height that is timed", above=0, plausible=(20, 3000))
    temperature_c: float | None = quantity(
        "°C", "Temperature of the diff in this test", default=None, minimum=-60, maximum=200
    )
    reference_damping_nm_s: float | None = quantity(
        "N·m·s", "Damping of the same gears and fill with an oil of known viscosity", default=None, above=0
    )
    reference_viscosity_cst: float | None = quantity(
        "cSt",
        "Viscosity of that oil at 25 °C",
        default=None,
        above=0,
        plausible=(50, 2_000_000),
    )
    reference_temperature_c: float | None = quantity(
        "°C",
        "Temperature of the diff in that test; the same as now if not given",
        default=None,
        minimum=-60,
        maximum=200,
    )


@record
class DragPoint:
    mass_g: float = quantity("g", "Mass on the thread")
    time_s: float = quantity("s", "Time of the fall")
    torque_nm: float = quantity("N·m", "Torque at the drum")
    turns_per_minute: float = quantity("1", "Speed of the drum against the held output, turns a minute", digits=1)


@record
class DragFound:
    damping_nm_s: float = quantity("N·m·s", "Torque for each rad/s between the two outputs")
    damping_low_nm_s: float | None = quantity(
        "N·m·s", "Lower end of that, 95 %, from three falls", exact=True, low_of="damping_nm_s"
    )
    damping_high_nm_s: float | None = quantity("N·m·s", "Upper end of that", exact=True, high_of="damping_nm_s")
    friction_nm: float | None = quantity("N·m", "Torque that is needed to turn at all; takes two weights")
    friction_low_nm: float | None = quantity(
        "N·m", "Lower end of that, 95 %, from three falls", exact=True, low_of="friction_nm"
    )
    friction_high_nm: float | None = quantity("N·m", "Upper end of that", exact=True, high_of="friction_nm")
    effective_viscosity_cst: float | None = quantity("cSt", "Viscosity at 25 °C that would drag like this", figures=3)
    turns_per_minute: float = quantity(
        "1", "Speed of the drum in the mean of the falls, turns a minute", exact=True, digits=1
    )
    rows: tuple[DragPoint, ...] = listing(DragPoint, "Fall by fall")


class Steady(NamedTuple):
    """One fall: torque in N·m and speed of the drum in rad/s."""

    torque_nm: float
    speed_rad_s: float


def steady_fall(mass_g: float, time_s: float, drum_radius_mm: float, fall_mm: float) -> Steady:
    """Torque and speed of a weight that falls at a steady speed: T = m g r, omega = h / (t r).

    Valid where speeding up takes a small share of the time; g = 9.80665 m/s2.

    >>> fall = steady_fall(100.0, 12.0, 10.0, 200.0)
    >>> round(fall.torque_nm, 8), round(fall.speed_rad_s, 5)
    (0.00980665, 1.66667)
    """
    torque = mass_g / 1000.0 * STANDARD_GRAVITY_M_S2 * drum_radius_mm / 1000.0
    return Steady(torque, fall_mm / (time_s * drum_radius_mm))


def _falls(given: DragGiven) -> list[Steady]:
    return [steady_fall(one.mass_g, one.time_s, given.drum_radius_mm, given.fall_mm) for one in given.falls]


def speed_line(given: DragGiven) -> Line | None:
    """The line of speed over torque, from two different weights; None with one.

    A hand is off by the same part of a second in each fall, and the speed h / (t r) by that times h / (t² r): a fall
    counts with the fourth power of its time. Falls that agree to the last digit scatter less than a time shows: then
    the rounding of a time counts (JCGM 100:2008, F.2.2.1).
    """
    falls = _falls(given)
    if len({one.mass_g for one in given.falls}) < 2:
        return None
    weights = [one.time_s**4 for one in given.falls]
    line = weighted_line([one.torque_nm for one in falls], [one.speed_rad_s for one in falls], weights)
    rounding = given.fall_mm / given.drum_radius_mm * TIME_STEP_S / sqrt(12.0 * mean(weights))
    is_exact = line.degrees_of_freedom > 0 and line.residual_sd < ON_THE_LINE * rounding
    return line.with_scatter(rounding) if is_exact else line


def drag(given: DragGiven) -> DragFound:
    """Damping and friction from falls, and the viscosity that would drag the same.

    One weight: c = m g r^2 t / h, friction included. Several: least squares of speed on torque, weighted by the fourth
    power of the time, c = 1 / slope, friction = torque where the line meets speed zero; intervals from three falls.
    Effective viscosity at 25 °C:
    nu_ref (c / c_ref) nu(T_ref) / nu(T), for the same gears and fill.
    """
    if not given.falls:
        raise refuse(
            given, "falls", "there is no fall", remedy=Sentence("Give ", Named("falls"), "."), code="missing_input"
        )
    falls = _falls(given)
    line = speed_line(given)
    damping, friction = mean(one.torque_nm / one.speed_rad_s for one in falls), None
    low = high = friction_low = friction_high = None
    if line is not None:
        if line.slope <= 0:
            raise refuse(
                given,
                "falls",
                "the heavier weight fell no faster",
                remedy="Time again: the case has to turn freely, and the thread must not lap over itself.",
            )
        damping = 1.0 / line.slope
        met = where_line_reaches(line, 0.0)
        friction, friction_low, friction_high = met.x, met.low, met.high
        if line.degrees_of_freedom > 0:
            half = t_value(line.degrees_of_freedom) * line.slope_error
            low = 1.0 / (line.slope + half)
            high = 1.0 / (line.slope - half) if half < line.slope else None
    return DragFound(
        damping_nm_s=damping,
        damping_low_nm_s=low,
        damping_high_nm_s=high,
        friction_nm=friction,
        friction_low_nm=friction_low,
        friction_high_nm=friction_high,
        effective_viscosity_cst=_effective_viscosity_cst(given, damping),
        turns_per_minute=mean(_turns_per_minute(one) for one in falls),
        rows=tuple(
            DragPoint(
                mass_g=one.mass_g,
                time_s=one.time_s,
                torque_nm=steady.torque_nm,
                turns_per_minute=_turns_per_minute(steady),
            )
            for one, steady in zip(given.falls, falls, strict=True)
        ),
    )


def _turns_per_minute(fall: Steady) -> float:
    return fall.speed_rad_s * 30.0 / pi


def _effective_viscosity_cst(given: DragGiven, damping_nm_s: float) -> float | None:
    damping, viscosity = given.reference_damping_nm_s, given.reference_viscosity_cst
    if damping is None and viscosity is None:
        return None
    if damping is None or viscosity is None:
        raise refuse(
            given,
            "reference_damping_nm_s" if damping is None else "reference_viscosity_cst",
            "an effective viscosity needs the damping and the viscosity of one known test",
            remedy=Sentence(
                "Give both ",
                Named("reference_damping_nm_s"),
                " and ",
                Named("reference_viscosity_cst"),
                ", or neither.",
            ),
            code="missing_input",
        )
    return viscosity * damping_nm_s / damping / _ratio_to_reference(given)


def _ratio_to_reference(given: DragGiven) -> float:
    """Viscosity of one oil at this test's temperature over that at the reference test's."""
    if given.reference_temperature_c is None:
        return 1.0
    if given.temperature_c is None:
        raise refuse(
            given,
            "temperature_c",
            "the temperature of the reference test is known, that of this one is not",
            remedy=Sentence("Give ", Named("temperature_c"), ": the damping changes by 2 % for each °C."),
            code="missing_input",
        )
    with about_inputs(other_c="reference_temperature_c"):
        return viscosity_ratio(given.temperature_c, given.reference_temperature_c)


def judge_drag(given: DragGiven, found: DragFound) -> Judgement:
    slow, fast = min(row.turns_per_minute for row in found.rows), max(row.turns_per_minute for row in found.rows)
    speeds = f"{slow:.0f}" if fast - slow < 0.5 else f"{slow:.0f} to {fast:.0f}"
    summary = f"damping {1000 * found.damping_nm_s:.3g} mN·m·s at {speeds} turns a minute"
    if found.damping_low_nm_s is not None and found.damping_high_nm_s is not None:
        summary += f" ({1000 * found.damping_low_nm_s:.3g} to {1000 * found.damping_high_nm_s:.3g}, 95 %)"
    at = "" if given.temperature_c is None else f", diff at {given.temperature_c:g} °C"
    reasons = [summary + at]
    if found.effective_viscosity_cst is not None:
        reasons.insert(0, f"drags like {found.effective_viscosity_cst:,.0f} cSt at 25 °C")
    findings = _findings(given, found)
    cautions = _cautions(given, found)
    if cautions:
        return Judgement("caution", (*reasons, *cautions), findings)
    if found.friction_nm is not None:
        reasons.append(f"friction {1000 * found.friction_nm:.3g} mN·m: seals and gears, before the oil drags")
    return Judgement("ok", tuple(reasons), findings)


def _cautions(given: DragGiven, found: DragFound) -> list[str]:
    cautions = []
    if found.friction_nm is None:
        cautions.append("one weight only: it includes the friction of seals and gears; time a second weight")
    elif found.friction_nm < 0:
        cautions.append(
            f"friction comes out below zero ({1000 * found.friction_nm:.3g} mN·m): time again, and measure the fall"
        )
    slowest = max(
        fall.mass_g / 1000.0 * (given.drum_radius_mm / 1000.0) ** 2 / found.damping_nm_s / fall.time_s
        for fall in given.falls
    )
    if slowest > SETTLING_SHARE:
        cautions.append(
            f"speeding up takes {percent(slowest)} of the fall, over {percent(SETTLING_SHARE)} (our own "
            "figure): use a lighter weight or time two equal halves"
        )
    return cautions


def _findings(given: DragGiven, found: DragFound) -> tuple[str, ...]:
    findings = []
    if given.temperature_c is None:
        findings.append("without the temperature of the diff this cannot be compared with another day: 2 % for each °C")
    if given.reference_damping_nm_s is not None and given.reference_temperature_c is None:
        findings.append("the reference test is taken as one at the same temperature")
    low, high = found.friction_low_nm, found.friction_high_nm
    if low is not None and high is not None and low <= 0 <= high:
        findings.append("the friction is not distinguishable from zero")
    findings.append("slow on the bench shows the oil unthinned; thick oil thins when the diff spins fast on the track")
    findings += thick_oil_cautions(given.reference_viscosity_cst or 0.0, found.effective_viscosity_cst or 0.0)
    return tuple(findings)


def drag_working(given: DragGiven, found: DragFound) -> tuple[str, ...]:
    lines = [
        f"{row.mass_g:g} g in {row.time_s:g} s: torque = m g r = {row.torque_nm:.5g} N·m, speed = h/(t r) = "
        f"{row.turns_per_minute * pi / 30.0:.4g} rad/s"
        for row in found.rows
    ]
    if found.friction_nm is None:
        lines.append(f"damping = torque/speed = {found.damping_nm_s:.5g} N·m·s")
    else:
        lines.append(
            f"speed on torque by least squares, weighted by time⁴: damping = 1/slope = {found.damping_nm_s:.5g} N·m·s, "
            f"friction = torque at speed zero = {found.friction_nm:.5g} N·m"
        )
    if found.effective_viscosity_cst is not None and given.reference_damping_nm_s is not None:
        lines.append(
            f"viscosity = reference × damping/reference damping ÷ ratio of viscosities for the two temperatures = "
            f"{given.reference_viscosity_cst:g} cSt × {found.damping_nm_s / given.reference_damping_nm_s:.4f} ÷ "
            f"{_ratio_to_reference(given):.4f} = {found.effective_viscosity_cst:,.0f} cSt"
        )
    return tuple(lines)


BENCH_DRAG = Calculator(
    name="bench-drag",
    title="Bench drag",
    question="How much does this diff drag, and which oil drags the same?",
    purpose="damping and friction from a falling weight, and the viscosity that drags the same",
    version=2,
    given=DragGiven,
    found=DragFound,
    compute=drag,
    judge=judge_drag,
    working=drag_working,
    answer="damping_nm_s",
    valid=(
        "One output held, a drum on the other, the case free to turn: held as well, the gears lock.",
        "The radius is that of the drum and half the thread, one layer of thread; the fall is timed at a steady speed.",
        "One weight gives damping with friction included; two separate them; three give intervals.",
        "Slow speeds only: the oil is not thinned by shear. Compare builds at one speed and one temperature.",
        THICK_OILS,
        "Effective viscosity for the same gears and the same fill only; between temperatures -10 to 80 °C.",
    ),
    sources=(FALLING_WEIGHT, INVERSE, VISCOSITY_LAW, THINNING, SHEAR_RATES, STEADINESS, GUM),
    cautions=("falling-weight", "turning-gears"),
    worked=(
        Worked(
            {"falls": ["100 g:12.0"], "drum_radius_mm": "10 mm", "fall_mm": "200 mm"},
            {"damping_nm_s": 5.88399e-3, "friction_nm": None},
            1e-7,
            CONSTRUCTED,
            "caution",
        ),
        Worked(
            {"falls": ["100 g:12.0", "150 g:7.6"], "drum_radius_mm": "10 mm", "fall_mm": "200 mm"},
            {"damping_nm_s": 5.08163e-3, "friction_nm": 1.33727e-3},
            1e-8,
            CONSTRUCTED,
            "ok",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (BENCH_DRAG,)
