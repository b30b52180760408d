"""How much oil goes in, and how much room there is: ``fill-target`` and ``free-volume``."""

from __future__ import annotations

from collections.abc import Iterable
from math import ceil, floor
from typing import Any, Final

from bevelbook import Calculator, Judgement, OneOf, Source, Worked, hookimpl, listing, quantity, record, refuse
from bevelbook.formulas.inputs import density_at_25, repeatability, scale_error, scale_step, viscosity_for_density
from bevelbook.physics.density import EXPANSION_SOURCE, density_g_cm3
from bevelbook.physics.headspace import largest_fill_fraction
from bevelbook.physics.weighing import COVERAGE_K, GUM, difference_uncertainty_g, smallest_difference_seen_g
from bevelbook.reference import density_25_g_cm3

HOT_C: Final = 60.0
GAUGE_LIMIT_KPA: Final = 50.0
STOP_FILL_FRACTION: Final = 0.95
HEADSPACE: Final = Source(
    "proposal",
    "50 kPa above the air outside at 60 °C in a rigid housing asks for a second look; over 95 % full is a stop, "
    "since between 90 and 95 % the pressure quadruples",
)
OIL_CAUTIONS: Final = ("oil-on-floor", "oil-in-eye")


@record
class FillGiven:
    dry_mass_g: float = quantity(
        "g", "Mass on the scale before oil", above=0, plausible=(5, 100), same_as="builds.dry_mass_g"
    )
    oil_mass_g: float | None = quantity(
        "g", "Oil to put in, if decided by mass", default=None, above=0, plausible=(0, 10), same_as="builds.oil_mass_g"
    )
    free_volume_cm3: float | None = quantity(
        "cm3",
        "Room for oil in the closed diff",
        default=None,
        above=0,
        plausible=(0.3, 20),
        same_as="diffs.free_volume_cm3",
    )
    fill_fraction: float = quantity(
        "1", "Share of the room to fill, where the oil is not given by mass", default=0.85, above=0, below=1
    )
    viscosity_cst: float | None = viscosity_for_density("builds.viscosity_cst")
    density_g_cm3: float | None = density_at_25()
    oil_temperature_c: float = quantity(
        "°C", "Temperature of the oil while filling", default=20, minimum=-50, maximum=250
    )
    scale_step_g: float = scale_step()
    repeatability_g: float = repeatability()
    scale_error_g: float = scale_error()
    reading_g: float | None = quantity("g", "What the scale shows now", default=None, minimum=0)
    last_dry_mass_g: float | None = quantity(
        "g",
        "Dry mass of the diff's last build, with nothing changed since",
        default=None,
        above=0,
        same_as="diffs.usual_dry_mass_g",
    )


@record
class FillFound:
    stop_mass_g: float = quantity("g", "Stop pouring when the scale shows this")
    oil_mass_g: float = quantity("g", "Oil in the diff then")
    oil_volume_cm3: float | None = quantity("cm3", "Volume of that oil at the temperature of filling")
    fill_fraction: float | None = quantity("1", "Share of the room that the oil takes")
    uncertainty_g: float = quantity(
        "g", "Uncertainty of the oil's mass by difference (k = 2), from the scale alone", exact=True
    )
    stop_low_g: float = quantity("g", "Lowest reading that is as good as the target", exact=True)
    stop_high_g: float = quantity("g", "Highest reading that is as good as the target", exact=True)
    remaining_g: float | None = quantity("g", "Still to pour; negative is too much")


def density_at_c(given: Any, temperature_c: float) -> float | None:
    """Density of the oil at a temperature, in g/cm3, from its own density at 25 °C or from its viscosity's grade."""
    at_25 = given.density_g_cm3
    if at_25 is None and given.viscosity_cst is not None:
        at_25 = density_25_g_cm3(given.viscosity_cst)
    return None if at_25 is None else density_g_cm3(at_25, temperature_c)


