"""How fast a diff loses oil, and after how many runs a limit is reached at that rate."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import Final, NamedTuple

from bevelbook.formulas.readings import Point, covariance_g2, covariances_g2, difference_uncertainty_g
from bevelbook.physics.weighing import COVERAGE_K, SEEN_AT_95
from bevelbook.stats.chi_squared import chance_of_more
from bevelbook.stats.known_scatter import line_of_known_scatter
from bevelbook.stats.line import CONFIDENCE

POINTS_FOR_A_TREND: Final = 5


class Rate(NamedTuple):
    """Oil lost per run in g, with its interval (95 %). Negative is a gain."""

    g_per_run: float
    half_g_per_run: float

    @property
    def low_g_per_run(self) -> float:
        return self.g_per_run - self.half_g_per_run

    @property
    def high_g_per_run(self) -> float:
        return self.g_per_run + self.half_g_per_run


def rate_of(points: Sequence[Point]) -> Rate | None:
    """The loss per run from five points or more whose residuals the scale explains (chi-squared at 95 %).

    The scatter is that of the scale, not of the residuals: a few rounded readings lie on a line by chance, and would
    then seem to be better than the scale (JCGM 100:2008, F.2.2.1). Interval: 1.96 standard errors.
    """
    if len(points) < POINTS_FOR_A_TREND:
        return None
    runs, masses_g = [one.runs for one in points], [one.mass_g for one in points]
    line = line_of_known_scatter(runs, masses_g, covariances_g2(points))
    if chance_of_more(line.misfit, line.degrees_of_freedom) < 1.0 - CONFIDENCE:
        return None
    return Rate(0.0 - line.slope, SEEN_AT_95 * line.slope_error)


class RunsToLimit(NamedTuple):
    """Runs since the build at which so much is lost, with the ends of the interval (95 %).

    ``runs`` is None where the rate may be 0: then nothing but ``low`` is known, the runs that it takes at least.
    ``high`` is None with it.
    """

    runs: float | None
    low: float
    high: float | None


def runs_to_limit(rate: Rate, limit_g: float, first_runs: float) -> RunsToLimit | None:
    """When a limit of oil lost is reached: limit / rate, counted from the first weighing.

    The interval divides by that of the rate, which needs no mass of the first weighing. None where no loss fits.

    >>> runs_to_limit(Rate(0.005, 0.001), 0.15, 0.0)
    RunsToLimit(runs=30.0, low=25.0, high=37.5)
    >>> runs_to_limit(Rate(0.0005, 0.001), 0.15, 6.0)
    RunsToLimit(runs=None, low=106.0, high=None)
    """
    if rate.high_g_per_run <= 0.0:
        return None
    low = first_runs + limit_g / rate.high_g_per_run
    if rate.low_g_per_run <= 0.0:
        return RunsToLimit(None, low, None)
    return RunsToLimit(first_runs + limit_g / rate.g_per_run, low, first_runs + limit_g / rate.low_g_per_run)


class RunsAfter(NamedTuple):
    """Runs after the last weighing until a limit is reached, with the ends of the interval (k = 2).

    ``runs`` is None where nothing was lost per run, ``high`` where the rate may be 0.
    """

    runs: float | None
    low: float
    high: float | None


def runs_after_last(first: Point, earlier: Point, last: Point, limit_g: float) -> RunsAfter:
    """Runs left at the rate between two weighings: (limit - loss) / rate, with Fieller's interval.

    Both come from the same readings: a last one that is too light makes the loss too large, and the rate as well. So
    the interval holds all t with |D - t r| <= 2 sqrt(var D - 2 t cov + t² var r), D = limit - loss. ``earlier`` is
    before ``last``, and may be ``first``; the loss is under the limit by more than its uncertainty (k = 2).

    Source: Fieller, Some problems in interval estimation, Journal of the Royal Statistical Society B 16 (1954) 175-185
    (not opened; from memory).

    >>> start, end = Point(0.0, 22.35, 0.005), Point(10.0, 22.30, 0.005)
    >>> [round(one, 2) for one in runs_after_last(start, start, end, 0.10)]
    [10.0, 5.59, 17.89]
    """
    over = last.runs - earlier.runs
    left_g = limit_g - (first.mass_g - last.mass_g)
    rate = (earlier.mass_g - last.mass_g) / over
    if rate <= 0.0:
        return RunsAfter(None, 0.0, None)
    with_last = covariance_g2(first, last) + covariance_g2(last, earlier) - covariance_g2(last, last)
    together = (with_last - covariance_g2(first, earlier)) / over
    square = rate**2 - (COVERAGE_K * difference_uncertainty_g(earlier, last) / over) ** 2
    linear = left_g * rate - COVERAGE_K**2 * together
    constant = left_g**2 - (COVERAGE_K * difference_uncertainty_g(first, last)) ** 2
    root = sqrt(max(0.0, linear**2 - square * constant))
    low = max(0.0, constant / (linear + root)) if linear + root > 0.0 else 0.0
    return RunsAfter(left_g / rate, low, (linear + root) / square if square > 0.0 else None)
