"""Measuring an oil on the bench: ``falling-ball``."""

from __future__ import annotations

from collections.abc import Iterable
from math import fsum, log, sqrt
from typing import Any, Final, NamedTuple

from bevelbook import (
    Calculator,
    Judgement,
    Named,
    Sentence,
    Source,
    Worked,
    counted,
    hookimpl,
    listing,
    quantity,
    record,
    refuse,
)
from bevelbook.formulas.hand_timing import (
    ENOUGH_TIMES,
    FEW_TIMES,
    HAND,
    REACTION,
    SHORT_S,
    own_scatter,
    stopped_in_words,
    time_uncertainty,
)
from bevelbook.physics.constants import STANDARD_GRAVITY_M_S2
from bevelbook.physics.density import EXPANSION_SOURCE, density_g_cm3
from bevelbook.physics.viscosity import (
    TEMPERATURE_COEFFICIENT_K,
    VISCOSITY_LAW,
    cst_in_words,
    kinematic_cst,
    law_cautions,
    viscosity_25_cst,
)
from bevelbook.physics.weighing import COVERAGE_K, GUM
from bevelbook.stats.line import t_value

RATIO_CAUTION: Final = 0.3
RATIO_END: Final = 0.5
REYNOLDS_CAUTION: Final = 0.1
REYNOLDS_END: Final = 1.0
INERTIA_SHARE: Final = 3.0 / 16.0

HABERMAN_SAYRE: Final = Source(
    "paper",
    "Motion of rigid and fluid spheres in stationary and moving liquids inside cylindrical tubes, Report 1143",
    "David Taylor Model Basin",
    "1958",
    "wall factor, doi 10.21236/AD0206307",
    "quoted in a public boundary-element test programme: the formula; title from memory; within 0.03 % of the "
    "exact creeping flow up to 0.3, 1.3 % at 0.5",
)
STOKES_BALL: Final = Source(
    "handbook",
    "College Physics, Viscosity and Laminar Flow",
    "OpenStax",
    year="undated",
    where="end-of-section problem on a falling ball, μ = 2 r² g (ρball - ρoil) / (9 v)",
    seen="read",
)
STEEL: Final = Source("from memory", "Density of hardened bearing steel, 7.81 g/cm³")
UNCERTAINTIES: Final = Source(
    "proposal",
    "Where nothing else is known: bound of ball 0.01 mm and of tube 0.1 mm, length 0.3 mm, "
    "density 0.03 g/cm³, temperature 0.5 K",
)
INERTIA: Final = Source("from memory", "Oseen: the drag exceeds that of creeping flow by 3/16 of the Reynolds number")


@record
class BallFall:
    time_s: float = quantity("s", "Time for the marked length", above=0, example="33.0")


@record
class BallGiven:
    ball_diameter_mm: float = quantity("mm", "Diameter of the ball", above=0, plausible=(0.5, 12))
    ball_density_g_cm3: float = quantity(
        "g/cm3", "Density of the ball; the default is bearing steel", default=7.81, above=0
    )
    tube_diameter_mm: float = quantity(
        "mm", "Inside diameter of the tube, such as a syringe", above=0, plausible=(4, 100)
    )
    fall_mm: float = quantity(
        "mm", "Length between the two marks, each a tube's radius away from the ends", above=0, plausible=(5, 500)
    )
    oil_density_g_cm3: float = quantity(
        "g/cm3",
        "Density of the oil at 25 °C; 0.97 to 0.98 for silicone oils from 350 cSt up",
        minimum=0.5,
        maximum=2,
        same_as="fluids.density_g_cm3",
    )
    temperature_c: float = quantity(
        "°C", "Temperature of the oil while the ball falls", above=-273.15, plausible=(0, 60)
    )
    times: tuple[BallFall, ...] = listing(BallFall, "Times of the same ball, one after the other", singular="time")
    ball_diameter_error_mm: float = quantity(
        "mm",
        "Bound of the error of the ball's diameter",
        default=0.01,
        minimum=0,
        until_typed=("ball_diameter_mm",),
    )
    tube_diameter_error_mm: float = quantity(
        "mm", "Bound of the error of the tube's diameter", default=0.1, minimum=0, until_typed=("tube_diameter_mm",)
    )
    time_uncertainty_s: float = time_uncertainty()
    fall_uncertainty_mm: float = quantity(
        "mm", "Standard uncertainty (k = 1) of the length", default=0.3, minimum=0, until_typed=("fall_mm",)
    )
    density_uncertainty_g_cm3: float = quantity(
        "g/cm3",
        "Standard uncertainty (k = 1) of the difference in density",
        default=0.03,
        minimum=0,
        until_typed=("ball_density_g_cm3", "oil_density_g_cm3"),
    )
    temperature_uncertainty_k: float = quantity(
        "K", "Standard uncertainty (k = 1) of the temperature", default=0.5, minimum=0, until_typed=("temperature_c",)
    )


