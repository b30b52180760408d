"""Swell of a seal, squeeze in its groove, and the pressure behind it: what the intervals and the reuse rule promise."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from math import pi
from typing import Any, Final

from benchmarks.coverages import Case
from numpy.random import Generator

from bevelbook.formulas.room_for_heat import EXPANSION_HIGH_PER_K, EXPANSION_LOW_PER_K
from bevelbook.physics.air import STANDARD_ATMOSPHERE_KPA
from bevelbook.physics.density import density_g_cm3
from bevelbook.physics.headspace import hot_pressure_kpa
from bevelbook.physics.oring import inside_diameter_tolerance_mm, section_tolerance_mm
from bevelbook_plugins.gland import GlandGiven, gland
from bevelbook_plugins.headspace import HeadspaceGiven, gauge_range_kpa
from bevelbook_plugins.seal_swell import SwellFound, SwellGiven, judge_swell, swell

STEP_MM: Final = 0.01
BOUND: Final = (0.9999, 1.0)
Truth = Callable[[Generator], tuple[dict[str, Any], float]]
"""Draws a ring: what is typed of it, and its true change of volume."""


def cases() -> Iterator[Case]:
    yield Case("swell from both sizes, 6 x 1.5", "k = 2", partial(swell_holds_truth, of=both_sizes))
    yield Case("swell from outside diameters", "k = 2", partial(swell_holds_truth, of=outside))
    yield Case(
        "swell of a flattened ring, section both ways",
        "k = 2, plus what the flat leaves open",
        partial(swell_holds_truth, of=flattened),
        (0.95, 1.0),
    )
    yield Case("swell in air and water, s known", "k = 2", partial(swell_holds_truth, of=in_water))
    yield Case("swell by mass alone, s known", "k = 2", partial(swell_holds_truth, of=by_mass))
    yield Case("squeeze left of a measured section", "at most", squeeze_left_is_held, BOUND)
    yield Case("stop on a ring that shrank by just 3 %", "under 2.5 %", stopped_at_the_limit, (0.0, 0.025))
    yield Case("stop on a flattened ring of the old volume", "0 %", stopped_though_flattened, (0.0, 0.01))
    yield Case("squeeze and fill of rings within class B", "worst case", groove_holds_all, BOUND)
    yield Case("pressure when hot, from masses", "from ... to", pressure_is_held, (0.95, 1.0))


def read(rng: Generator, true_mm: float) -> float:
    """A size as it is read: right to one step either way."""
    return true_mm + rng.uniform(-STEP_MM, STEP_MM)


def volume(bore: float, radial: float, axial: float) -> float:
    """Pappus: an ellipse on the middle diameter."""
    return pi / 4 * radial * axial * pi * (bore + radial)


def both_sizes(rng: Generator) -> tuple[dict[str, Any], float]:
    grown = 1.0 + rng.uniform(-0.02, 0.06)
    new, now = (6.0, 1.5), (6.0 * grown, 1.5 * grown)
    typed = {
        "inside_diameter_mm": read(rng, new[0]),
        "section_mm": read(rng, new[1]),
        "measured_inside_diameter_mm": read(rng, now[0]),
        "measured_section_mm": read(rng, now[1]),
    }
    return typed, grown**3 - 1.0


def outside(rng: Generator) -> tuple[dict[str, Any], float]:
    grown = 1.0 + rng.uniform(-0.02, 0.06)
    typed = {"outside_diameter_mm": read(rng, 9.0), "measured_outside_diameter_mm": read(rng, 9.0 * grown)}
    return typed, grown**3 - 1.0


def flattened(rng: Generator) -> tuple[dict[str, Any], float]:
    """Pressed by up to 12 %, from the side or from above, and swollen by up to 6 % in length."""
    grown, pressed = 1.0 + rng.uniform(0.0, 0.06), 1.0 - rng.uniform(0.0, 0.12)
    ways = (1.5 * grown * pressed, 1.5 * grown / pressed)
    bore = 6.0 * grown
    radial, axial = ways if rng.random() < 0.5 else ways[::-1]
    typed = {
        "inside_diameter_mm": read(rng, 6.0),
        "section_mm": read(rng, 1.5),
        "measured_inside_diameter_mm": read(rng, bore),
        "measured_section_mm": read(rng, ways[0]),
        "wide_section_mm": read(rng, ways[1]),
    }
    return typed, volume(bore, radial, axial) / volume(6.0, 1.5, 1.5) - 1.0


def weighed(rng: Generator, true_g: float, s_g: float = 0.001, step_g: float = 0.001) -> float:
    return float(round((true_g + rng.normal(0.0, s_g)) / step_g) * step_g)


ON_THE_SCALE: Final = {"scale_step_g": 0.001, "repeatability_g": 0.001}


def in_water(rng: Generator) -> tuple[dict[str, Any], float]:
    """Some ten rings at once, 1.25 g/cm3."""
    new_cm3, change = rng.uniform(0.5, 0.6), rng.uniform(-0.02, 0.2)
    now_cm3, air, air_now = new_cm3 * (1.0 + change), 1.25 * new_cm3, 1.25 * new_cm3 + 0.97 * new_cm3 * change
    typed = {
        "air_mass_before_g": weighed(rng, air),
        "water_mass_before_g": weighed(rng, air - new_cm3),
        "air_mass_after_g": weighed(rng, air_now),
        "water_mass_after_g": weighed(rng, air_now - now_cm3),
    }
    return {**typed, **ON_THE_SCALE}, change


def by_mass(rng: Generator) -> tuple[dict[str, Any], float]:
    new_cm3, change = rng.uniform(0.05, 0.06), rng.uniform(-0.02, 0.2)
    typed = {
        "mass_before_g": weighed(rng, 1.25 * new_cm3),
        "mass_after_g": weighed(rng, 1.25 * new_cm3 + 0.97 * new_cm3 * change),
        "rubber_density_g_cm3": 1.25,
        "oil_density_g_cm3": 0.97,
    }
    return {**typed, **ON_THE_SCALE}, change


def asked(typed: dict[str, Any]) -> SwellGiven:
    return SwellGiven(place="joint", material="NBR", reading_step_mm=STEP_MM, **typed)


def swell_holds_truth(rng: Generator, count: int, of: Truth) -> list[bool]:
    answers = []
    for _ in range(count):
        typed, truth = of(rng)
        found: SwellFound = swell(asked(typed))
        answers.append(abs(found.volume_change_fraction - truth) <= found.uncertainty)
    return answers


def squeeze_left_is_held(rng: Generator, count: int) -> list[bool]:
    """The half width is the one that the sentence prints: (1 - squeeze) x step / section."""
    answers = []
    for _ in range(count):
        section, depth = rng.uniform(1.35, 1.6), 1.25
        typed = {
            "inside_diameter_mm": 6.0,
            "section_mm": 1.6,
            "measured_inside_diameter_mm": 6.0,
            "measured_section_mm": read(rng, section),
            "groove_depth_mm": depth,
        }
        left = swell(asked(typed)).squeeze_fraction
        assert left is not None
        half = (1.0 - left) * STEP_MM / typed["measured_section_mm"]
        answers.append(abs(left - (section - depth) / section) <= half * 1.02)
    return answers


def stopped_at_the_limit(rng: Generator, count: int) -> list[bool]:
    shrunk = 0.97 ** (1.0 / 3.0)
    answers = []
    for _ in range(count):
        typed = {"outside_diameter_mm": read(rng, 9.0), "measured_outside_diameter_mm": read(rng, 9.0 * shrunk)}
        answers.append(judge_swell(asked(typed), swell(asked(typed))).verdict == "stop")
    return answers


def stopped_though_flattened(rng: Generator, count: int) -> list[bool]:
    """Pressed by 8 %, measured both ways or only the thin way."""
    answers = []
    for number in range(count):
        typed = {
            "inside_diameter_mm": read(rng, 6.0),
            "section_mm": read(rng, 1.5),
            "measured_inside_diameter_mm": read(rng, 6.0),
            "measured_section_mm": read(rng, 1.5 * 0.92),
        }
        if number % 2:
            typed["wide_section_mm"] = read(rng, 1.5 / 0.92)
        answers.append(judge_swell(asked(typed), swell(asked(typed))).verdict == "stop")
    return answers


def groove_holds_all(rng: Generator, count: int) -> list[bool]:
    """Bore, section and depth anywhere within their tolerances, over seats that stretch the ring by up to 12 %."""
    answers = []
    for _ in range(count):
        bore, section, depth, width = rng.uniform(3.0, 25.0), 1.5, 1.2, 2.2
        seat = bore * (1.0 + rng.uniform(-0.02, 0.12))
        groove = {"groove_width_mm": width, "seat_diameter_mm": seat, "duty": "static radial"}
        found = gland(GlandGiven(inside_diameter_mm=bore, section_mm=section, groove_depth_mm=depth, **groove))
        one = gland(
            GlandGiven(
                inside_diameter_mm=bore + rng.uniform(-1.0, 1.0) * inside_diameter_tolerance_mm(bore),
                section_mm=section + rng.uniform(-1.0, 1.0) * (section_tolerance_mm(section) or 0.0),
                groove_depth_mm=depth + rng.uniform(-0.05, 0.05),
                **groove,
            )
        )
        answers.append(
            found.squeeze_low_fraction <= one.squeeze_fraction <= found.squeeze_high_fraction
            and one.groove_fill_fraction <= found.fill_high_fraction
        )
    return answers


def pressure_is_held(rng: Generator, count: int) -> list[bool]:
    """Expansion anywhere in its bracket, oil and room as weighed, a rigid housing, 20 to 60 °C."""
    answers = []
    for _ in range(count):
        oil_g, room_cm3 = rng.uniform(1.5, 1.95), 2.26
        expansion = rng.uniform(EXPANSION_LOW_PER_K, EXPANSION_HIGH_PER_K)
        fill = oil_g / (density_g_cm3(0.975, 20.0, expansion) * room_cm3)
        truth = hot_pressure_kpa(fill, 20.0, 60.0, 0.0, expansion)
        assert truth is not None
        typed = HeadspaceGiven(
            oil_mass_g=weighed(rng, oil_g, 0.005 * 2**0.5, 0.01),
            free_volume_cm3=room_cm3 + rng.normal(0.0, 0.01),
            density_g_cm3=0.975,
            housing_expansion_per_k=0.0,
            repeatability_g=0.005,
            free_volume_uncertainty_cm3=0.02,
        )
        assert typed.oil_mass_g is not None
        assert typed.free_volume_cm3 is not None
        low, high = gauge_range_kpa(typed, typed.oil_mass_g / (density_g_cm3(0.975, 20.0) * typed.free_volume_cm3))
        gauge = truth - STANDARD_ATMOSPHERE_KPA
        answers.append((low is None or low <= gauge) and (high is None or gauge <= high))
    return answers
