"""The scale reading at which to stop pouring, and whether that fill leaves enough room."""

from __future__ import annotations

from math import ceil, floor
from typing import Any, Final

from bevelbook.declare.fields import quantity, record
from bevelbook.declare.sentence import Named, Sentence
from bevelbook.formulas.inputs import (
    density_at_25,
    repeatability,
    room_for_oil,
    scale_error,
    scale_step,
    viscosity_for_density,
)
from bevelbook.formulas.percent import percent
from bevelbook.physics.density import density_g_cm3
from bevelbook.physics.headspace import largest_fill_fraction
from bevelbook.physics.weighing import COVERAGE_K, difference_uncertainty_g, smallest_difference_seen_g
from bevelbook.plugin.calculator import Formula, OneOf, refuse
from bevelbook.plugin.returned_values import Judgement
from bevelbook.reference import density_25_g_cm3

HOT_C: Final = 60.0
GAUGE_LIMIT_KPA: Final = 50.0
STOP_FILL_FRACTION: Final = 0.95


@record
class FillGiven:
    dry_mass_g: float = quantity(
        "g", "Mass on the scale before oil", above=0, plausible=(5, 100), same_as="builds.dry_mass_g"
    )
    oil_mass_g: float | None = quantity(
        "g", "Oil to put in, if decided by mass", default=None, above=0, plausible=(0, 10), same_as="builds.oil_mass_g"
    )
    free_volume_cm3: float | None = room_for_oil()
    fill_fraction: float = quantity(
        "1", "Share of the room to fill, if the oil is not given by mass", default=0.85, above=0, below=1
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
    stop_low_g: float = quantity("g", "Lowest reading that is fine", exact=True)
    stop_high_g: float = quantity("g", "Highest reading that is fine", exact=True)
    remaining_g: float | None = quantity("g", "Still to pour; negative is too much")


def density_at_c(given: Any, temperature_c: float) -> float | None:
    """Density of the oil at a temperature, in g/cm3, from its own density at 25 °C or from its viscosity grade."""
    at_25 = given.density_g_cm3
    if at_25 is None and given.viscosity_cst is not None:
        at_25 = density_25_g_cm3(given.viscosity_cst)
    return None if at_25 is None else density_g_cm3(at_25, temperature_c)


def fill(given: FillGiven) -> FillFound:
    """Stop mass and what it means.

    stop = dry + oil; oil = free volume x fill x density(t) if it is not given by mass;
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
                remedy=Sentence(
                    "Give ",
                    Named("viscosity_cst"),
                    " (at 25 °C) or ",
                    Named("density_g_cm3"),
                    " (at 25 °C), or ",
                    Named("oil_mass_g"),
                    ".",
                ),
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
            (f"{found.oil_mass_g:.2f} g is more than the diff holds ({percent(found.fill_fraction)} of its room)",),
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
    enough = f"stop at {found.stop_mass_g:.2f} g; anything from {window} is fine"
    fill_fraction = found.fill_fraction
    if fill_fraction is None:
        return Judgement("ok", (enough,), findings)
    spread = fill_fraction * found.uncertainty_g / found.oil_mass_g
    look = largest_fill_fraction(GAUGE_LIMIT_KPA, given.oil_temperature_c, HOT_C)
    full = f"the oil takes {percent(fill_fraction, 1)} of the room"
    for limit, verdict, why in (
        (
            STOP_FILL_FRACTION,
            "stop",
            f"over {percent(STOP_FILL_FRACTION)} the pressure when hot rises steeply (this project's proposal)",
        ),
        (
            look,
            "caution",
            f"over {percent(look, 1)} the pressure at {HOT_C:.0f} °C passes {GAUGE_LIMIT_KPA:.0f} kPa "
            "(this project's proposal)",
        ),
    ):
        if fill_fraction - spread > limit:
            return Judgement("stop" if verdict == "stop" else "caution", (f"{full}: {why}", enough), findings)
        if fill_fraction + spread > limit:
            return Judgement(
                "unclear", (f"{full} ± {percent(spread, 1)}, too close to the limit to decide: {why}", enough), findings
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


FILL: Final = Formula(
    title="Fill target",
    given=FillGiven,
    found=FillFound,
    compute=fill,
    judge=judge_fill,
    working=fill_working,
    one_of=(OneOf((("oil_mass_g",), ("free_volume_cm3",))),),
)