@record
class BallFound:
    viscosity_cst: float = quantity("cSt", "Viscosity brought to 25 °C", figures=3)
    viscosity_at_temperature_cst: float = quantity("cSt", "Viscosity at the temperature of the test", figures=3)
    wall_factor: float = quantity("1", "How much the tube's wall slows the ball")
    reynolds: float = quantity("1", "Reynolds number of the fall")
    uncertainty_cst: float = quantity(
        "cSt",
        "Uncertainty of the viscosity at 25 °C (k = 2)",
        exact=True,
        uncertainty_of="viscosity_cst",
        heading="uncertainty (k = 2)",
        figures=2,
    )


def haberman_sayre(diameter_ratio: float) -> float:
    """How much the wall of a tube slows a ball on its axis; a number without unit, 1 far from any wall.

    K = (1 - 0.75857 x^5) / (1 - 2.1050 x + 2.0865 x^3 - 1.7068 x^5 + 0.72603 x^6), x = ball over tube diameter.
    Within 0.03 % of exact creeping flow up to x = 0.3, 0.3 % at 0.4, 1.3 % at 0.5.

    Source: W. L. Haberman, R. M. Sayre, David Taylor Model Basin, Report 1143, 1958 (read through a public test
    programme that cites it).

    >>> round(haberman_sayre(0.125), 4)
    1.3497
    """
    x = diameter_ratio
    return (1.0 - 0.75857 * x**5) / (1.0 - 2.1050 * x + 2.0865 * x**3 - 1.7068 * x**5 + 0.72603 * x**6)


def stokes_pa_s(
    ball_diameter_mm: float,
    density_difference_g_cm3: float,
    speed_mm_s: float,
    gravity_m_s2: float = STANDARD_GRAVITY_M_S2,
) -> float:
    """Dynamic viscosity from a falling ball in a wide vessel, in Pa·s: mu = g d^2 (rho_ball - rho_oil) / (18 v).

    Valid for Reynolds numbers well below 1; in a tube divide by :func:`haberman_sayre`.

    Source: OpenStax, College Physics, Viscosity and Laminar Flow.

    >>> round(stokes_pa_s(1.6, 6.98, 43.2, 9.80), 4)
    0.2252
    """
    return gravity_m_s2 * ball_diameter_mm**2 * density_difference_g_cm3 / (18.0 * speed_mm_s)


def fall_s(given: BallGiven) -> float:
    """The mean of the times."""
    return fsum(one.time_s for one in given.times) / len(given.times)


def measure(given: BallGiven) -> BallFound:
    """Viscosity by a falling ball: mu = g d^2 (rho_b - rho) t / (18 L K), nu = mu / rho, brought to 25 °C."""
    if not given.times:
        raise refuse(
            given,
            "times",
            "no time was given",
            remedy=Sentence("Give ", Named("times", "33.0"), "."),
            code="missing_input",
        )
    diameter_ratio = given.ball_diameter_mm / given.tube_diameter_mm
    if diameter_ratio > RATIO_END:
        wide = diameter_ratio >= 1.0
        raise refuse(
            given,
            "ball_diameter_mm",
            "the ball is as wide as the tube"
            if wide
            else f"the ball is {diameter_ratio:.2f} of the tube: over {RATIO_END:g} the wall's effect is not known",
            remedy=f"Take a ball of at most {RATIO_CAUTION * given.tube_diameter_mm:.1f} mm in this tube, "
            "or a wider tube.",
        )
    density = density_g_cm3(given.oil_density_g_cm3, given.temperature_c)
    heavier = given.ball_density_g_cm3 - density
    if heavier <= 0.0:
        raise refuse(
            given,
            "ball_density_g_cm3",
            f"a ball of {given.ball_density_g_cm3:g} g/cm³ does not sink in oil of {density:.3f} g/cm³",
            remedy="Give the densities of ball and oil in g/cm³; steel is 7.81.",
        )
    speed_mm_s = given.fall_mm / fall_s(given)
    factor = haberman_sayre(diameter_ratio)
    viscosity = kinematic_cst(stokes_pa_s(given.ball_diameter_mm, heavier, speed_mm_s) / factor, density)
    reynolds = speed_mm_s * given.ball_diameter_mm / viscosity
    if reynolds > REYNOLDS_END:
        raise refuse(
            given,
            "ball_diameter_mm",
            f"the ball falls too fast for this formula (Reynolds number {reynolds:.1f}, at most {REYNOLDS_END:g})",
            remedy="Take a smaller or lighter ball, or check times and length.",
        )
    at_25 = viscosity_25_cst(viscosity, given.temperature_c)
    return BallFound(
        viscosity_cst=at_25,
        viscosity_at_temperature_cst=viscosity,
        wall_factor=factor,
        reynolds=reynolds,
        uncertainty_cst=COVERAGE_K * at_25 * budget(given, heavier).combined,
    )


