"""What a scale can tell: uncertainty of a reading, of a difference, and the smallest difference it can show."""

from __future__ import annotations

from math import sqrt
from typing import Final

from bevelbook.declare.sources import Source

GUM: Final = Source(
    "standard",
    "Evaluation of measurement data: Guide to the expression of uncertainty in measurement, JCGM 100:2008",
    "Joint Committee for Guides in Metrology",
    "2008",
    "F.2.2.1, resolution of a digital indication",
    "not opened; clause number from memory; the factor 1/sqrt(12) is exact for a rectangular width",
)
COVERAGE_K: Final = 2.0
SEEN_AT_95: Final = 1.96
WASHING_LEAVES_G: Final = 0.01
"""Old oil that washing leaves in a diff, more or less of it each time; this project's proposal."""


def reading_uncertainty_g(scale_step_g: float, repeatability_g: float) -> float:
    """Standard uncertainty (k = 1) of one reading, in g.

    u^2 = step^2 / 12 + s^2: a rectangular width of one step and the scale's repeatability (one standard deviation).

    Source: JCGM 100:2008, F.2.2.1.

    >>> round(reading_uncertainty_g(0.01, 0.005), 6)
    0.005774
    """
    return sqrt(scale_step_g**2 / 12.0 + repeatability_g**2)


def difference_uncertainty_g(scale_step_g: float, repeatability_g: float = 0.0, scale_error_g: float = 0.0) -> float:
    """Standard uncertainty (k = 1) of a mass found as the difference of two readings, in g.

    u^2 = step^2 / 6 + 2 s^2 + (a / sqrt 3)^2, with a the bound of the scale's error over the span between the readings.

    Source: JCGM 100:2008, F.2.2.1; combination by 5.1.2.

    >>> round(difference_uncertainty_g(0.01), 7)
    0.0040825
    """
    return sqrt(scale_step_g**2 / 6.0 + 2.0 * repeatability_g**2 + scale_error_g**2 / 3.0)


def smallest_difference_seen_g(scale_step_g: float, repeatability_g: float) -> float:
    """The smallest difference between two readings that is not noise at 95 %, in g: 1.96 sqrt(2) u(reading).

    >>> round(smallest_difference_seen_g(0.01, 0.005), 3)
    0.016
    """
    return SEEN_AT_95 * sqrt(2.0) * reading_uncertainty_g(scale_step_g, repeatability_g)


def dry_mass_change_seen_g(scale_step_g: float, repeatability_g: float) -> float:
    """The smallest change between two dry masses of a diff, washed before each, that is neither noise nor what washing
    leaves, in g.

    >>> round(dry_mass_change_seen_g(0.01, 0.005), 3)
    0.026
    """
    return smallest_difference_seen_g(scale_step_g, repeatability_g) + WASHING_LEAVES_G
