"""Room for heat: oil that expands in a sealed housing with a cushion of air."""

from __future__ import annotations

from typing import Final

from bevelbook.physics.density import EXPANSION_PER_K, REFERENCE_C

ZERO_C_IN_K: Final = 273.15
STANDARD_ATMOSPHERE_KPA: Final = 101.325


def oil_volume_ratio(
    closing_temperature_c: float, hot_temperature_c: float, expansion_per_k: float = EXPANSION_PER_K
) -> float:
    """Volume of the oil when hot, against its volume when the lid went on.

    R = (1 + alpha (T - 25)) / (1 + alpha (T0 - 25)).

    >>> round(oil_volume_ratio(20.0, 60.0), 6)
    1.03697
    """
    return (1.0 + expansion_per_k * (hot_temperature_c - REFERENCE_C)) / (
        1.0 + expansion_per_k * (closing_temperature_c - REFERENCE_C)
    )


def gas_volume_ratio(
    fill_fraction: float,
    closing_temperature_c: float,
    hot_temperature_c: float,
    housing_expansion_per_k: float = 0.0,
    expansion_per_k: float = EXPANSION_PER_K,
) -> float:
    """Volume left for the air when hot, as a share of the cavity when it was closed; zero or less is liquid-full."""
    cavity = 1.0 + 3.0 * housing_expansion_per_k * (hot_temperature_c - closing_temperature_c)
    return cavity - fill_fraction * oil_volume_ratio(closing_temperature_c, hot_temperature_c, expansion_per_k)


def hot_pressure_kpa(
    fill_fraction: float,
    closing_temperature_c: float,
    hot_temperature_c: float,
    housing_expansion_per_k: float = 0.0,
    expansion_per_k: float = EXPANSION_PER_K,
    closing_pressure_kpa: float = STANDARD_ATMOSPHERE_KPA,
) -> float | None:
    """Absolute pressure of the trapped air when hot, in kPa; None where the housing is full of liquid.

    p = p0 (T / T0) (1 - f) / V with V from :func:`gas_volume_ratio`, temperatures in kelvin. An upper bound, since
    air dissolves in silicone oil. Ideal gas; within 0.03 % of real air.

    >>> round(hot_pressure_kpa(0.85, 20.0, 60.0), 3)
    145.668
    """
    room = gas_volume_ratio(
        fill_fraction, closing_temperature_c, hot_temperature_c, housing_expansion_per_k, expansion_per_k
    )
    if room <= 0.0:
        return None
    kelvins = (hot_temperature_c + ZERO_C_IN_K) / (closing_temperature_c + ZERO_C_IN_K)
    return closing_pressure_kpa * kelvins * (1.0 - fill_fraction) / room


def largest_fill_fraction(
    gauge_limit_kpa: float,
    closing_temperature_c: float,
    hot_temperature_c: float,
    housing_expansion_per_k: float = 0.0,
    expansion_per_k: float = EXPANSION_PER_K,
    ambient_kpa: float = STANDARD_ATMOSPHERE_KPA,
) -> float:
    """The fill at which the gauge pressure when hot is just the limit: :func:`hot_pressure_kpa` solved for f.

    >>> round(largest_fill_fraction(50.0, 20.0, 60.0), 3)
    0.866
    """
    kelvins = (hot_temperature_c + ZERO_C_IN_K) / (closing_temperature_c + ZERO_C_IN_K)
    share = ambient_kpa * kelvins / (ambient_kpa + gauge_limit_kpa)
    cavity = 1.0 + 3.0 * housing_expansion_per_k * (hot_temperature_c - closing_temperature_c)
    return (cavity - share) / (oil_volume_ratio(closing_temperature_c, hot_temperature_c, expansion_per_k) - share)
