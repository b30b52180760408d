"""Room for heat: oil that expands in a sealed housing with a cushion of air."""

from __future__ import annotations

from math import pi

from bevelbook.physics.air import STANDARD_ATMOSPHERE_KPA, ZERO_C_IN_K
from bevelbook.physics.density import EXPANSION_PER_K, REFERENCE_C


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
    """Absolute pressure of the trapped air when hot, in kPa; None if the housing is full of liquid.

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
    pushed_fraction: float = 0.0,
) -> float:
    """The fill at which the gauge pressure when hot is just the limit: :func:`hot_pressure_kpa` solved for f.

    f = (1 + 3 a dT - s (1 + b)) / (R - s), s = p0 (T / T0) / (p0 + limit), closed as :func:`pressed_pressure_kpa` says.
    Valid for limits above the pressure of air alone; one and more means that no fill reaches the limit.

    >>> round(largest_fill_fraction(50.0, 20.0, 60.0), 3)
    0.866
    """
    kelvins = (hot_temperature_c + ZERO_C_IN_K) / (closing_temperature_c + ZERO_C_IN_K)
    share = ambient_kpa * kelvins / (ambient_kpa + gauge_limit_kpa)
    cavity = 1.0 + 3.0 * housing_expansion_per_k * (hot_temperature_c - closing_temperature_c)
    oil = oil_volume_ratio(closing_temperature_c, hot_temperature_c, expansion_per_k)
    return (cavity - share * (1.0 + pushed_fraction)) / (oil - share)


def liquid_full_temperature_c(
    fill_fraction: float,
    closing_temperature_c: float,
    housing_expansion_per_k: float = 0.0,
    expansion_per_k: float = EXPANSION_PER_K,
) -> float | None:
    """The temperature at which the oil fills the whole cavity, in °C; None if the cavity grows faster than the oil.

    T = T0 + (1 - f) / (f alpha / (1 + alpha (T0 - 25)) - 3 a): :func:`gas_volume_ratio` solved for zero.

    >>> round(liquid_full_temperature_c(0.98, 20.0), 2)
    42.08
    """
    oil_per_k = fill_fraction * expansion_per_k / (1.0 + expansion_per_k * (closing_temperature_c - REFERENCE_C))
    closing_per_k = oil_per_k - 3.0 * housing_expansion_per_k
    if closing_per_k <= 0.0:
        return None
    return closing_temperature_c + (1.0 - fill_fraction) / closing_per_k


def pushed_in_cm3(travel_mm: float, spigot_diameter_mm: float) -> float:
    """Air that a sealed spigot pushes into the cavity while it goes in, in cm3: pi d^2 / 4 times the travel.

    >>> round(pushed_in_cm3(0.2, 12.0), 5)
    0.02262
    """
    return pi * spigot_diameter_mm**2 / 4.0 * travel_mm / 1000.0


def pressed_pressure_kpa(
    fill_fraction: float, pushed_fraction: float, ambient_kpa: float = STANDARD_ATMOSPHERE_KPA
) -> float:
    """Absolute pressure of the air when the lid is down, in kPa, at constant temperature (Boyle).

    p = p0 (1 - f + b) / (1 - f): ``pushed_fraction`` b is :func:`pushed_in_cm3` as a share of the cavity.

    >>> round(pressed_pressure_kpa(0.85, 0.0125), 2)
    109.77
    """
    return ambient_kpa * (1.0 - fill_fraction + pushed_fraction) / (1.0 - fill_fraction)
