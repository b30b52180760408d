"""``headspace``: how full a sealed diff may be before warm oil and its trapped air press on the seals."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final, NamedTuple

from bevelbook import (
    Calculator,
    Judgement,
    Named,
    OnCard,
    OneOf,
    Sentence,
    ShownInput,
    Source,
    Worked,
    choice,
    hookimpl,
    quantity,
    record,
    refuse,
    vocabulary,
)
from bevelbook.formulas.inputs import (
    altitude,
    density_at_25,
    expansion_of_oil,
    hottest,
    housing_material,
    in_use,
    in_use_high,
    repeatability,
    room_for_oil,
    scale_error,
    scale_step,
)
from bevelbook.formulas.room_for_heat import (
    GAUGE_LIMIT_KPA,
    HOUSINGS,
    expansion_range_per_k,
    material_per_k,
    safe_at_c,
)
from bevelbook.formulas.rounded_up import rounded_up
from bevelbook.physics.air import STANDARD_ATMOSPHERE, air_outside_kpa
from bevelbook.physics.density import EXPANSION_SOURCE, density_g_cm3
from bevelbook.physics.headspace import (
    gas_volume_ratio,
    hot_pressure_kpa,
    largest_fill_fraction,
    liquid_full_temperature_c,
    pressed_pressure_kpa,
    pushed_in_cm3,
)
from bevelbook.physics.weighing import COVERAGE_K, GUM, assumed_in_words, difference_uncertainty_g
from bevelbook.reference import density_25_g_cm3

STOP_TIMES: Final = 10.0
"""A pressure this many times the limit is a stop; our own figure."""
LIQUID_FULL_SHOWN_K: Final = 40.0
"""A liquid-full temperature is shown up to this far above the hottest that the diff gets; our own figure."""
EXPANSION_READ_TO_C: Final = 100.0


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
        "Oil that came out when the lid went on; it decides if the room is not known",
        default=None,
        same_as="builds.squeeze_out",
    )
    closing_temperature_c: float = quantity(
        "°C", "Temperature when the lid went on", default=20, minimum=-50, maximum=100
    )
    hot_temperature_c: float = hottest()
    expansion_per_k: float = expansion_of_oil()
    housing_material: str = housing_material()
    housing_expansion_per_k: float | None = quantity(
        "1/K",
        "Linear expansion of the housing, in place of its material; 0 is rigid",
        default=None,
        minimum=0,
        below=0.001,
        plausible=(0, 2e-4),
    )
    ambient_kpa: float | None = quantity(
        "kPa",
        "Pressure of the outside air; 101.325 unless a height is given",
        default=None,
        above=0,
        plausible=(60, 110),
    )
    altitude_m: float | None = altitude()
    gauge_limit_kpa: float = quantity(
        "kPa",
        "Pressure above the air outside to stay under (the default is our own figure)",
        default=GAUGE_LIMIT_KPA,
        above=0,
    )
    closing_travel_mm: float = quantity(
        "mm", "How far the lid still travels once its ring seals", default=0, minimum=0, maximum=20
    )
    spigot_diameter_mm: float = quantity("mm", "Diameter of the lid's spigot where it seals", default=0, minimum=0)
    scale_step_g: float = scale_step()
    repeatability_g: float | None = repeatability()
    scale_error_g: float = scale_error()
    free_volume_uncertainty_cm3: float = quantity(
        "cm3", "Uncertainty of the room (k = 2), as free-volume gives it", default=0, minimum=0
    )
    expected_temperature_c: float | None = in_use()
    expected_high_c: float | None = in_use_high()


@record
class HeadspaceFound:
    largest_oil_mass_g: float | None = quantity("g", "Most oil that leaves enough room for heat")
    fill_fraction: float | None = quantity("1", "Share of the room that the oil takes when closed")
    gas_fraction_hot: float | None = quantity(
        "1", "Room left for air when hot, as a share of the whole room when it was closed"
    )
    liquid_full_temperature_c: float | None = quantity(
        "°C", "The oil fills the whole room from here on; empty where that is over 40 K above the hottest it gets"
    )
    largest_fill_fraction: float = quantity("1", "Fullest that stays under the limit when hot")
    gauge_pressure_kpa: float | None = quantity(
        "kPa", "Pressure above the air outside when hot, at most: air dissolves in the oil", no_spread=True
    )
    cold_gauge_pressure_kpa: float | None = quantity("kPa", "The same just after closing, from pressing the lid on")


def hottest_c(given: HeadspaceGiven) -> float:
    """The temperature to be safe at: the hottest it gets, or what is expected or its upper end if that is hotter."""
    return safe_at_c(given.hot_temperature_c, given.expected_temperature_c, given.expected_high_c)


def housing_per_k(given: HeadspaceGiven) -> float:
    """Linear expansion of the housing, in 1/K: as given, else by its material; 0.000024 if that is not in the table."""
    if given.housing_expansion_per_k is not None:
        return given.housing_expansion_per_k
    return material_per_k(given.housing_material)


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
            "the fill from a mass of oil needs the oil's density",
            remedy=Sentence(
                "Give ",
                Named("viscosity_cst"),
                " (at 25 °C) or ",
                Named("density_g_cm3"),
                " (at 25 °C), or the fill itself by ",
                Named("fill_fraction"),
                ".",
            ),
            code="missing_input",
        )
    return given.oil_mass_g / (density * given.free_volume_cm3)


class Hot(NamedTuple):
    """The closed diff when hot: the share left for air, and the absolute pressure (none where there is no air)."""

    gas_fraction: float
    pressure_kpa: float | None


def _hot(given: HeadspaceGiven, fill: float, expansion_per_k: float, closing_kpa: float) -> Hot:
    temperatures = (given.closing_temperature_c, hottest_c(given))
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
            "the pressure from closing the lid needs its travel, its diameter and the room for oil",
            remedy=Sentence(
                "Give ",
                Named("closing_travel_mm"),
                ", ",
                Named("spigot_diameter_mm"),
                " and ",
                Named("free_volume_cm3"),
                ", or none of the first two.",
            ),
            code="missing_input",
        )
    return pushed_in_cm3(travel, diameter) / given.free_volume_cm3


def headspace(given: HeadspaceGiven) -> HeadspaceFound:
    """Pressure of the trapped air when hot, and the fill that keeps it under a limit.

    p = p0 (T/T0) (1 - f) / (1 + 3 a dT - f R), R = (1 + alpha (T - 25)) / (1 + alpha (T0 - 25)).
    """
    expected, high = given.expected_temperature_c, given.expected_high_c
    if expected is not None and high is not None and high < expected:
        raise refuse(
            given,
            "expected_high_c",
            f"the upper end of what is expected ({high:g} °C) is below what is expected ({expected:g} °C)",
            remedy=Sentence(
                "Check whether ", Named("expected_temperature_c"), " and ", Named("expected_high_c"), " are swapped."
            ),
        )
    if hottest_c(given) < given.closing_temperature_c:
        raise refuse(
            given,
            "hot_temperature_c",
            f"the diff is colder when hot ({hottest_c(given):g} °C) than when it was closed "
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
            f"air alone, without any oil, presses {air_alone - outside:.1f} kPa at {hottest_c(given):g} °C",
            remedy="Give a higher limit, or a lower temperature.",
        )
    density = density_when_closed(given)
    fill = fill_by_mass(given) if given.fill_fraction is None else given.fill_fraction
    temperatures = (given.closing_temperature_c, hottest_c(given))
    housing = housing_per_k(given)
    most = min(
        1.0,
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
    if full_at is not None and full_at > hottest_c(given) + LIQUID_FULL_SHOWN_K:
        full_at = None
    return HeadspaceFound(
        largest_oil_mass_g=mass,
        fill_fraction=fill,
        gas_fraction_hot=max(0.0, hot.gas_fraction),
        liquid_full_temperature_c=full_at,
        largest_fill_fraction=most,
        gauge_pressure_kpa=None if hot.pressure_kpa is None else hot.pressure_kpa - outside,
        cold_gauge_pressure_kpa=pressed - outside,
    )


def fill_spread(given: HeadspaceGiven) -> float:
    """Uncertainty of the fill (k = 2) as a share of it, from scale and room; none if the fill itself was given."""
    if given.fill_fraction is not None or given.oil_mass_g is None or given.free_volume_cm3 is None:
        return 0.0
    wide = COVERAGE_K * difference_uncertainty_g(given.scale_step_g, given.repeatability_g, given.scale_error_g)
    by_mass = wide / given.oil_mass_g
    by_room = given.free_volume_uncertainty_cm3 / given.free_volume_cm3
    return float((by_mass**2 + by_room**2) ** 0.5)


def gauge_range_kpa(given: HeadspaceGiven, fill: float) -> tuple[float | None, float | None]:
    """The lowest and highest pressure when hot within the uncertainty of scale, room and expansion; None is
    liquid-full.

    A measured expansion is taken as given; the default covers 8.8e-4 to 9.9e-4 per K.
    """
    spread = fill_spread(given)
    lowest, highest = expansion_range_per_k(given.expansion_per_k)
    outside = air_outside_kpa(given.ambient_kpa, given.altitude_m)
    pushed = _pushed_fraction(given)
    ends = []
    for one, expansion in (
        (fill * (1.0 - spread), lowest),
        (fill * (1.0 + spread), highest),
    ):
        pressure = None
        if one < 1.0:
            pressure = _hot(given, one, expansion, pressed_pressure_kpa(one, pushed, outside)).pressure_kpa
        ends.append(None if pressure is None else pressure - outside)
    return ends[0], ends[1]


CUSHION: Final = Source(
    "computed",
    "Ideal gas in a closed cavity with oil that expands; within 0.03 % of real air at 20 to 60 °C",
    where="p = p0 (T/T0) (1 - f) / (1 + 3 a ΔT - f R)",
    seen="worked out here; checked with CoolProp, air as a real gas",
)
EXPANSION_BRACKET: Final = Source(
    "data sheet",
    "Silicone Fluid, Performance Test Results (Technical data)",
    "Shin-Etsu Chemical Co., Ltd., Silicone Division",
    "2014",
    "Table 7, p. 13: 0.00088 per K between 25 and 50 °C",
    "read; the upper end, 0.00099, is that of a thin heat-transfer fluid",
)
LIMITS: Final = Source(
    "proposal",
    "over 50 kPa above the outside air when hot is a caution, over ten times the limit or perhaps liquid-full is a "
    "stop; nobody publishes what the seals of such a diff can take; a liquid-full temperature is shown up to 40 K "
    "above the hottest it gets",
)


def _too_much(given: HeadspaceGiven, found: HeadspaceFound) -> str:
    if found.fill_fraction is not None and found.largest_oil_mass_g is not None:
        over = found.largest_oil_mass_g * (found.fill_fraction / found.largest_fill_fraction - 1.0)
        return f"draw out {over:.2f} g, down to {found.largest_oil_mass_g:.2f} g"
    return f"fill no more than {100.0 * found.largest_fill_fraction:.1f} % of the room"


def _judge_without_room(given: HeadspaceGiven, found: HeadspaceFound) -> Judgement:
    share = 100.0 * (1.0 - found.largest_fill_fraction)
    measure = "measure the room with free-volume to get grams and pressure"
    if given.squeeze_out == "runs out":
        amount = f"at least {share:.0f} % of its oil"
        if given.oil_mass_g is not None and found.largest_oil_mass_g is not None:
            amount = (
                f"at least {given.oil_mass_g - found.largest_oil_mass_g:.2f} g of the {given.oil_mass_g:.2f} g poured"
            )
        return Judgement(
            "stop",
            (
                f"oil ran out when the lid went on: the diff is full, with no room for heat; draw out {amount} and "
                "close it again",
                f"the pressure cannot be computed without the room; {measure}",
            ),
        )
    if given.squeeze_out == "trace":
        return Judgement(
            "caution",
            (
                f"a trace came out when the lid went on: it may be nearly full, and it needs about {share:.0f} % of "
                f"its room free at {given.closing_temperature_c:g} °C; draw out 0.1 g and look again, or {measure}",
            ),
        )
    seen = "no oil came out when the lid went on" if given.squeeze_out else "how full it is is not noted"
    return Judgement(
        "unclear",
        (
            f"{seen} and the room is not known: unclear whether the {share:.0f} % that heat needs is left; "
            f"close the lid slowly and look whether oil runs out (then it is full), or {measure}",
        ),
    )


def judge_headspace(given: HeadspaceGiven, found: HeadspaceFound) -> Judgement:
    fill = found.fill_fraction
    if fill is None:
        return _judge_without_room(given, found)
    findings = _findings(given, found)
    hot = f"{hottest_c(given):g} °C"
    of_scale = _of_scale(given)
    summary = (_summary(given, found), *of_scale)
    if fill >= 1.0:
        return Judgement(
            "stop",
            (f"more oil than room ({100.0 * fill:.1f} %): {_too_much(given, found)}", *of_scale),
            findings,
        )
    if found.gauge_pressure_kpa is None:
        full_at = found.liquid_full_temperature_c
        why = "liquid-full, do not run" + ("" if full_at is None else f": no air is left from {full_at:.0f} °C on")
        return Judgement("stop", (f"{why}; {_too_much(given, found)}", *of_scale), findings)
    if given.squeeze_out == "runs out":
        return Judgement(
            "stop",
            (
                f"oil ran out when the lid went on, so it is full, whatever the figures say ({100.0 * fill:.1f} %): "
                "look for air under the gears or a room measured too large, and draw oil out",
                *of_scale,
            ),
            findings,
        )
    low, high = gauge_range_kpa(given, fill)
    limit = given.gauge_limit_kpa
    if low is None or low > limit:
        is_stop, why = _over_the_limit(given, low, high)
        return Judgement("stop" if is_stop else "caution", (f"{why}: {_too_much(given, found)}", *summary), findings)
    top = "liquid-full" if high is None else _kpa(high)
    if high is None or high > limit:
        return Judgement(
            "unclear",
            (
                f"too close to the limit to decide: between {_kpa(low)} and {top} at {hot}, limit {limit:g} kPa; "
                f"to be sure, stay well under {_most_in_words(found)}",
                *summary,
            ),
            findings,
        )
    return Judgement("ok", (f"room enough at {hot}: up to {_most_in_words(found)}", *summary), findings)


def _of_scale(given: HeadspaceGiven) -> tuple[str, ...]:
    """What is assumed of a scale that was never checked, where the fill is one by mass."""
    assumed = assumed_in_words(given.scale_step_g, given.repeatability_g) if fill_spread(given) else None
    return (assumed,) if assumed else ()


def _kpa(pressure_kpa: float) -> str:
    """A pressure above the air outside; none where the closed diff presses less than that."""
    return f"{max(0.0, pressure_kpa):.0f} kPa"


def _at_most_in_words(pressure_kpa: float) -> str:
    return f"at most {rounded_up(pressure_kpa)} kPa" if pressure_kpa > 0.0 else "no pressure"


def _over_the_limit(given: HeadspaceGiven, low_kpa: float | None, high_kpa: float | None) -> tuple[bool, str]:
    """Whether a pressure over the limit is a stop, and why, in words."""
    hot, limit = f"{hottest_c(given):g} °C", given.gauge_limit_kpa
    if low_kpa is None or high_kpa is None:
        least = "" if low_kpa is None else f", and is {_kpa(low_kpa)} over the air outside at least"
        return True, f"it may be liquid-full at {hot}{least}"
    reach = f"from {max(0.0, low_kpa):.0f} to {rounded_up(high_kpa)} kPa"
    if low_kpa > STOP_TIMES * limit:
        return True, f"over {STOP_TIMES:g} times the limit of {limit:g} kPa at {hot} (our own figure), {reach}"
    return False, f"over the limit of {limit:g} kPa at {hot}, {reach}"


def _most_in_words(found: HeadspaceFound) -> str:
    share = f"{100.0 * found.largest_fill_fraction:.1f} % of the room"
    return share if found.largest_oil_mass_g is None else f"{found.largest_oil_mass_g:.2f} g ({share})"


def _summary(given: HeadspaceGiven, found: HeadspaceFound) -> str:
    if found.fill_fraction is None or found.gauge_pressure_kpa is None:
        return ""
    full_at = found.liquid_full_temperature_c
    full = "" if full_at is None else f"; liquid-full from {full_at:.0f} °C"
    return (
        f"{100.0 * found.fill_fraction:.1f} % full at {given.closing_temperature_c:g} °C gives "
        f"{_at_most_in_words(found.gauge_pressure_kpa)} above the air outside at {hottest_c(given):g} °C, an upper "
        f"bound because air dissolves in the oil{full}"
    )


def _findings(given: HeadspaceGiven, found: HeadspaceFound) -> tuple[str, ...]:
    findings = []
    if given.fill_fraction is not None:
        by_mass = fill_by_mass(given) if density_when_closed(given) else None
        if by_mass is not None and abs(by_mass - given.fill_fraction) > 0.005:
            findings.append(
                f"the masses say {100.0 * by_mass:.1f} % full; "
                f"computed with the {100.0 * given.fill_fraction:.1f} % given"
            )
    if given.housing_expansion_per_k is None:
        name = given.housing_material.strip().lower()
        if name not in HOUSINGS:
            findings.append("the housing's material is not known: counted as 0.000024 per K, as aluminium")
    findings += _on_a_day_like_that(given, found)
    if max(hottest_c(given), found.liquid_full_temperature_c or 0.0) > EXPANSION_READ_TO_C:
        findings.append(
            f"the oil's expansion was read up to {EXPANSION_READ_TO_C:g} °C; hotter than that it expands more"
        )
    return tuple(findings)


def _on_a_day_like_that(given: HeadspaceGiven, found: HeadspaceFound) -> list[str]:
    """The pressure at the temperature that is expected, beside that at the one to be safe at."""
    expected, high = given.expected_temperature_c, given.expected_high_c
    if expected is None:
        return []
    reach = "" if high is None else f", up to {high:.0f} °C"
    words = f"the diff was not measured yet; {expected:.0f} °C is expected{reach}"
    high = expected if high is None else high
    if high > given.hot_temperature_c:
        return [f"{words}, hotter than the {given.hot_temperature_c:g} °C to be safe at: computed at {high:.0f} °C"]
    if found.fill_fraction is None or found.fill_fraction >= 1.0 or high < given.closing_temperature_c:
        return []
    outside = air_outside_kpa(given.ambient_kpa, given.altitude_m)
    pressed = pressed_pressure_kpa(found.fill_fraction, _pushed_fraction(given), outside)
    temperatures = (given.closing_temperature_c, high, housing_per_k(given), given.expansion_per_k)
    pressure = hot_pressure_kpa(found.fill_fraction, *temperatures, pressed)
    if pressure is None:
        return [f"{words}: liquid-full there"]
    return [
        f"{words}: {_at_most_in_words(pressure - outside)} there; {given.hot_temperature_c:g} °C stays the temperature "
        "to be safe at, since the oil is hotter than the case that was read"
    ]


def headspace_working(given: HeadspaceGiven, found: HeadspaceFound) -> tuple[str, ...]:
    outside = air_outside_kpa(given.ambient_kpa, given.altitude_m)
    housing = housing_per_k(given)
    lines = [
        f"α = {given.expansion_per_k:g} per K, housing a = {housing:g} per K, outside {outside:.2f} kPa",
        f"largest fill = {found.largest_fill_fraction:.4f} for {given.gauge_limit_kpa:g} kPa "
        f"at {hottest_c(given):g} °C",
    ]
    density = density_when_closed(given)
    if found.fill_fraction is None:
        return tuple(lines)
    if given.fill_fraction is None and density is not None:
        lines.append(
            f"f = oil / (density × room) = {given.oil_mass_g:g} g / ({density:.4f} g/cm³ × "
            f"{given.free_volume_cm3:g} cm³) = {found.fill_fraction:.4f}"
        )
    if found.gauge_pressure_kpa is not None and found.cold_gauge_pressure_kpa is not None:
        kelvin = (hottest_c(given) + 273.15, given.closing_temperature_c + 273.15)
        lines.append(
            f"p = {outside + found.cold_gauge_pressure_kpa:.2f} kPa × {kelvin[0]:g}/{kelvin[1]:g} × "
            f"(1 − {found.fill_fraction:.4f}) / {found.gas_fraction_hot:.5f} "
            f"= {found.gauge_pressure_kpa + outside:.2f} kPa, minus {outside:.2f} kPa outside"
        )
    return tuple(lines)


HEADSPACE: Final = Calculator(
    name="headspace",
    title="Room for heat",
    question="How full may this diff be before heat makes it weep?",
    purpose="most oil that leaves room for heat, and the pressure when hot",
    version=3,
    given=HeadspaceGiven,
    found=HeadspaceFound,
    compute=headspace,
    judge=judge_headspace,
    working=headspace_working,
    answer="largest_oil_mass_g",
    seen_first=("hot_temperature_c",),
    card=OnCard(
        "heat",
        inputs=(
            ShownInput("hot_temperature_c", "Hot"),
            ShownInput("closing_temperature_c", "Closed at"),
            ShownInput("expected_temperature_c", "To expect"),
        ),
    ),
    one_of=(
        OneOf(
            (
                ("fill_fraction",),
                ("oil_mass_g",),
                ("squeeze_out",),
            )
        ),
    ),
    valid=(
        "Grams and pressure: the fill, or oil, room and density. Without the room there is no pressure, and what came "
        "out when the lid went on decides: oil that runs out means full.",
        "The pressure is an upper bound: air dissolves in silicone oil over hours to days, and the cushion shrinks. "
        "Where the oil is liquid-full no pressure is shown: a seal weeps or the case gives first. The verdict follows "
        "the pressure: a caution over the limit, a stop over ten times the limit or where no air may be left. "
        "fill-target stops at 95 % full, whatever the housing: a drop or two more and no air may be left.",
        "Oil of 50 cSt and more, -20 to 100 °C; the default expansion covers 0.00088 to 0.00099 per K, and the "
        "verdict looks at both ends. A housing is taken to grow the same in all directions.",
        "Closed and run at one pressure outside.",
    ),
    sources=(CUSHION, EXPANSION_SOURCE, EXPANSION_BRACKET, LIMITS, GUM, STANDARD_ATMOSPHERE),
    cautions=("hot-parts", "lipo", "oil-on-floor", "oil-in-eye", "scope"),
    worked=(
        Worked(
            {"fill_fraction": "0.85", "housing_expansion_per_k": "0"},
            {"gauge_pressure_kpa": 44.343, "largest_fill_fraction": 0.866},
            0.002,
            CUSHION,
            "ok",
        ),
        Worked(
            {
                "oil_mass_g": "1.86",
                "free_volume_cm3": "2.258",
                "density_g_cm3": "0.975",
                "closing_temperature_c": "21",
                "housing_material": "nylon",
            },
            {"gauge_pressure_kpa": 36.8},
            0.05,
            Source("computed", "hand calculation with a = 0.00003 per K, R = 1.03601, f = 0.84175"),
            "ok",
        ),
        Worked(
            {"fill_fraction": "0.98", "housing_expansion_per_k": "0"},
            {"gauge_pressure_kpa": None, "liquid_full_temperature_c": 42.08},
            0.01,
            Source("computed", "hand calculation: 20 + 0.02 / (0.98 × 0.00092 / (1 - 0.00092 × 5)) = 42.08 °C"),
            "stop",
        ),
        Worked(
            {"oil_mass_g": "2.13", "squeeze_out": "runs out"},
            {"gauge_pressure_kpa": None},
            0.0,
            Source("common practice", "oil that runs out while the lid goes on means that the diff is full"),
            "stop",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (HEADSPACE,)
