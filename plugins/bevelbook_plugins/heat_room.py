"""Room for heat: what goes into ``headspace``, and the pressure of the trapped air."""

from __future__ import annotations

from typing import Final, NamedTuple

from bevelbook import choice, quantity, record, refuse, text, vocabulary
from bevelbook.formulas.inputs import altitude, density_at_25, repeatability, room_for_oil, scale_error, scale_step
from bevelbook.physics.air import air_outside_kpa
from bevelbook.physics.density import EXPANSION_PER_K, density_g_cm3
from bevelbook.physics.headspace import (
    gas_volume_ratio,
    hot_pressure_kpa,
    largest_fill_fraction,
    liquid_full_temperature_c,
    pressed_pressure_kpa,
    pushed_in_cm3,
)
from bevelbook.physics.weighing import COVERAGE_K, difference_uncertainty_g
from bevelbook.reference import density_25_g_cm3, rows

EXPANSION_LOW_PER_K: Final = 8.8e-4
EXPANSION_HIGH_PER_K: Final = 9.9e-4
UNKNOWN_HOUSING_PER_K: Final = 24e-6
STOP_FILL_FRACTION: Final = 0.95
HOTTEST_C: Final = 250.0
HOUSINGS: Final = {
    "aluminium": "aluminium",
    "aluminum": "aluminium",
    "alloy": "aluminium",
    "steel": "carbon steel",
    "carbon steel": "carbon steel",
    "stainless": "stainless steel",
    "stainless steel": "stainless steel",
    "acetal": "POM homopolymer",
    "pom": "POM homopolymer",
    "pom homopolymer": "POM homopolymer",
    "pom copolymer": "POM copolymer",
    "pom glass filled": "POM glass filled",
    "nylon": "PA66 33% glass",
    "polyamide": "PA66 33% glass",
    "pa66": "PA66 33% glass",
    "pa66 33% glass": "PA66 33% glass",
    "glass-filled nylon": "PA66 33% glass",
    "unfilled nylon": "PA66",
    "unfilled pa66": "PA66",
}
"""What people call a housing, and the row of the expansion table it counts as; in doubt the one that grows least."""


@record
class HeadspaceGiven:
    fill_fraction: float | None = quantity(
        "1", "Share of the room that the oil takes when closed, in place of masses", default=None, above=0, below=1
    )
    oil_mass_g: float | None = quantity(
        "g", "Oil in the diff", default=None, above=0, plausible=(0, 10), same_as="builds.oil_mass_g"
    )
    free_volume_cm3: float | None = room_for_oil()
    viscosity_cst: float | None = quantity(
        "cSt", "Viscosity at 25 °C, to find the density", default=None, above=0, same_as="builds.viscosity_cst"
    )
    density_g_cm3: float | None = density_at_25()
    squeeze_out: str | None = choice(
        vocabulary.SQUEEZE_OUT,
        "Oil that came out when the lid went on; it decides where the room is not known",
        default=None,
        same_as="builds.squeeze_out",
    )
    closing_temperature_c: float = quantity(
        "°C", "Temperature when the lid went on", default=20, minimum=-50, maximum=100
    )
    hot_temperature_c: float = quantity("°C", "Hottest the diff gets", default=60, minimum=-50, maximum=200)
    expansion_per_k: float = quantity(
        "1/K",
        "Cubic expansion of the oil, measured; not a data sheet's mean from 25 to 150 °C",
        default=EXPANSION_PER_K,
        above=0,
        below=0.01,
        same_as="fluids.expansion_per_k",
    )
    housing_material: str = text(
        "Material of the housing; what is not known counts as 24e-6 per K",
        default="unknown",
        same_as="diffs.housing_material",
    )
    housing_expansion_per_k: float | None = quantity(
        "1/K",
        "Linear expansion of the housing, in place of its material; 0 is rigid",
        default=None,
        minimum=0,
        below=0.001,
    )
    ambient_kpa: float | None = quantity(
        "kPa",
        "Pressure of the air outside; 101.325 unless the height says otherwise",
        default=None,
        above=0,
        plausible=(60, 110),
    )
    altitude_m: float | None = altitude()
    gauge_limit_kpa: float = quantity(
        "kPa",
        "Pressure above the air outside to stay under (the default is this project's proposal)",
        default=50,
        above=0,
    )
    closing_travel_mm: float = quantity(
        "mm", "How far the lid still travels once its ring seals", default=0, minimum=0, maximum=20
    )
    spigot_diameter_mm: float = quantity("mm", "Diameter of the lid's spigot where it seals", default=0, minimum=0)
    scale_step_g: float = scale_step()
    repeatability_g: float = repeatability()
    scale_error_g: float = scale_error()
    free_volume_uncertainty_cm3: float = quantity(
        "cm3", "Uncertainty of the room (k = 2), as free-volume tells it", default=0, minimum=0
    )


