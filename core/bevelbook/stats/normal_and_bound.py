"""An interval for a mean that scatters and is off by an error of which only the bound is known."""

from __future__ import annotations

from math import erf, exp, inf, pi, sqrt
from typing import Final

from bevelbook.declare.sources import Source
from bevelbook.stats.distributions import t_chance, t_density, where_zero
from bevelbook.stats.line import CONFIDENCE, t_value

DISTRIBUTIONS: Final = Source(
    "standard",
    "Evaluation of measurement data: Supplement 1 to the Guide to the expression of uncertainty in measurement, "
    "JCGM 101:2008",
    "Joint Committee for Guides in Metrology",
    "2008",
    "propagation of distributions: a normal or t distribution added to an even one",
    "not opened; number from memory; the sum of the two is integrated exactly",
)
_NEGLIGIBLE: Final = 1e-3


def half_width(sd: float, freedom: float, bound: float, confidence: float = CONFIDENCE) -> float:
    """The half-width that holds a share of the sum of two errors: one of t's distribution, one even within a bound.

    sd          standard deviation of the first, >= 0, in any unit
    freedom     its degrees of freedom, more than 1; infinite for a normal one
    bound       half the width of the second, >= 0, in the same unit

    With both parts the plain rule of k = 1.96 on the combined standard deviation would hold up to 100 %, not 95 %: an
    even error never goes past its bound.

    >>> round(half_width(1.0, inf, 0.0), 4), half_width(0.0, inf, 1.0), round(half_width(0.5, inf, 1.0), 4)
    (1.96, 0.95, 1.4512)
    """
    scattered = t_value(freedom, confidence) * sd
    if bound <= _NEGLIGIBLE * sd:
        return scattered
    if sd <= _NEGLIGIBLE * bound:
        return confidence * bound

    def missing(half: float) -> float:
        return _share_within(half, sd, freedom, bound) - confidence

    return where_zero(missing, 0.0, scattered + bound, 1e-9 * (scattered + bound))


def _share_within(half: float, sd: float, freedom: float, bound: float) -> float:
    """P(|sd T + R| <= half), R even from -bound to bound: the mean over R of the distribution function of T."""
    upper, lower = (half + bound) / sd, (half - bound) / sd
    area = (
        _integral(upper, freedom) - _integral(lower, freedom) - _integral(-lower, freedom) + _integral(-upper, freedom)
    )
    return area * sd / (2.0 * bound)


def _integral(x: float, freedom: float) -> float:
    """The integral of the distribution function of t from minus infinity to x, for more than one degree of freedom.

    x F(x) + (v + x^2) / (v - 1) f(x); for a normal one x F(x) + f(x).
    """
    if freedom == inf:
        return x * 0.5 * (1.0 + erf(x / sqrt(2.0))) + exp(-0.5 * x * x) / sqrt(2.0 * pi)
    return x * t_chance(freedom, x) + (freedom + x * x) / (freedom - 1.0) * t_density(freedom, x)
