"""A straight line through points, and where it reaches a value."""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum, sqrt
from typing import Final, NamedTuple

from bevelbook.declare.sources import Source
from bevelbook.stats.distributions import t_quantile

INVERSE: Final = Source(
    "paper",
    "Greenwell, Schubert Kabban: investr: An R Package for Inverse Estimation",
    "The R Journal 6/1",
    "2014",
    "p. 90-100, inversion interval",
    "read",
)
CONFIDENCE: Final = 0.95


class Line(NamedTuple):
    """An ordinary least-squares line y = intercept + slope x with what its intervals need."""

    slope: float
    intercept: float
    slope_error: float
    intercept_error: float
    residual_sd: float
    x_mean: float
    s_xx: float
    points: int

    @property
    def degrees_of_freedom(self) -> int:
        return self.points - 2

    def at(self, x: float) -> float:
        return self.intercept + self.slope * x

    def with_scatter(self, residual_sd: float) -> Line:
        """The same line with another standard deviation of the points about it."""
        return self._replace(
            residual_sd=residual_sd,
            slope_error=residual_sd / sqrt(self.s_xx),
            intercept_error=residual_sd * sqrt(1.0 / self.points + self.x_mean**2 / self.s_xx),
        )


class Reached(NamedTuple):
    """Where a line reaches a value. ``low`` and ``high`` are None where the slope is not significant (g >= 1)."""

    x: float
    low: float | None
    high: float | None
    g: float


def line_of(slope: float, intercept: float, residual_sd: float, x_mean: float, s_xx: float, points: int) -> Line:
    """A fitted line with the standard errors that follow from the scatter about it.

    >>> line_of(2.0, 1.0, 0.1, 1.5, 4.0, 4).slope_error
    0.05
    """
    return Line(slope, intercept, 0.0, 0.0, residual_sd, x_mean, s_xx, points).with_scatter(residual_sd)


def straight_line(x: Sequence[float], y: Sequence[float]) -> Line:
    """Ordinary least squares of y on x (statistics.linear_regression), standard errors from n - 2 degrees of freedom.

    s^2 = sum of squared residuals / (n - 2), u(slope) = s / sqrt(Sxx), u(intercept) = s sqrt(1/n + xm^2 / Sxx). Valid
    from two points at two places; with exactly two, and where all y are equal, the standard errors are zero and mean
    nothing. Raises ValueError when all x are equal (statistics).

    Source of the check values: National Institute of Standards and Technology, Statistical Reference Datasets, Norris.

    >>> line = straight_line([0, 1, 2, 3], [1.0, 3.0, 4.9, 7.1])
    >>> round(line.slope, 3), round(line.slope_error, 4)
    (2.02, 0.0424)
    """
    from statistics import linear_regression

    slope, intercept = linear_regression(x, y)
    count = len(x)
    x_mean = fsum(x) / count
    s_xx = fsum((one - x_mean) ** 2 for one in x)
    scatter = fsum((other - intercept - slope * one) ** 2 for one, other in zip(x, y, strict=True))
    has_errors = count > 2 and min(y) < max(y)
    residual_sd = sqrt(scatter / (count - 2)) if has_errors else 0.0
    return line_of(slope, intercept, residual_sd, x_mean, s_xx, count)


def t_value(degrees_of_freedom: float, confidence: float = CONFIDENCE) -> float:
    """Student's t for a two-sided interval.

    >>> round(t_value(6), 4)
    2.4469
    """
    return t_quantile(degrees_of_freedom, 0.5 + confidence / 2.0)


def where_line_reaches(line: Line, y: float, readings: int = 0, confidence: float = CONFIDENCE) -> Reached:
    """The x at which the line reaches y, with its inversion (Fieller) interval.

    x0 = (y - b0) / b1, g = t^2 s^2 / (b1^2 Sxx), interval
    x0 + [(x0 - xm) g +/- (t s / |b1|) sqrt((x0 - xm)^2 / Sxx + (1 - g)(k + 1/n))] / (1 - g),
    with k = ``readings`` = 0 for the mean line and 1 for one new reading. At g >= 1 the slope is not significant
    and there is no interval. Valid from three points; a line through two has no interval either.

    Raises ZeroDivisionError for a slope of exactly zero.

    Source: Greenwell, Schubert Kabban, The R Journal 6/1 (2014) 90-100, inversion interval.

    A thermometer, Graybill and Iyer, Regression Analysis, Duxbury Press 1994, p. 431: 103.995 (103.4 to 104.6).

    >>> true = [96, 98, 100, 102, 104, 106, 108, 110]
    >>> shown = [95.71, 98.16, 99.52, 102.09, 103.79, 106.18, 108.14, 110.21]
    >>> found = where_line_reaches(straight_line(true, shown), 104.0, readings=1)
    >>> round(found.x, 3), round(found.low, 1), round(found.high, 1)
    (103.995, 103.4, 104.6)
    """
    x = (y - line.intercept) / line.slope
    if line.degrees_of_freedom < 1:
        return Reached(x, None, None, 0.0)
    t = t_value(line.degrees_of_freedom, confidence)
    g = (t * line.slope_error / line.slope) ** 2
    if g >= 1.0:
        return Reached(x, None, None, g)
    away = x - line.x_mean
    half = (
        t * line.residual_sd / abs(line.slope) * sqrt(away**2 / line.s_xx + (1.0 - g) * (readings + 1.0 / line.points))
    )
    return Reached(x, x + (away * g - half) / (1.0 - g), x + (away * g + half) / (1.0 - g), g)