@record
class HeadspaceFound:
    largest_oil_mass_g: float | None = quantity("g", "Most oil that leaves enough room for heat")
    fill_fraction: float | None = quantity("1", "Share of the room that the oil takes when closed")
    gas_fraction_hot: float | None = quantity("1", "Share of the room left for air when hot")
    liquid_full_temperature_c: float | None = quantity(
        "°C", "The oil fills the whole room from here on; empty where that is above 250 °C"
    )
    largest_fill_fraction: float = quantity("1", "Fullest that stays under the limit when hot")
    gauge_pressure_kpa: float | None = quantity(
        "kPa", "Pressure above the air outside when hot, at most: air dissolves in the oil"
    )
    cold_gauge_pressure_kpa: float | None = quantity("kPa", "The same just after closing, from pressing the lid on")


def housing_per_k(given: HeadspaceGiven) -> float:
    """Linear expansion of the housing, in 1/K: as given, else by its material; 24e-6 where that is not in the table."""
    if given.housing_expansion_per_k is not None:
        return given.housing_expansion_per_k
    row = HOUSINGS.get(given.housing_material.strip().lower())
    if row is None:
        return UNKNOWN_HOUSING_PER_K
    return min(float(one["linear_expansion_per_k"]) for one in rows("thermal_expansion.csv") if one["material"] == row)


def density_when_closed(given: HeadspaceGiven) -> float | None:
    """Density of the oil when the lid went on, in g/cm3, where it is known."""
    at_25 = given.density_g_cm3
    if at_25 is None and given.viscosity_cst is not None:
        at_25 = density_25_g_cm3(given.viscosity_cst)
    return None if at_25 is None else density_g_cm3(at_25, given.closing_temperature_c, given.expansion_per_k)


def fill_by_mass(given: HeadspaceGiven) -> float | None:
    """Share of the room that the oil takes by its mass; None where mass or room are not known."""
    density = density_when_closed(given)
    if given.oil_mass_g is None or given.free_volume_cm3 is None:
        return None
    if density is None:
        raise refuse(
            given,
            "density_g_cm3",
            "how full a mass of oil makes a room needs the oil's density",
            remedy="Give --viscosity (at 25 °C) or --density (at 25 °C), or the fill itself by --fill-fraction.",
            code="missing_input",
        )
    return given.oil_mass_g / (density * given.free_volume_cm3)


class Hot(NamedTuple):
    """The closed diff when hot: the share left for air, and the absolute pressure (none where there is no air)."""

    gas_fraction: float
    pressure_kpa: float | None


def _hot(given: HeadspaceGiven, fill: float, expansion_per_k: float, closing_kpa: float) -> Hot:
    temperatures = (given.closing_temperature_c, given.hot_temperature_c)
    housing = housing_per_k(given)
    return Hot(
        gas_volume_ratio(fill, *temperatures, housing, expansion_per_k),
        hot_pressure_kpa(fill, *temperatures, housing, expansion_per_k, closing_kpa),
    )


def _pushed_fraction(given: HeadspaceGiven) -> float:
    travel, diameter = given.closing_travel_mm, given.spigot_diameter_mm
    if travel == 0.0 and diameter == 0.0:
        return 0.0
    if travel == 0.0 or diameter == 0.0 or given.free_volume_cm3 is None:
        lacking = (
            "free_volume_cm3" if travel and diameter else "closing_travel_mm" if diameter else "spigot_diameter_mm"
        )
        raise refuse(
            given,
            lacking,
            "what pressing the lid on does needs its travel, its diameter and the room for oil",
            remedy="Give --closing-travel, --spigot-diameter and --free-volume, or none of the first two.",
            code="missing_input",
        )
    return pushed_in_cm3(travel, diameter) / given.free_volume_cm3


