"""Density of silicone fluid against temperature."""

from __future__ import annotations

from typing import Final

from bevelbook.declare.sources import Source

EXPANSION_PER_K: Final = 9.2e-4
EXPANSION_SOURCE: Final = Source(
    "data sheet",
    "Silicone Fluid, Performance Test Results (Technical data)",
    "Shin-Etsu Chemical Co., Ltd., Silicone Division",
    "2014",
    "Table 7, p. 13: volume at 100 °C against 25 °C",
    "read; 1,000 mm²/s gives 0.00092 per K between 25 and 100 °C",
)
REFERENCE_C: Final = 25.0


def density_g_cm3(density_25_g_cm3: float, temperature_c: float, expansion_per_k: float = EXPANSION_PER_K) -> float:
    """Density at a temperature, in g/cm3.

    rho(t) = rho25 / (1 + alpha (t - 25)).

    density_25_g_cm3  density at 25 °C, g/cm3
    temperature_c     temperature, °C; the default expansion holds for -20 to 100 °C within 0.09 % of the source
    expansion_per_k   mean cubic expansion, 1/K

    Source: Shin-Etsu Chemical Co., Ltd., Silicone Division, Silicone Fluid, Performance Test Results, 2014,
    Table 5 (p. 12) and Table 7 (p. 13).

    >>> round(density_g_cm3(0.970, 50.0), 4)
    0.9482
    """
    return density_25_g_cm3 / (1.0 + expansion_per_k * (temperature_c - REFERENCE_C))
