"""A straight line through points whose errors are known, each and together."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import Final, NamedTuple

from bevelbook.declare.sources import Source

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
    import numpy as np

    middle, start = sum(x) / len(x), y[0]
    known = np.asarray(covariance, dtype=float)
    design = np.column_stack((np.ones(len(x)), np.asarray(x, dtype=float) - middle))
    values = np.asarray(y, dtype=float) - start
    weighted = np.linalg.solve(known, design)
    spread = np.linalg.inv(design.T @ weighted)
    level, slope = (float(one) for one in spread @ (weighted.T @ values))
    residuals = values - design @ np.array([level, slope])
    misfit = float(residuals @ np.linalg.solve(known, residuals))
    return KnownLine(slope, start + level - slope * middle, sqrt(spread[1, 1]), misfit, len(x))
