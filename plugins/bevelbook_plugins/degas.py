"""How long bubbles need to leave the oil, with and without a pump: ``degas``."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import atan, exp, log, sqrt
from typing import Any, Final

from bevelbook import (
    BenchWait,
    Calculator,
    CardLine,
    Judgement,
    Named,
    OnBench,
    OnCard,
    Sentence,
    Source,
    Worked,
    hookimpl,
    listing,
    quantity,
    record,
    refuse,
)
from bevelbook.formulas.inputs import altitude
from bevelbook.physics.air import STANDARD_ATMOSPHERE, air_outside_kpa
from bevelbook.physics.constants import STANDARD_GRAVITY_M_S2
from bevelbook.physics.viscosity import VISCOSITY_LAW, cst_in_words, law_cautions, viscosity_at_cst

RIGID: Final = 1.0
MOBILE: Final = 1.5
GAS_SHARE: Final = 1.2 / 970.0
"""Density of air at 1 atm over that of the oil; taken under vacuum too, which makes times up to 0.13 % long."""
NO_GAUGE_KPA: Final = (40.0, 20.0)
WAIT_S: Final = 60.0
"""A minute, used where no waiting time is given; not a rule for how long to wait."""
REYNOLDS_CAUTION: Final = 0.1
REYNOLDS_END: Final = 1.0

STOKES: Final = Source(
    "handbook",
    "Rise of a small bubble in creeping flow: Stokes for a rigid surface, Hadamard and Rybczynski for a mobile one",
    publisher="publisher not named",
    year="undated",
    where="v = m g d² (1 - ρg/ρ) / (18 ν), m from 1 to 1.5",
    seen="from memory: the algebra; limits read in an engineering reference; checked with the fluids library",
)
BOYLE: Final = Source(
    "handbook",
    "Growth of a bubble at constant temperature: d = d₀ (p₀/p)^(1/3)",
    publisher="NCERT",
    year="undated",
    seen="read: the exercise of a class-11 physics textbook that it was checked against; publisher from memory",
)
OBSERVED: Final = Source(
    "paper",
    "Degas PDMS in two minutes (Chips & Tips)",
    "Royal Society of Chemistry",
    "2010",
    "17 August 2010",
    "read: single trapped bubbles clear within about a minute of vacuum, stirred-in air takes 30 minutes or more",
)


@record
class DegasGiven:
    viscosity_cst: float = quantity(
        "cSt", "Viscosity at 25 °C", above=0, plausible=(50, 2_000_000), same_as="builds.viscosity_cst"
    )
    temperature_c: float = quantity("°C", "Temperature of the oil", default=20, above=-273.15, plausible=(-20, 120))
    depth_mm: float = quantity("mm", "Depth of oil above the bubble", default=10, above=0, plausible=(1, 100))
    bubble_mm: float = quantity(
        "mm", "Diameter of the bubble, as seen before pumping", default=1.0, above=0, plausible=(0.05, 5)
    )
    gauge_kpa: float | None = quantity(
        "kPa", "What the vacuum gauge shows, below the outside air: negative, such as -80", default=None
    )
    absolute_kpa: float | None = quantity("kPa", "Pressure in the vessel, absolute, in place of a gauge", default=None)
    ambient_kpa: float | None = quantity(
        "kPa",
        "Pressure of the outside air; 101.325 unless a height is given",
        default=None,
        above=0,
        plausible=(60, 110),
    )
    altitude_m: float | None = altitude()
    pump_time_constant_s: float = quantity(
        "s", "Time in which the pump takes two thirds of the way down; 0 is at once", default=0, minimum=0
    )
    wait_s: float | None = quantity("s", "How long you let it stand, pump running", default=None, above=0)


@record
class Clearing:
    absolute_kpa: float = quantity("kPa", "Pressure in the vessel, absolute", digits=0)
    time_low_s: float = quantity("s", "Time for the bubble to rise, at least (mobile surface)", digits=0)
    time_high_s: float = quantity("s", "At most (rigid surface)", digits=0)
    smallest_bubble_cleared_mm: float = quantity("mm", "Smallest bubble that surely clears in the wait")


@record
class DegasFound:
    time_high_s: float = quantity("s", "Time for the bubble to rise, at most (rigid surface)", digits=0)
    time_low_s: float = quantity("s", "Time for the bubble to rise, at least (mobile surface)", digits=0)
    standing_time_s: float = quantity("s", "The same without a pump, at most", digits=0)
    standing_time_low_s: float = quantity("s", "The same without a pump, at least", digits=0)
    smallest_bubble_cleared_mm: float = quantity(
        "mm", "Smallest bubble that surely clears in the wait, or in a minute if none is given"
    )
    smallest_bubble_perhaps_mm: float = quantity("mm", "Smallest bubble that may clear in it")
    pressures: tuple[Clearing, ...] = listing(
        Clearing, "Without a pump and at the pressure given; at 40 and 20 kPa where none is"
    )


def mobility_factor(gas_over_oil_viscosity: float) -> float:
    """How much faster a bubble rises than a rigid ball: m = 3 (1 + k) / (2 + 3 k), k gas over oil viscosity.

    1.5 for gas in oil with a clean surface, 1 for a surface held by dirt. Valid from 0 up.

    >>> mobility_factor(0.0)
    1.5
    """
    return 3.0 * (1.0 + gas_over_oil_viscosity) / (2.0 + 3.0 * gas_over_oil_viscosity)


def rise_speed_m_s(
    bubble_mm: float,
    viscosity_cst: float,
    mobility: float = RIGID,
    gas_share: float = GAS_SHARE,
    gravity_m_s2: float = STANDARD_GRAVITY_M_S2,
) -> float:
    """Speed of a small bubble, in m/s: v = m g d^2 (1 - rho_g / rho) / (18 nu).

    bubble_mm      diameter, mm; viscosity_cst at the oil's temperature, cSt
    mobility       m, from 1 (rigid) to 1.5 (mobile surface)
    gas_share      rho_g / rho
    Valid for a Reynolds number v d / nu well below 1.

    >>> f"{rise_speed_m_s(1.0, 7000.0):.5e}"
    '7.77343e-05'
    """
    return mobility * gravity_m_s2 * (bubble_mm / 1000.0) ** 2 * (1.0 - gas_share) / (18.0 * viscosity_cst * 1e-6)


def swollen_mm(bubble_mm: float, from_kpa: float, to_kpa: float) -> float:
    """Diameter of a bubble at another absolute pressure, in mm: d = d0 (p0 / p)^(1/3), at constant temperature (Boyle).

    >>> round(swollen_mm(1.0, 101.325, 20.0), 2)
    1.72
    """
    return float(bubble_mm * (from_kpa / to_kpa) ** (1.0 / 3.0))


def worth_s(time_s: float, ambient_kpa: float, absolute_kpa: float, time_constant_s: float = 0.0) -> float:
    """Time without a pump that has the same effect as this time with the pump, in s.

    The integral of (p0 / p)^(2/3) over time, with p = pe + (p0 - pe) exp(-t / tau): a bubble swells as the pressure
    falls and rises with the square of its diameter. With a = (pe / p0)^(1/3), y = (p / p0)^(1/3):
    {t + tau [1.5 ln((y^2 + a y + a^2) / (1 + a + a^2))
    + sqrt 3 (atan((2 y + a) / (a sqrt 3)) - atan((2 + a) / (a sqrt 3)))]} / a^2.

    Valid for 0 < pe <= p0. Own integration, checked against the differential equation solved by scipy.

    >>> round(worth_s(43.611, 101.325, 20.0), 1)
    128.6
    """
    a = (absolute_kpa / ambient_kpa) ** (1.0 / 3.0)
    if time_constant_s == 0.0:
        return float(time_s / a**2)
    y = (a**3 + (1.0 - a**3) * exp(-time_s / time_constant_s)) ** (1.0 / 3.0)
    root = sqrt(3.0)
    lag = 1.5 * log((y * y + a * y + a * a) / (1.0 + a + a * a)) + root * (
        atan((2.0 * y + a) / (a * root)) - atan((2.0 + a) / (a * root))
    )
    return float((time_s + time_constant_s * lag) / a**2)


def pumped_time_s(
    standing_time_s: float, ambient_kpa: float, absolute_kpa: float, time_constant_s: float = 0.0
) -> float:
    """Time under vacuum for a bubble that needs the given time without a pump, in s: :func:`worth_s` solved.

    Newton's steps from above: the worth of time only grows faster, so they never pass the answer.

    >>> round(pumped_time_s(128.643, 101.325, 20.0, 10.0), 2)
    55.67
    """
    time_s = standing_time_s
    if time_constant_s == 0.0:
        return standing_time_s / worth_s(1.0, ambient_kpa, absolute_kpa)
    end = absolute_kpa / ambient_kpa
    for _ in range(60):
        share = end + (1.0 - end) * exp(-time_s / time_constant_s)
        step = (worth_s(time_s, ambient_kpa, absolute_kpa, time_constant_s) - standing_time_s) * share ** (2.0 / 3.0)
        time_s -= step
        if abs(step) <= 1e-14 * time_s:
            break
    return time_s


def _unsigned_gauge(shown_kpa: float, outside_kpa: float) -> Sentence:
    """What to do about a gauge without its minus sign: only the readings that are possible are offered."""
    if shown_kpa >= outside_kpa:
        return Sentence(
            f"A vacuum gauge here shows from -{outside_kpa:.1f} kPa to 0: give ",
            Named("gauge_kpa"),
            " with its minus sign and its unit, or ",
            Named("absolute_kpa"),
            " counted from zero.",
        )
    return Sentence(
        "Below ambient, or absolute? Give ",
        Named("gauge_kpa", f"-{shown_kpa:g}"),
        " if it is below the air outside, ",
        Named("absolute_kpa", f"{shown_kpa:g}"),
        " if it is counted from zero.",
    )


def vessel_kpa(given: DegasGiven) -> float | None:
    """Absolute pressure in the vessel from what was given, in kPa; None if no pressure was given."""
    outside = air_outside_kpa(given.ambient_kpa, given.altitude_m)
    if given.gauge_kpa is not None and given.absolute_kpa is not None:
        raise refuse(
            given,
            "absolute_kpa",
            "the pressure is given twice",
            remedy=Sentence("Give ", Named("gauge_kpa"), " or ", Named("absolute_kpa"), ", not both."),
            code="too_many_inputs",
        )
    if given.gauge_kpa is not None:
        if given.gauge_kpa > 0.0:
            raise refuse(
                given,
                "gauge_kpa",
                f"a vacuum gauge that shows {given.gauge_kpa:g} kPa, with no minus sign",
                remedy=_unsigned_gauge(given.gauge_kpa, outside),
                code="gauge_sign",
            )
        if given.gauge_kpa <= -outside:
            raise refuse(
                given,
                "gauge_kpa",
                f"{given.gauge_kpa:g} kPa below {outside:.1f} kPa outside is below absolute zero pressure",
                remedy=Sentence(
                    f"A gauge here cannot show less than -{outside:.1f} kPa: give its reading in kPa, and the air's "
                    "pressure by ",
                    Named("ambient_kpa"),
                    " or ",
                    Named("altitude_m"),
                    ".",
                ),
            )
        return outside + given.gauge_kpa
    if given.absolute_kpa is None:
        return None
    if not 0.0 < given.absolute_kpa <= outside:
        raise refuse(
            given,
            "absolute_kpa",
            f"{given.absolute_kpa:g} kPa is not a vacuum: that lies between 0 and the {outside:.1f} kPa outside",
            remedy=Sentence(
                "Give the absolute pressure in the vessel, or what the gauge shows (negative) by ",
                Named("gauge_kpa"),
                ".",
            ),
        )
    return given.absolute_kpa


def _clearing(given: DegasGiven, kpa: float, time_constant_s: float) -> tuple[Clearing, float]:
    """Clearing at one pressure, and the smallest bubble that may clear at it."""
    outside = air_outside_kpa(given.ambient_kpa, given.altitude_m)
    viscosity = viscosity_at_cst(given.viscosity_cst, given.temperature_c)
    worth = worth_s(given.wait_s or WAIT_S, outside, kpa, time_constant_s)
    times = []
    bubbles = []
    for mobility in (MOBILE, RIGID):
        standing = given.depth_mm / 1000.0 / rise_speed_m_s(given.bubble_mm, viscosity, mobility)
        times.append(pumped_time_s(standing, outside, kpa, time_constant_s))
        bubbles.append(sqrt(given.depth_mm / 1000.0 / (rise_speed_m_s(1.0, viscosity, mobility) * worth)))
    return (
        Clearing(absolute_kpa=kpa, time_low_s=times[0], time_high_s=times[1], smallest_bubble_cleared_mm=bubbles[1]),
        bubbles[0],
    )


def reynolds(given: DegasGiven, kpa: float) -> float:
    """Reynolds number of the bubble once swollen, mobile surface: v d / nu."""
    outside = air_outside_kpa(given.ambient_kpa, given.altitude_m)
    viscosity = viscosity_at_cst(given.viscosity_cst, given.temperature_c)
    wide = swollen_mm(given.bubble_mm, outside, kpa)
    return rise_speed_m_s(wide, viscosity, MOBILE) * (wide / 1000.0) / (viscosity * 1e-6)


def degas(given: DegasGiven) -> DegasFound:
    """Time for a bubble to rise: t = 18 nu h / (m g d0^2) (p / p0)^(2/3), as a range of m from 1.5 to 1.

    The smallest bubble that clears in a time t is the same solved for d0.
    """
    outside = air_outside_kpa(given.ambient_kpa, given.altitude_m)
    given_kpa = vessel_kpa(given)
    kpa = outside if given_kpa is None else given_kpa
    if swollen_mm(given.bubble_mm, outside, kpa) >= given.depth_mm:
        raise refuse(
            given,
            "bubble_mm",
            f"a bubble that swells to {swollen_mm(given.bubble_mm, outside, kpa):.1f} mm does not rise through "
            f"{given.depth_mm:g} mm of oil",
            remedy="Give a bubble smaller than the depth: one that reaches the surface is out.",
        )
    if reynolds(given, kpa) > REYNOLDS_END:
        raise refuse(
            given,
            "bubble_mm",
            f"a bubble this large in an oil this thin rises too fast for this formula (Re {reynolds(given, kpa):.3g})",
            remedy="Give a smaller bubble or a thicker oil; this one is out at once.",
        )
    standing, _ = _clearing(given, outside, 0.0)
    pumped, perhaps = _clearing(given, kpa, given.pump_time_constant_s)
    others = NO_GAUGE_KPA if given_kpa is None else ()
    rows = [standing]
    rows += [_clearing(given, one, given.pump_time_constant_s)[0] for one in others if one < outside]
    if given_kpa is not None:
        rows.append(pumped)
    return DegasFound(
        time_high_s=pumped.time_high_s,
        time_low_s=pumped.time_low_s,
        standing_time_s=standing.time_high_s,
        standing_time_low_s=standing.time_low_s,
        smallest_bubble_cleared_mm=pumped.smallest_bubble_cleared_mm,
        smallest_bubble_perhaps_mm=perhaps,
        pressures=tuple(rows),
    )


def range_in_words(low_s: float, high_s: float) -> str:
    """Two times for people: in seconds, as the outputs have them, up to ten minutes; else in a longer unit.

    >>> range_in_words(85.8, 128.6)
    '86 to 129 s'
    """
    for limit, size, unit in ((600.0, 1.0, "s"), (6000.0, 60.0, "min")):
        if high_s < limit:
            digits = 0 if unit == "s" and low_s >= 10.0 else 1
            return f"{low_s / size:.{digits}f} to {high_s / size:.{digits}f} {unit}"
    return f"{low_s / 3600.0:.1f} to {high_s / 3600.0:.1f} h"


def judge_degas(given: DegasGiven, found: DegasFound) -> Judgement:
    kpa = vessel_kpa(given)
    bubble = (
        f"a bubble of {given.bubble_mm:g} mm, {given.depth_mm:g} mm deep in {cst_in_words(given.viscosity_cst)} cSt"
    )
    standing = f"standing without a pump {range_in_words(found.standing_time_low_s, found.standing_time_s)}"
    if kpa is None:
        pumped = "; ".join(
            f"at {one.absolute_kpa:g} kPa absolute {range_in_words(one.time_low_s, one.time_high_s)}"
            for one in found.pressures[1:]
        )
        summary = f"{bubble}: {standing}; without a gauge the pump's pressure is not known: {pumped}"
    else:
        summary = f"{bubble}: {range_in_words(found.time_low_s, found.time_high_s)} at {_kpa(kpa)} absolute; {standing}"
    wait = given.wait_s or WAIT_S
    usual = "" if given.wait_s else " (no waiting time is given)"
    cleared = (
        f"in {wait:g} s{usual}{' without a pump' if kpa is None else ''} bubbles from "
        f"{found.smallest_bubble_cleared_mm:.2f} mm up clear, from {found.smallest_bubble_perhaps_mm:.2f} mm perhaps"
    )
    findings = _findings(given, kpa)
    cautions = law_cautions(given.viscosity_cst, given.temperature_c)
    if given.wait_s is not None and given.wait_s < found.time_low_s:
        more = f"too short: wait {range_in_words(found.time_low_s - wait, found.time_high_s - wait)} longer"
        return Judgement("caution", (more, summary, cleared, *cautions), findings)
    if given.wait_s is not None and given.wait_s < found.time_high_s:
        sure = f"it may be out or not after {wait:g} s: wait until {found.time_high_s:.0f} s to be sure"
        return Judgement("unclear", (sure, summary, cleared, *cautions), findings)
    return Judgement("caution" if cautions else "ok", (summary, cleared, *cautions), findings)


def _kpa(pressure_kpa: float) -> str:
    """A pressure, whole from 10 kPa up and never 0."""
    return f"{pressure_kpa:.0f} kPa" if pressure_kpa >= 10.0 else f"{pressure_kpa:.2g} kPa"


def _findings(given: DegasGiven, kpa: float | None) -> tuple[str, ...]:
    outside = air_outside_kpa(given.ambient_kpa, given.altitude_m)
    findings = ["bubbles trapped under gears do not rise: turn the gears before and while it stands"]
    if kpa is not None and kpa < outside:
        findings.append(
            f"bubbles swell to {swollen_mm(1.0, outside, kpa):.1f} times their width: stop the pump when the oil comes "
            "to the rim; never put a closed diff in the vessel"
        )
    fast = reynolds(given, outside if kpa is None else kpa)
    if fast > REYNOLDS_CAUTION:
        findings.append(
            f"it rises a little slower than this: its Reynolds number, {fast:.2f}, is over {REYNOLDS_CAUTION:g}"
        )
    return tuple(findings)


def degas_working(given: DegasGiven, found: DegasFound) -> tuple[str, ...]:
    outside = air_outside_kpa(given.ambient_kpa, given.altitude_m)
    viscosity = viscosity_at_cst(given.viscosity_cst, given.temperature_c)
    depth, wide = given.depth_mm, given.bubble_mm
    lines = [
        f"ν at {given.temperature_c:g} °C = {viscosity:.0f} cSt",
        f"without a pump t = 18 ν h / (m g d² (1 − ρg/ρ)) = 18 × {viscosity:.0f}e-6 m²/s × {depth:g} mm / (m × "
        f"{STANDARD_GRAVITY_M_S2} m/s² × ({wide:g} mm)²) "
        f"= {found.standing_time_low_s:.1f} to {found.standing_time_s:.1f} s, m = 1.5 to 1",
    ]
    kpa = vessel_kpa(given)
    if kpa is not None:
        how = f", pump-down with τ = {given.pump_time_constant_s:g} s" if given.pump_time_constant_s else ""
        lines.append(
            f"at {kpa:.2f} kPa of {outside:.2f} kPa × (p/p₀)^(2/3) = {(kpa / outside) ** (2.0 / 3.0):.4f}{how}: "
            f"{found.time_low_s:.1f} to {found.time_high_s:.1f} s"
        )
    return tuple(lines)


def card_lines(given: DegasGiven, found: DegasFound) -> Iterator[CardLine]:
    """A box for the gauge reading, if the pressure in the vessel is not known."""
    if given.gauge_kpa is None and given.absolute_kpa is None:
        yield CardLine("Vacuum gauge", unit="kPa")


def bench_waits(given: DegasGiven, found: DegasFound) -> Iterator[BenchWait]:
    """Standing open, and under the vacuum given or, without a gauge, under two that a pump may reach."""
    standing, *pumped = found.pressures
    yield BenchWait("stand", "standing open", standing.time_high_s)
    for one in pumped:
        yield BenchWait("pump", f"pumped to {_kpa(one.absolute_kpa)} absolute", one.time_high_s)


DEGAS: Final = Calculator(
    name="degas",
    title="Time for bubbles",
    question="How long do bubbles need to leave the oil?",
    purpose="time for bubbles to rise, with and without a pump, and the smallest that clears",
    version=1,
    given=DegasGiven,
    found=DegasFound,
    compute=degas,
    judge=judge_degas,
    working=degas_working,
    answer="time_high_s",
    seen_first=("temperature_c", "depth_mm", "gauge_kpa"),
    card=OnCard("bubbles", lines=card_lines),
    bench=OnBench(asks=("gauge_kpa",), waits=bench_waits),
    valid=(
        "Always a range: a bubble with a clean surface rises 1.5 times as fast as one whose surface is held by dirt.",
        "Single small bubbles (Reynolds number under 1) that only rise. Not in the formula: the film at the surface, "
        "which takes a second or more to break; crowding and walls, which slow bubbles; and the 16 to 19 % by volume "
        "of air dissolved in the oil, which goes on bubbling under vacuum after the trapped air is out.",
        "The weight of the oil above and the surface tension are left out: under 1.5 % from 0.5 mm and 5 kPa up, "
        "under 2.5 % at 0.2 mm.",
        "The bubble's air is taken as heavy as at 1 atm also under vacuum: times come out up to 0.13 % long.",
        "An open diff or cup in the vessel, never a closed one. Stop the pump when the oil comes to the rim.",
    ),
    sources=(STOKES, BOYLE, VISCOSITY_LAW, OBSERVED, STANDARD_ATMOSPHERE),
    cautions=("vacuum-vessel", "vacuum-plastic", "oil-on-floor", "oil-in-eye"),
    worked=(
        Worked(
            {"viscosity_cst": "7000", "temperature_c": "25", "absolute_kpa": "20"},
            {"time_high_s": 43.61, "time_low_s": 29.07, "standing_time_s": 128.64},
            0.01,
            Source("computed", "t = 18 ν h / (m g d²) (p/p₀)^(2/3), speed from the fluids library 1.3.1"),
            "ok",
        ),
        Worked(
            {"viscosity_cst": "7000", "temperature_c": "25", "absolute_kpa": "20", "wait_s": "60"},
            {"smallest_bubble_cleared_mm": 0.85, "smallest_bubble_perhaps_mm": 0.70},
            0.005,
            Source("computed", "d = √(18 ν h / (m g t)) (p/p₀)^(1/3)"),
            "ok",
        ),
        Worked(
            {"viscosity_cst": "7000", "temperature_c": "25", "bubble_mm": "0.5"},
            {"standing_time_s": 514.57, "standing_time_low_s": 343.05},
            0.01,
            Source("computed", "t = 18 ν h / (m g d²), speed from the fluids library 1.3.1"),
            "ok",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (DEGAS,)