class Budget(NamedTuple):
    """Relative standard uncertainties of a falling-ball test, by cause."""

    ball: float
    tube: float
    time: float
    length: float
    density: float
    temperature: float

    @property
    def combined(self) -> float:
        return sqrt(fsum(one**2 for one in self))


def budget(given: BallGiven, density_difference_g_cm3: float) -> Budget:
    """What each input adds, to first order (JCGM 100:2008, 5.1.2); bounds count as rectangular.

    From three times on their own scatter counts, widened by t / 2, so that twice it is their 95 % interval (JCGM
    100:2008, G.3); else the hand's uncertainty. Over the root of their number. With the other causes k = 2 then
    holds 95 to 98 % (100,000 simulations); t on the whole (G.4) would hold 93 % where three times are most of it.
    """
    x = given.ball_diameter_mm / given.tube_diameter_mm
    step = 1e-6 * x
    slope = (log(haberman_sayre(x + step)) - log(haberman_sayre(x - step))) / (2e-6)
    times = [one.time_s for one in given.times]
    scatter = own_scatter(times)
    one_time = given.time_uncertainty_s if scatter is None else scatter * t_value(len(times) - 1) / COVERAGE_K
    kelvin = given.temperature_c + 273.15
    return Budget(
        ball=abs(2.0 - slope) * given.ball_diameter_error_mm / sqrt(3.0) / given.ball_diameter_mm,
        tube=slope * given.tube_diameter_error_mm / sqrt(3.0) / given.tube_diameter_mm,
        time=one_time / sqrt(len(times)) / fall_s(given),
        length=given.fall_uncertainty_mm / given.fall_mm,
        density=given.density_uncertainty_g_cm3 / density_difference_g_cm3,
        temperature=TEMPERATURE_COEFFICIENT_K / kelvin**2 * given.temperature_uncertainty_k,
    )


def judge_ball(given: BallGiven, found: BallFound) -> Judgement:
    summary = (
        f"{cst_in_words(found.viscosity_cst, 3)} ± {cst_in_words(found.uncertainty_cst, 2)} cSt (k = 2) at 25 °C, "
        f"{cst_in_words(found.viscosity_at_temperature_cst, 3)} cSt at {given.temperature_c:g} °C as measured"
    )
    diameter_ratio = given.ball_diameter_mm / given.tube_diameter_mm
    cautions = list(law_cautions(found.viscosity_cst, given.temperature_c))
    if diameter_ratio > RATIO_CAUTION:
        cautions.append(
            f"the ball is {diameter_ratio:.2f} of the tube, over {RATIO_CAUTION:g}: the wall factor is 0.3 % off at "
            "0.4, 1.3 % at 0.5, and a small error in the diameters counts for more; take a smaller ball"
        )
    if found.reynolds > REYNOLDS_CAUTION:
        cautions.append(
            f"the ball falls fast (Reynolds number {found.reynolds:.2f}): this reads about "
            f"{100.0 * INERTIA_SHARE * found.reynolds:.0f} % too thick; take a smaller ball"
        )
    findings = []
    times = [one.time_s for one in given.times]
    if len(times) < ENOUGH_TIMES:
        findings.append(
            f"{counted(len(times), 'fall')} timed, {stopped_in_words(given.time_uncertainty_s)}: time "
            "three, then their own scatter counts"
        )
    elif own_scatter(times) is None:
        findings.append(f"all times are equal, which no hand is: {stopped_in_words(given.time_uncertainty_s)}")
    elif max(times) - min(times) > 0.05 * fall_s(given):
        apart = max(times) - min(times)
        findings.append(
            f"the times differ by {apart:.1f} s, {100.0 * apart / fall_s(given):.0f} % of their mean: the ball off the "
            "middle, bubbles, or oil not at one temperature"
        )
    if min(times) < SHORT_S:
        findings.append(f"under {SHORT_S:g} s by hand is too short: take a smaller ball or a longer fall")
    return Judgement("caution" if cautions else "ok", (summary, *cautions), tuple(findings))


