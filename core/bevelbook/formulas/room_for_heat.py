"""How full a closed diff may be before heat presses on its seals: the limits that every judgement of a fill goes by."""

from __future__ import annotations

from typing import Final, NamedTuple

from bevelbook.physics.air import STANDARD_ATMOSPHERE_KPA
from bevelbook.physics.density import EXPANSION_PER_K
from bevelbook.physics.headspace import gas_volume_ratio, largest_fill_fraction
from bevelbook.reference import rows

GAUGE_LIMIT_KPA: Final = 50.0
"""Pressure above the outside air to stay under when hot; our own figure."""
HOT_C: Final = 60.0
"""What is assumed as the hottest a diff gets, unless it was measured hotter."""
EXPANSION_LOW_PER_K: Final = 8.8e-4
EXPANSION_HIGH_PER_K: Final = 9.9e-4
UNKNOWN_HOUSING_PER_K: Final = 24e-6
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
"""What people call a housing, and its row of the expansion table; if unclear, the one that grows least."""


def material_per_k(material: str) -> float:
    """Linear expansion of a housing by its material, in 1/K; 0.000024 if that is not in the table.

    >>> material_per_k("nylon"), material_per_k("unknown")
    (3e-05, 2.4e-05)
    """
    row = HOUSINGS.get(material.strip().lower())
    if row is None:
        return UNKNOWN_HOUSING_PER_K
    return min(float(one["linear_expansion_per_k"]) for one in rows("thermal_expansion.csv") if one["material"] == row)


def expansion_range_per_k(expansion_per_k: float) -> tuple[float, float]:
    """Both ends of an oil's expansion, in 1/K: those of the default; a measured one is taken as it is."""
    is_default = expansion_per_k == EXPANSION_PER_K
    return (EXPANSION_LOW_PER_K, EXPANSION_HIGH_PER_K) if is_default else (expansion_per_k, expansion_per_k)


def safe_at_c(hot_c: float, expected_c: float | None, expected_high_c: float | None) -> float:
    """The temperature to be safe at, in °C: the hottest it gets, or what is expected or its upper end if hotter."""
    return max(one for one in (hot_c, expected_c, expected_high_c) if one is not None)


class HeatLimits(NamedTuple):
    """Shares of the room at which the pressure when hot is just the limit: with the oil's expansion as it is, and with
    the largest and the smallest that it may have."""

    most: float
    surely_under: float
    surely_over: float


def heat_limits(
    closing_c: float,
    hot_c: float,
    housing_per_k: float,
    expansion_per_k: float = EXPANSION_PER_K,
    outside_kpa: float = STANDARD_ATMOSPHERE_KPA,
) -> HeatLimits:
    """The limits of a fill closed at one temperature and hot at another, in °C; the lid pushes no air in.

    >>> [round(one, 3) for one in heat_limits(20.0, 60.0, 0.0)]
    [0.866, 0.857, 0.871]
    """
    low, high = expansion_range_per_k(expansion_per_k)
    most, under, over = (
        min(1.0, largest_fill_fraction(GAUGE_LIMIT_KPA, closing_c, hot_c, housing_per_k, one, outside_kpa))
        for one in (expansion_per_k, high, low)
    )
    return HeatLimits(most, under, over)


def may_be_liquid_full(
    fill_fraction: float, closing_c: float, hot_c: float, housing_per_k: float, expansion_per_k: float
) -> bool:
    """Whether no air may be left when hot, at the largest expansion that the oil may have."""
    high = expansion_range_per_k(expansion_per_k)[1]
    return fill_fraction >= 1.0 or gas_volume_ratio(fill_fraction, closing_c, hot_c, housing_per_k, high) <= 0.0
