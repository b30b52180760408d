"""Inputs shared by several calculators, declared once: same words, bounds and origins everywhere."""

from __future__ import annotations

from bevelbook.declare.fields import choice, quantity, text
from bevelbook.formulas.room_for_heat import HOT_C
from bevelbook.physics.density import EXPANSION_PER_K


def scale_step() -> float:
    """``scale_step_g``: 0.01 g unless the scale's record says otherwise."""
    return quantity("g", "Smallest step of the scale", default=0.01, above=0, same_as="scales.step_g")


def repeatability() -> float | None:
    """``repeatability_g``: not known unless the scale's record has it; what is assumed then is in
    ``physics.weighing``."""
    return quantity(
        "g",
        "Repeatability of the scale (one standard deviation); not known: one step of the scale is assumed",
        default=None,
        minimum=0,
        same_as="scales.repeatability_g",
    )


def scale_error() -> float:
    """``scale_error_g``: none unless the scale's record says otherwise."""
    return quantity(
        "g", "Bound of the scale's error between the two readings", default=0, minimum=0, same_as="scales.error_bound_g"
    )


def density_at_25() -> float | None:
    """``density_g_cm3``: the oil's own at 25 °C."""
    return quantity(
        "g/cm3", "Density of the oil at 25 °C", default=None, minimum=0.5, maximum=2, same_as="fluids.density_g_cm3"
    )


def room_for_oil() -> float | None:
    """``free_volume_cm3``: what the closed diff holds; a mass of oil may be given instead."""
    return quantity(
        "cm3",
        "Room for oil in the closed diff",
        default=None,
        above=0,
        plausible=(0.3, 20),
        same_as="diffs.free_volume_cm3",
    )


def viscosity_for_density(same_as: str) -> float | None:
    """``viscosity_cst``, if only needed to find the density."""
    return quantity(
        "cSt",
        "Viscosity at 25 °C, to find the density",
        default=None,
        above=0,
        plausible=(50, 2_000_000),
        same_as=same_as,
    )


def hottest() -> float:
    """``hot_temperature_c``: the hottest the diff was measured, 60 °C if that is less or there is none."""
    return quantity(
        "°C", "The hottest the diff gets", default=HOT_C, minimum=-50, maximum=200, same_as="measured.hottest_c"
    )


def expansion_of_oil() -> float:
    """``expansion_per_k``: the oil's own, else the usual one of silicone fluid."""
    return quantity(
        "1/K",
        "Cubic expansion of the oil, measured; not a data sheet's mean from 25 to 150 °C",
        default=EXPANSION_PER_K,
        above=0,
        below=0.01,
        same_as="fluids.expansion_per_k",
    )


def housing_material() -> str:
    """``housing_material``: the diff's."""
    return text(
        "Material of the housing; an unknown one counts as 0.000024 per K",
        default="unknown",
        same_as="diffs.housing_material",
    )


def in_use() -> float | None:
    """``expected_temperature_c``: what to expect of a diff that was not measured."""
    return quantity(
        "°C",
        "Temperature of the diff to expect in use, where it was not measured",
        default=None,
        minimum=-50,
        maximum=200,
        same_as="expected.in_use_c",
    )


def in_use_high() -> float | None:
    """``expected_high_c``: the upper end of that."""
    return quantity(
        "°C",
        "Upper end of that, 95 %",
        default=None,
        minimum=-50,
        maximum=200,
        same_as="expected.in_use_high_c",
        heading="expected, up to",
    )


def altitude() -> float | None:
    """``altitude_m``: the venue's."""
    return quantity(
        "m",
        "Height above sea level, to find the air's pressure",
        default=None,
        minimum=-450,
        maximum=6000,
        same_as="venues.altitude_m",
    )


def was_doubtful() -> str:
    """``doubtful`` of a run: it counts unless the diff had lost oil for certain or perhaps."""
    return choice(
        ("yes", "not known", "no"),
        "Whether the diff had lost oil by then, or may have; not known where it was not weighed",
        default="no",
    )


def doubtful_in_words(doubts: list[str]) -> list[str]:
    """Words for runs by their ``doubtful``: how many were left out, and how many counted though not known to be
    full."""
    left_out, not_known = doubts.count("yes"), doubts.count("not known")
    said = []
    if left_out:
        said.append(f"{left_out} left out: the diff had lost oil by then, or may have")
    if not_known:
        said.append(f"{not_known} counted on a diff that was not weighed after them: not known to be full")
    return said
