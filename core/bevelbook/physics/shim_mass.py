"""What a flat ring weighs: a forgotten shim shows by its grams."""

from __future__ import annotations

from math import pi
from typing import Final

STEEL_G_CM3: Final = 7.85
"""Density of carbon steel; common practice, no source."""


def shim_mass_g(bore_mm: float, outside_mm: float, thickness_mm: float, density_g_cm3: float = STEEL_G_CM3) -> float:
    """Mass of a flat ring: pi/4 (D^2 - d^2) t rho.

    >>> round(shim_mass_g(5.0, 7.0, 0.2), 3)
    0.03
    """
    return pi / 4.0 * (outside_mm**2 - bore_mm**2) * thickness_mm * density_g_cm3 / 1000.0
