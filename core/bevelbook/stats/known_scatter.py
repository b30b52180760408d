"""A straight line through points whose errors are known, each and together."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import Final, NamedTuple

from bevelbook.declare.sources import Source
from bevelbook.stats.equations import dot, solved

AITKEN: Final = Source(
    "paper",
    "Aitken: On least squares and linear combination of observations",
    "Proceedings of the Royal Society of Edinburgh 55",
    "1935",
    "p. 42-48, least squares with a known covariance",
    "not opened; from memory",
)


class KnownLine(NamedTuple):
    """A line y = intercept + slope x. ``misfit`` is the sum of squared residuals in units of the known errors."""

    slope: float
    intercept: float
    slope_error: float
    misfit: float
    points: int

    @property
    def degrees_of_freedom(self) -> int:
        return self.points - 2


def line_of_known_scatter(x: Sequence[float], y: Sequence[float], covariance: Sequence[Sequence[float]]) -> KnownLine:
    """Generalised least squares of y on x: b = (X' V⁻¹ X)⁻¹ X' V⁻¹ y, var b = (X' V⁻¹ X)⁻¹ (Aitken 1935).

    ``covariance`` V is symmetric and positive definite, in the square of the unit of y. With V = s² I the slope is that
    of ordinary least squares, and its error s / sqrt(Sxx). Valid from two points at two places.

    Check values: statsmodels GLS (tests).

    >>> line = line_of_known_scatter([0, 1, 2], [1.0, 3.0, 5.0], [[0.04, 0, 0], [0, 0.04, 0], [0, 0, 0.04]])
    >>> round(line.slope, 9), round(line.slope_error, 6), round(line.misfit, 9)
    (2.0, 0.141421, 0.0)
    """
    middle, start = sum(x) / len(x), y[0]
    ones, along, values = [1.0] * len(x), [one - middle for one in x], [one - start for one in y]
    of_ones, of_along = solved(covariance, (ones, along))
    products = [[dot(one, other) for other in (of_ones, of_along)] for one in (ones, along)]
    [level, slope], *spread = solved(products, ([dot(of_ones, values), dot(of_along, values)], [1.0, 0.0], [0.0, 1.0]))
    residuals = [one - level - slope * other for one, other in zip(values, along, strict=True)]
    [of_residuals] = solved(covariance, [residuals])
    return KnownLine(slope, start + level - slope * middle, sqrt(spread[1][1]), dot(residuals, of_residuals), len(x))