def fill(given: FillGiven) -> FillFound:
    """Stop mass and what it means.

    stop = dry + oil; oil = free volume x fill x density(t) where it is not given by mass;
    U = 2 sqrt(step^2 / 6 + 2 s^2 + a^2 / 3).
    """
    density = density_at_c(given, given.oil_temperature_c)
    oil_mass_g = given.oil_mass_g
    if oil_mass_g is None:
        if density is None or given.free_volume_cm3 is None:
            raise refuse(
                given,
                "density_g_cm3",
                "a fill by volume needs the oil's density",
                remedy="Give --viscosity (at 25 °C) or --density (at 25 °C), or the oil by --oil-mass.",
                code="missing_input",
            )
        oil_mass_g = given.free_volume_cm3 * given.fill_fraction * density
    volume = None if density is None else oil_mass_g / density
    stop = given.dry_mass_g + oil_mass_g
    wide = COVERAGE_K * difference_uncertainty_g(given.scale_step_g, given.repeatability_g, given.scale_error_g)
    step = given.scale_step_g
    return FillFound(
        stop_mass_g=stop,
        oil_mass_g=oil_mass_g,
        oil_volume_cm3=volume,
        fill_fraction=None if volume is None or given.free_volume_cm3 is None else volume / given.free_volume_cm3,
        uncertainty_g=wide,
        stop_low_g=round(floor((stop - wide) / step + 1e-9) * step, 6),
        stop_high_g=round(ceil((stop + wide) / step - 1e-9) * step, 6),
        remaining_g=None if given.reading_g is None else stop - given.reading_g,
    )


def judge_fill(given: FillGiven, found: FillFound) -> Judgement:
    findings = []
    if given.last_dry_mass_g is not None:
        seen = smallest_difference_seen_g(given.scale_step_g, given.repeatability_g)
        change = given.dry_mass_g - given.last_dry_mass_g
        if abs(change) > seen + 1e-9:
            findings.append(
                f"the dry mass is {abs(change):.2f} g {'heavier' if change > 0 else 'lighter'} than the last one "
                f"(this scale sees {seen:.3f} g): count shims, gaskets and pins before the oil goes in"
            )
    if found.fill_fraction is not None and found.fill_fraction >= 1:
        return Judgement(
            "stop",
            (f"{found.oil_mass_g:.2f} g is more than the diff holds ({found.fill_fraction:.0%} of its room)",),
            tuple(findings),
        )
    if given.reading_g is not None and found.remaining_g is not None:
        if given.reading_g > found.stop_high_g + 1e-9:
            return Judgement("stop", (f"{-found.remaining_g:.2f} g too much: draw oil out",), tuple(findings))
        if given.reading_g < found.stop_low_g - 1e-9:
            return Judgement("caution", (f"{found.remaining_g:.2f} g still to pour",), tuple(findings))
    return _judge_room(given, found, tuple(findings))


def _judge_room(given: FillGiven, found: FillFound, findings: tuple[str, ...]) -> Judgement:
    window = f"{found.stop_low_g:.2f} to {found.stop_high_g:.2f} g"
    enough = f"stop at {found.stop_mass_g:.2f} g; readings from {window} are as good"
    fill_fraction = found.fill_fraction
    if fill_fraction is None:
        return Judgement("ok", (enough,), findings)
    spread = fill_fraction * found.uncertainty_g / found.oil_mass_g
    look = largest_fill_fraction(GAUGE_LIMIT_KPA, given.oil_temperature_c, HOT_C)
    full = f"the oil takes {fill_fraction:.1%} of the room"
    for limit, verdict, why in (
        (
            STOP_FILL_FRACTION,
            "stop",
            f"over {STOP_FILL_FRACTION:.0%} the pressure when hot rises steeply (this project's proposal)",
        ),
        (
            look,
            "caution",
            f"over {look:.1%} the pressure at {HOT_C:.0f} °C passes {GAUGE_LIMIT_KPA:.0f} kPa "
            "(this project's proposal)",
        ),
    ):
        if fill_fraction - spread > limit:
            return Judgement("stop" if verdict == "stop" else "caution", (f"{full}: {why}", enough), findings)
        if fill_fraction + spread > limit:
            return Judgement(
                "unclear", (f"{full} ± {spread:.1%}, too near to the limit to tell: {why}", enough), findings
            )
    return Judgement("ok", (enough,), findings)


