"""Whether a sum of squares is larger than chance explains, without a library that takes half a second to load."""

from __future__ import annotations

from math import erfc, exp, pi, sqrt
from typing import Final

from bevelbook.declare.sources import Source

CHI_SQUARED: Final = Source(
    "handbook",
    "Abramowitz and Stegun: Handbook of Mathematical Functions",
    "National Bureau of Standards",
    "1964",
    "26.4.4 and 26.4.5, the tail for a whole number of degrees of freedom",
    "from memory",
)


def chance_of_more(chi_squared: float, degrees_of_freedom: int) -> float:
    """The chance that chi-squared with so many degrees of freedom (1 or more) is larger than this (0 or more).

    >>> [round(chance_of_more(one, of), 4) for one, of in ((3.8415, 1), (7.8147, 3), (9.4877, 4))]
    [0.05, 0.05, 0.05]
    """
    is_odd = degrees_of_freedom % 2
    half = chi_squared / 2.0
    is_odd = degrees_of_freedom % 2
    chance = erfc(sqrt(half)) if is_odd else 0.0
    term = exp(-half) * (sqrt(2.0 * chi_squared / pi) if is_odd else 1.0)
    for degrees in range(is_odd + 2, degrees_of_freedom + 1, 2):
        chance += term
        term *= chi_squared / degrees
    return chance
