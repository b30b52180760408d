"""Room for heat: ``headspace``, how full a sealed diff may be before warm oil presses on its seals."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from bevelbook import Calculator, Judgement, OnCard, OneOf, ShownInput, Source, Worked, hookimpl
from bevelbook.physics.air import STANDARD_ATMOSPHERE, air_outside_kpa
from bevelbook.physics.density import EXPANSION_SOURCE
from bevelbook.physics.weighing import GUM
from bevelbook_plugins.heat_room import (
    HOUSINGS,
    STOP_FILL_FRACTION,
    HeadspaceFound,
    HeadspaceGiven,
    density_when_closed,
    fill_by_mass,
    fill_spread,
    gauge_range_kpa,
    headspace,
    housing_per_k,
)

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
    "Table 7, p. 13: 8.8e-4 per K between 25 and 50 °C",
    "read; the upper end, 9.9e-4, is that of a thin heat-transfer fluid",
)
LIMITS: Final = Source(
    "proposal",
    "50 kPa above the air outside when hot asks for a second look, more than 95 % full is a stop; nobody publishes "
    "what the seals of such a diff stand",
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
                f"no pressure can be told without the room; {measure}",
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
    seen = "no oil came out when the lid went on" if given.squeeze_out else "nothing says how full it is"
    return Judgement(
        "unclear",
        (
            f"{seen} and the room is not known: whether the {share:.0f} % that heat needs is left cannot be told; "
            f"close the lid slowly and look whether oil runs out (then it is full), or {measure}",
        ),
    )


def judge_headspace(given: HeadspaceGiven, found: HeadspaceFound) -> Judgement:
    fill = found.fill_fraction
    if fill is None:
        return _judge_without_room(given, found)
    findings = _findings(given)
    hot = f"{given.hot_temperature_c:g} °C"
    told = _told(given, found)
    if fill >= 1.0:
        return Judgement(
            "stop",
            (f"more oil than room ({100.0 * fill:.1f} %): {_too_much(given, found)}",),
            findings,
        )
    if found.gauge_pressure_kpa is None:
        full_at = found.liquid_full_temperature_c
        why = "liquid-full, do not run" + ("" if full_at is None else f": no air is left from {full_at:.0f} °C on")
        return Judgement("stop", (f"{why}; {_too_much(given, found)}",), findings)
    if given.squeeze_out == "runs out":
        return Judgement(
            "stop",
            (
                f"oil ran out when the lid went on, so it is full whatever the figures say ({100.0 * fill:.1f} %): "
                "look for air under the gears or a room measured too large, and draw oil out",
            ),
            findings,
        )
    spread = fill * fill_spread(given)
    if fill - spread > STOP_FILL_FRACTION:
        return Judgement(
            "stop",
            (
                f"{100.0 * fill:.1f} % full, over {100.0 * STOP_FILL_FRACTION:.0f} % the pressure rises steeply "
                f"(this project's proposal): {_too_much(given, found)}",
                told,
            ),
            findings,
        )
    low, high = gauge_range_kpa(given, fill)
    limit = given.gauge_limit_kpa
    if low is None or low > limit:
        return Judgement(
            "caution", (f"over the limit of {limit:g} kPa at {hot}: {_too_much(given, found)}", told), findings
        )
    if high is None or high > limit or fill + spread > STOP_FILL_FRACTION:
        top = "liquid-full" if high is None else f"{high:.0f} kPa"
        return Judgement(
            "unclear",
            (
                f"too near to the limit to tell: between {low:.0f} kPa and {top} at {hot}, the limit is {limit:g} kPa; "
                f"to be sure, stay well under {_most_in_words(found)}",
                told,
            ),
            findings,
        )
    return Judgement("ok", (f"room enough at {hot}: up to {_most_in_words(found)}", told), findings)


def _most_in_words(found: HeadspaceFound) -> str:
    share = f"{100.0 * found.largest_fill_fraction:.1f} % of the room"
    return share if found.largest_oil_mass_g is None else f"{found.largest_oil_mass_g:.2f} g ({share})"


def _told(given: HeadspaceGiven, found: HeadspaceFound) -> str:
    if found.fill_fraction is None or found.gauge_pressure_kpa is None:
        return ""
    full_at = found.liquid_full_temperature_c
    full = "" if full_at is None else f"; liquid-full from {full_at:.0f} °C"
    return (
        f"{100.0 * found.fill_fraction:.1f} % full at {given.closing_temperature_c:g} °C gives at most "
        f"{found.gauge_pressure_kpa:.0f} kPa above the air outside at {given.hot_temperature_c:g} °C, an upper bound "
        f"because air dissolves in the oil{full}"
    )


def _findings(given: HeadspaceGiven) -> tuple[str, ...]:
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
            findings.append("the housing's material is not known: counted as 24e-6 per K, as aluminium")
    if given.hot_temperature_c > 100.0:
        findings.append("the oil's expansion was read up to 100 °C; hotter than that it expands more")
    return tuple(findings)


def headspace_working(given: HeadspaceGiven, found: HeadspaceFound) -> tuple[str, ...]:
    outside = air_outside_kpa(given.ambient_kpa, given.altitude_m)
    housing = housing_per_k(given)
    lines = [
        f"α = {given.expansion_per_k:g} per K, housing a = {housing:g} per K, outside {outside:.2f} kPa",
        f"largest fill = {found.largest_fill_fraction:.4f} for {given.gauge_limit_kpa:g} kPa "
        f"at {given.hot_temperature_c:g} °C, never over {STOP_FILL_FRACTION:g}",
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
        kelvin = (given.hot_temperature_c + 273.15, given.closing_temperature_c + 273.15)
        lines.append(
            f"p = {outside + found.cold_gauge_pressure_kpa:.2f} kPa × {kelvin[0]:g}/{kelvin[1]:g} × "
            f"(1 − {found.fill_fraction:.4f}) / {found.gas_fraction_hot:.5f} "
            f"= {found.gauge_pressure_kpa + outside:.2f} kPa, less {outside:.2f} kPa outside"
        )
    return tuple(lines)


HEADSPACE: Final = Calculator(
    name="headspace",
    title="Room for heat",
    question="How full may this diff be before heat makes it weep?",
    purpose="most oil that leaves room for heat, and the pressure when hot",
    version=1,
    given=HeadspaceGiven,
    found=HeadspaceFound,
    compute=headspace,
    judge=judge_headspace,
    working=headspace_working,
    answer="largest_oil_mass_g",
    card=OnCard(
        "heat", inputs=(ShownInput("hot_temperature_c", "Hot"), ShownInput("closing_temperature_c", "Closed at"))
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
        "Where the oil is liquid-full no pressure is shown: a seal weeps or the case gives first.",
        "Oil of 50 cSt and more, -20 to 100 °C; the default expansion stands for 8.8e-4 to 9.9e-4 per K, and the "
        "verdict looks at both ends. A housing is taken to grow alike in all directions.",
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
            Source("computed", "hand calculation with a = 30e-6 per K, R = 1.03601, f = 0.84175"),
            "ok",
        ),
        Worked(
            {"fill_fraction": "0.98", "housing_expansion_per_k": "0"},
            {"gauge_pressure_kpa": None, "liquid_full_temperature_c": 42.08},
            0.01,
            Source("computed", "hand calculation: 20 + 0.02 / (0.98 × 9.2e-4 / (1 - 9.2e-4 × 5)) = 42.08 °C"),
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