def headspace(given: HeadspaceGiven) -> HeadspaceFound:
    """Pressure of the trapped air when hot, and the fill that keeps it under a limit.

    p = p0 (T/T0) (1 - f) / (1 + 3 a dT - f R), R = (1 + alpha (T - 25)) / (1 + alpha (T0 - 25)).
    """
    if given.hot_temperature_c < given.closing_temperature_c:
        raise refuse(
            given,
            "hot_temperature_c",
            f"the diff is colder when hot ({given.hot_temperature_c:g} °C) than when it was closed "
            f"({given.closing_temperature_c:g} °C)",
            remedy="Give the hottest temperature it reaches in use.",
        )
    outside = air_outside_kpa(given.ambient_kpa, given.altitude_m)
    pushed = _pushed_fraction(given)
    air_alone = _hot(given, 0.0, given.expansion_per_k, pressed_pressure_kpa(0.0, pushed, outside)).pressure_kpa
    if air_alone is not None and given.gauge_limit_kpa <= air_alone - outside:
        raise refuse(
            given,
            "gauge_limit_kpa",
            f"air alone, without any oil, presses {air_alone - outside:.1f} kPa at {given.hot_temperature_c:g} °C",
            remedy="Give a higher limit, or a lower temperature.",
        )
    density = density_when_closed(given)
    fill = fill_by_mass(given) if given.fill_fraction is None else given.fill_fraction
    temperatures = (given.closing_temperature_c, given.hot_temperature_c)
    housing = housing_per_k(given)
    most = min(
        STOP_FILL_FRACTION,
        largest_fill_fraction(given.gauge_limit_kpa, *temperatures, housing, given.expansion_per_k, outside, pushed),
    )
    mass = None
    if density is not None and given.free_volume_cm3 is not None:
        mass = density * given.free_volume_cm3 * most
    elif given.oil_mass_g is not None and fill is not None:
        mass = given.oil_mass_g * most / fill
    elif given.oil_mass_g is not None and given.squeeze_out == "runs out":
        mass = given.oil_mass_g * most
    if fill is None or fill >= 1.0:
        return HeadspaceFound(
            largest_oil_mass_g=mass,
            fill_fraction=fill,
            gas_fraction_hot=None,
            liquid_full_temperature_c=None,
            largest_fill_fraction=most,
            gauge_pressure_kpa=None,
            cold_gauge_pressure_kpa=None,
        )
    pressed = pressed_pressure_kpa(fill, pushed, outside)
    hot = _hot(given, fill, given.expansion_per_k, pressed)
    full_at = liquid_full_temperature_c(fill, given.closing_temperature_c, housing, given.expansion_per_k)
    return HeadspaceFound(
        largest_oil_mass_g=mass,
        fill_fraction=fill,
        gas_fraction_hot=max(0.0, hot.gas_fraction),
        liquid_full_temperature_c=full_at if full_at is not None and full_at <= HOTTEST_C else None,
        largest_fill_fraction=most,
        gauge_pressure_kpa=None if hot.pressure_kpa is None else hot.pressure_kpa - outside,
        cold_gauge_pressure_kpa=pressed - outside,
    )


def fill_spread(given: HeadspaceGiven) -> float:
    """Uncertainty of the fill (k = 2) as a share of it, from scale and room; none where the fill was given itself."""
    if given.fill_fraction is not None or given.oil_mass_g is None or given.free_volume_cm3 is None:
        return 0.0
    wide = COVERAGE_K * difference_uncertainty_g(given.scale_step_g, given.repeatability_g, given.scale_error_g)
    by_mass = wide / given.oil_mass_g
    by_room = given.free_volume_uncertainty_cm3 / given.free_volume_cm3
    return float((by_mass**2 + by_room**2) ** 0.5)


def gauge_range_kpa(given: HeadspaceGiven, fill: float) -> tuple[float | None, float | None]:
    """The pressure when hot at both ends of what scale, room and the oil's expansion leave open; None is liquid-full.

    An expansion that was measured is taken as it is; the default stands for 8.8e-4 to 9.9e-4 per K.
    """
    spread = fill_spread(given)
    default = given.expansion_per_k == EXPANSION_PER_K
    outside = air_outside_kpa(given.ambient_kpa, given.altitude_m)
    pushed = _pushed_fraction(given)
    ends = []
    for one, expansion in (
        (fill * (1.0 - spread), EXPANSION_LOW_PER_K if default else given.expansion_per_k),
        (fill * (1.0 + spread), EXPANSION_HIGH_PER_K if default else given.expansion_per_k),
    ):
        pressure = None
        if one < 1.0:
            pressure = _hot(given, one, expansion, pressed_pressure_kpa(one, pushed, outside)).pressure_kpa
        ends.append(None if pressure is None else pressure - outside)
    return ends[0], ends[1]
