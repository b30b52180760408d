"""How much room for oil there is in a diff: ``free-volume``."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from bevelbook import (
    Calculator,
    Judgement,
    Named,
    OneOf,
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
from bevelbook.formulas.fill_target import density_at_c
from bevelbook.formulas.inputs import density_at_25, repeatability, scale_error, scale_step, viscosity_for_density
from bevelbook.physics.density import EXPANSION_SOURCE
from bevelbook.physics.weighing import (
    COVERAGE_K,
    GUM,
    assumed_in_words,
    difference_uncertainty_g,
    smallest_difference_seen_g,
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
    repeatability_g: float | None = repeatability()
    scale_error_g: float = scale_error()
    repeats: tuple[Repeat, ...] = listing(Repeat, "Full masses of further fillings", default=(), singular="repeat")


@record
class VolumeFound:
    free_volume_cm3: float = quantity("cm3", "Room for oil in the closed diff: the smallest of the fillings")
    uncertainty_cm3: float = quantity(
        "cm3",
        "Uncertainty of it (k = 2), from the scale and what was typed with ±",
        exact=True,
        uncertainty_of="free_volume_cm3",
        heading="uncertainty (k = 2)",
    )


def volume(given: VolumeGiven) -> VolumeFound:
    """Room for oil: V = (full - dry) / density(t), the smallest full mass counts; U = 2 u(difference) / density(t)."""
    density = density_at_c(given, given.temperature_c)
    if density is None:
        raise refuse(
            given,
            "density_g_cm3",
            "a volume needs the oil's density",
            remedy=Sentence("Give ", Named("viscosity_cst"), " or ", Named("density_g_cm3"), "."),
            code="missing_input",
        )
    full = min([given.full_mass_g, *(one.full_mass_g for one in given.repeats)])
    if full <= given.dry_mass_g:
        raise refuse(
            given,
            "full_mass_g",
            f"the full diff ({full:g} g) is not heavier than the dry one ({given.dry_mass_g:g} g)",
            remedy="Weigh both with the same parts on the scale.",
        )
    wide = COVERAGE_K * difference_uncertainty_g(given.scale_step_g, given.repeatability_g, given.scale_error_g)
    return VolumeFound(free_volume_cm3=(full - given.dry_mass_g) / density, uncertainty_cm3=wide / density)


def judge_volume(given: VolumeGiven, found: VolumeFound) -> Judgement:
    summary = f"{found.free_volume_cm3:.2f} ± {found.uncertainty_cm3:.2f} cm³ (k = 2)"
    count = 1 + len(given.repeats)
    assumed = assumed_in_words(given.scale_step_g, given.repeatability_g)
    of_scale = (assumed,) if assumed else ()
    if count < 3:
        said = f"{summary} from {counted(count, 'filling')}: fill three times and take the smallest"
        return Judgement("caution", (said, *of_scale))
    masses = [given.full_mass_g, *(one.full_mass_g for one in given.repeats)]
    spread = max(masses) - min(masses)
    seen = smallest_difference_seen_g(given.scale_step_g, given.repeatability_g)
    findings = (
        (f"the fillings differ by {spread:.2f} g, more than the scale explains ({seen:.3f} g): air or a lid not down",)
        if spread > seen
        else ()
    )
    return Judgement("ok", (f"{summary}, the smallest of {count} fillings", *of_scale), findings)


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
    version=2,
    given=VolumeGiven,
    found=VolumeFound,
    compute=volume,
    judge=judge_volume,
    working=volume_working,
    answer="free_volume_cm3",
    one_of=(OneOf((("density_g_cm3",), ("viscosity_cst",))),),
    valid=(
        "Method: all parts on the scale. Overfill, lay the lid on by hand until oil oozes and it lies flush, do not "
        "pull it down with the screws, wipe, weigh. Three times; the smallest counts.",
        "Not by brimming the open half: the lid brings a gear and a shaft end.",
        "Density from the grade table: 0.65 to 1,000,000 cSt; expansion from -20 to 100 °C.",
    ),
    sources=(GUM, EXPANSION_SOURCE),
    cautions=("oil-on-floor", "oil-in-eye"),
    worked=(
        Worked(
            {"dry_mass_g": "20.52 g", "full_mass_g": "22.73 g", "density_g_cm3": "0.975", "temperature_c": "21"},
            {"free_volume_cm3": 2.258},
            0.0005,
            Source("computed", "hand calculation: 2.21 g / (0.975 / (1 - 0.00092 × 4)) g/cm³ = 2.2583 cm³"),
            "caution",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (FREE_VOLUME,)