def fill_working(given: FillGiven, found: FillFound) -> tuple[str, ...]:
    lines = []
    if given.oil_mass_g is None and given.free_volume_cm3 is not None and found.oil_volume_cm3:
        density = found.oil_mass_g / found.oil_volume_cm3
        lines.append(
            f"oil = room × fill × density = {given.free_volume_cm3:g} cm³ × {given.fill_fraction:g} "
            f"× {density:.4f} g/cm³ = {found.oil_mass_g:.3f} g"
        )
    lines.append(f"stop = dry + oil = {given.dry_mass_g:g} g + {found.oil_mass_g:.3f} g = {found.stop_mass_g:.3f} g")
    lines.append(
        f"U = 2 √(step²/6 + 2 s² + a²/3) = 2 √({given.scale_step_g:g}²/6 + 2 × {given.repeatability_g:g}² + "
        f"{given.scale_error_g:g}²/3) g = {found.uncertainty_g:.4f} g"
    )
    return tuple(lines)


FILL_TARGET = Calculator(
    name="fill-target",
    title="Fill target",
    question="At what reading of the scale do I stop pouring?",
    purpose="stop mass for a fill, with what the scale can tell",
    version=1,
    given=FillGiven,
    found=FillFound,
    compute=fill,
    judge=judge_fill,
    working=fill_working,
    answer="stop_mass_g",
    one_of=(OneOf((("oil_mass_g",), ("free_volume_cm3",))),),
    valid=(
        "Any positive masses. The window is what the scale's step, repeatability and error allow (k = 2).",
        "Air buoyancy is left out: 2.0 mg on 1.86 g of oil, and the same in every build.",
        "Density from the grade table: 0.65 to 1,000,000 cSt; expansion from -20 to 100 °C.",
    ),
    sources=(GUM, EXPANSION_SOURCE, HEADSPACE),
    cautions=OIL_CAUTIONS,
    worked=(
        Worked(
            {"dry_mass_g": "12.40 g", "oil_mass_g": "1.86 g", "reading_g": "14.25"},
            {"stop_mass_g": 14.26, "stop_low_g": 14.25, "stop_high_g": 14.27, "remaining_g": 0.01},
            1e-9,
            Source(
                "computed",
                "hand calculation: 12.40 + 1.86 = 14.26 g; U = 2 × √(0.01²/6) g = 0.008 g, out to whole steps",
            ),
            "ok",
        ),
        Worked(
            {
                "dry_mass_g": "12.40 g",
                "oil_mass_g": "1.86 g",
                "scale_step_g": "0.01",
                "repeatability_g": "0.005",
                "scale_error_g": "0.01",
            },
            {"uncertainty_g": 0.02},
            1e-5,
            GUM,
        ),
        Worked(
            {"dry_mass_g": "12.40 g", "oil_mass_g": "2.12 g", "free_volume_cm3": "2.24", "viscosity_cst": "7000"},
            {"oil_mass_g": 2.12},
            1e-9,
            HEADSPACE,
            "stop",
        ),
    ),
)


@record
class Repeat:
    full_mass_g: float = quantity("g", "Full mass of one more filling", above=0)


@record
class VolumeGiven:
    dry_mass_g: float = quantity("g", "Mass of all parts before oil, lid and screws too", above=0, plausible=(5, 100))
    full_mass_g: float = quantity(
        "g", "Mass of all parts after filling to the brim, lid laid on by hand and wiped", above=0
    )
    density_g_cm3: float | None = density_at_25()
    viscosity_cst: float | None = viscosity_for_density("fluids.viscosity_cst")
    temperature_c: float = quantity("°C", "Temperature of the oil", default=20, minimum=-50, maximum=250)
    scale_step_g: float = scale_step()
    repeatability_g: float = repeatability()
    scale_error_g: float = scale_error()
    repeats: tuple[Repeat, ...] = listing(Repeat, "Full masses of further fillings", default=(), singular="repeat")


