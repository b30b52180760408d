"""The air outside: absolute zero, the standard atmosphere, and pressure at a height."""

from __future__ import annotations

from typing import Final

from bevelbook.declare.sources import Source

ZERO_C_IN_K: Final = 273.15
STANDARD_ATMOSPHERE_KPA: Final = 101.325
STANDARD_ATMOSPHERE: Final = Source(
    "standard",
    "Standard Atmosphere, ISO 2533",
    "International Organization for Standardization",
    "1975",
    "troposphere, 288.15 K and 6.5 K per km",
    "from memory: the constants; checked against the U.S. Standard Atmosphere 1976 as the fluids library computes it",
)


def ambient_pressure_kpa(altitude_m: float) -> float:
    """Pressure of the standard atmosphere at a height above sea level, in kPa.

    p = 101.325 (1 - 0.0065 h / 288.15)^5.25588, h in m; the weather moves the true pressure by some 3 %.
    Valid from -450 to 11,000 m. Raises ValueError for a height at which this formula has no air left.

    Source: ISO 2533:1975, Standard Atmosphere (constants from memory).

    >>> round(ambient_pressure_kpa(1000.0), 2)
    89.87
    """
    warmth = 1.0 - 0.0065 * altitude_m / 288.15
    if warmth <= 0:
        raise ValueError("a height without air")
    return STANDARD_ATMOSPHERE_KPA * float(warmth**5.25588)


def air_outside_kpa(ambient_kpa: float | None, altitude_m: float | None) -> float:
    """The pressure as measured, else by the height above sea level, else at sea level, in kPa.

    >>> air_outside_kpa(None, None)
    101.325
    """
    if ambient_kpa is not None:
        return ambient_kpa
    return STANDARD_ATMOSPHERE_KPA if altitude_m is None else ambient_pressure_kpa(altitude_m)