def ball_working(given: BallGiven, found: BallFound) -> tuple[str, ...]:
    density = density_g_cm3(given.oil_density_g_cm3, given.temperature_c)
    heavier = given.ball_density_g_cm3 - density
    seconds = fall_s(given)
    apparent = stokes_pa_s(given.ball_diameter_mm, heavier, given.fall_mm / seconds)
    shares = ", ".join(f"{name} {100.0 * one:.2f} %" for name, one in budget(given, heavier)._asdict().items())
    return (
        f"oil {density:.4f} g/cm³ at {given.temperature_c:g} °C, mean time {seconds:.2f} s",
        f"μ apparent = g d² Δρ t / (18 L) = 9.80665 × ({given.ball_diameter_mm:g} mm)² × {heavier:.4f} g/cm³ × "
        f"{seconds:.2f} s / (18 × {given.fall_mm:g} mm) = {apparent:.4f} Pa·s",
        f"wall factor K({given.ball_diameter_mm / given.tube_diameter_mm:.4f}) = {found.wall_factor:.4f}, "
        f"μ = {apparent / found.wall_factor:.4f} Pa·s, ν = μ/ρ = {found.viscosity_at_temperature_cst:.0f} cSt",
        f"to 25 °C by exp[1757.1 × (1/298.15 − 1/{given.temperature_c + 273.15:g})]: {found.viscosity_cst:.0f} cSt",
        f"u: {shares}; together {100.0 * budget(given, heavier).combined:.2f} %, times k = 2",
    )


FALLING_BALL: Final = Calculator(
    name="falling-ball",
    title="Falling ball",
    question="How thick is the oil in this bottle really?",
    purpose="viscosity of an oil from a ball that falls through it",
    version=2,
    given=BallGiven,
    found=BallFound,
    compute=measure,
    judge=judge_ball,
    working=ball_working,
    answer="viscosity_cst",
    valid=(
        "On the bench: a steel ball from a small bearing in an upright syringe with its outlet shut, two marks on it. "
        "A 2 mm ball falls 40 mm of a 16 mm tube in some 25 s at 7,000 cSt.",
        "Leave at least one tube radius between a mark and the end of the tube, drop the ball in the middle, wait "
        "until oil and tube are at one temperature: 1 K is 2 %.",
        "Ball up to 0.3 of the tube (caution above, refused over 0.5); Reynolds number up to 0.1 (caution above, "
        "refused over 1).",
    ),
    sources=(
        STOKES_BALL,
        HABERMAN_SAYRE,
        INERTIA,
        VISCOSITY_LAW,
        EXPANSION_SOURCE,
        STEEL,
        UNCERTAINTIES,
        HAND,
        REACTION,
        FEW_TIMES,
        GUM,
    ),
    cautions=("oil-on-floor", "oil-in-eye", "oil-on-skin"),
    worked=(
        Worked(
            {
                "ball_diameter_mm": "2.000",
                "tube_diameter_mm": "16.0",
                "fall_mm": "40.0",
                "oil_density_g_cm3": "0.970",
                "temperature_c": "25",
                "times": ["33.0"],
            },
            {"viscosity_cst": 9393.0, "viscosity_at_temperature_cst": 9393.0},
            1.0,
            Source("computed", "hand calculation: 12.2975 Pa·s / 1.34968 / 970 kg/m³"),
            "ok",
        ),
        Worked(
            {
                "ball_diameter_mm": "1.6",
                "ball_density_g_cm3": "7.86",
                "tube_diameter_mm": "1000",
                "fall_mm": "43.2",
                "oil_density_g_cm3": "0.88",
                "temperature_c": "25",
                "times": ["1.0"],
            },
            {"viscosity_cst": 255.2},
            1.2,
            STOKES_BALL,
            "caution",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (FALLING_BALL,)