@record
class VolumeFound:
    free_volume_cm3: float = quantity("cm3", "Room for oil in the closed diff: the smallest of the fillings")
    uncertainty_cm3: float = quantity("cm3", "Uncertainty of it (k = 2), from the scale alone", exact=True)


def volume(given: VolumeGiven) -> VolumeFound:
    """Room for oil: V = (full - dry) / density(t), the smallest full mass counts; U = 2 u(difference) / density(t)."""
    density = density_at_c(given, given.temperature_c)
    if density is None:
        raise refuse(
            given,
            "density_g_cm3",
            "a volume needs the oil's density",
            remedy="Give --viscosity or --density.",
            code="missing_input",
        )
    full = min([given.full_mass_g, *(one.full_mass_g for one in given.repeats)])
    if full <= given.dry_mass_g:
        raise refuse(
            given,
            "full_mass_g",
            f"the full diff ({full:g} g) is no heavier than the dry one ({given.dry_mass_g:g} g)",
            remedy="Weigh both with the same parts on the pan.",
        )
    wide = COVERAGE_K * difference_uncertainty_g(given.scale_step_g, given.repeatability_g, given.scale_error_g)
    return VolumeFound(free_volume_cm3=(full - given.dry_mass_g) / density, uncertainty_cm3=wide / density)


def judge_volume(given: VolumeGiven, found: VolumeFound) -> Judgement:
    told = f"{found.free_volume_cm3:.2f} ± {found.uncertainty_cm3:.2f} cm³ (k = 2)"
    count = 1 + len(given.repeats)
    if count < 3:
        return Judgement(
            "caution",
            (f"{told} from {count} filling{'s' if count > 1 else ''}: fill three times and take the smallest",),
        )
    masses = [given.full_mass_g, *(one.full_mass_g for one in given.repeats)]
    spread = max(masses) - min(masses)
    seen = smallest_difference_seen_g(given.scale_step_g, given.repeatability_g)
    findings = (
        (f"the fillings differ by {spread:.2f} g, more than the scale explains ({seen:.3f} g): air or a lid not down",)
        if spread > seen
        else ()
    )
    return Judgement("ok", (f"{told}, the smallest of {count} fillings",), findings)


def volume_working(given: VolumeGiven, found: VolumeFound) -> tuple[str, ...]:
    full = min([given.full_mass_g, *(one.full_mass_g for one in given.repeats)])
    density = (full - given.dry_mass_g) / found.free_volume_cm3
    return (
        f"V = (full − dry) / density = ({full:g} g − {given.dry_mass_g:g} g) / {density:.4f} g/cm³ "
        f"= {found.free_volume_cm3:.3f} cm³",
        f"U = 2 √(step²/6 + 2 s² + a²/3) / density = {found.uncertainty_cm3:.4f} cm³",
    )


FREE_VOLUME = Calculator(
    name="free-volume",
    title="Free volume",
    question="How much room for oil is in this diff?",
    purpose="room for oil, from weighing the diff dry and brim-full",
    version=1,
    given=VolumeGiven,
    found=VolumeFound,
    compute=volume,
    judge=judge_volume,
    working=volume_working,
    answer="free_volume_cm3",
    one_of=(OneOf((("density_g_cm3",), ("viscosity_cst",))),),
    valid=(
        "Method: all parts on the pan. Overfill, lay the lid on by hand until oil oozes and it lies flush, do not pull "
        "it down with the screws, wipe, weigh. Three times; the smallest counts.",
        "Not by brimming the open half: the lid brings a gear and a shaft end.",
        "Density from the grade table: 0.65 to 1,000,000 cSt; expansion from -20 to 100 °C.",
    ),
    sources=(GUM, EXPANSION_SOURCE),
    cautions=OIL_CAUTIONS,
    worked=(
        Worked(
            {"dry_mass_g": "20.52 g", "full_mass_g": "22.73 g", "density_g_cm3": "0.975", "temperature_c": "21"},
            {"free_volume_cm3": 2.258},
            0.0005,
            Source("computed", "hand calculation: 2.21 g / (0.975 / (1 - 9.2e-4 × 4)) g/cm³ = 2.2583 cm³"),
            "caution",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (FILL_TARGET, FREE_VOLUME)
