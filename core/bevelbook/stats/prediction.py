"""What to expect of one more run, from runs that come in days: least squares, with an interval for one new value."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from math import fsum, sqrt
from typing import Final, NamedTuple, TypeVar

from bevelbook.declare.sources import Source
from bevelbook.stats.equations import dot, fitted
from bevelbook.stats.line import t_value
from bevelbook.stats.spread import mean

PREDICTION: Final = Source(
    "handbook",
    "Montgomery, Peck, Vining: Introduction to Linear Regression Analysis, prediction of new observations",
    "John Wiley & Sons",
    "undated",
    "delivery time data, tables 2.11 and 2.12",
    "read in part: the data and the line on one variable; the interval of a new observation on two, 12.28 to 26.16, is "
    "from memory and comes out the same",
)
T = TypeVar("T")

MOST_INFLATION: Final = 10.0
"""Variance inflation from which two predictors count as one; common practice, no source."""


class Predicted(NamedTuple):
    """An expected value, half of its 95 % interval for one new run, and its leverage against the largest seen."""

    value: float
    half_width: float
    leverage: float
    largest_leverage: float


class DayFit(NamedTuple):
    """Least squares on the means of days, with the spread between days and within them."""

    coefficients: tuple[float, ...]
    inverse: tuple[tuple[float, ...], ...]
    """(X'X)^-1 of the means of days, with the column of ones."""
    between: float
    """Variance of the means of days about the fit."""
    within: float
    """Variance of single runs about the mean of their day."""
    days: int
    runs: int
    runs_a_day: float
    """Harmonic mean of the runs of a day."""
    largest_leverage: float

    def at(self, x: Sequence[float], least_sd: float = 0.0) -> Predicted:
        """The value expected of one new run on a new day at ``x``, with its 95 % prediction interval.

        Variance: between (1 + h) + within (1 - 1/m), h = x'(X'X)^-1 x, m the harmonic mean of the runs of a day; with
        one run a day it is the textbook's s^2 (1 + h). Degrees of freedom by Welch and Satterthwaite. ``least_sd`` is
        a standard deviation that it is not under.
        """
        at = (1.0, *x)
        leverage = dot(at, [dot(row, at) for row in self.inverse])
        of_days = self.between * (1.0 + leverage)
        of_runs = self.within * (1.0 - 1.0 / self.runs_a_day)
        variance = of_days + of_runs
        free = self.days - len(at)
        freedom = float(free)
        if of_runs > 0.0 and variance > 0.0:
            freedom = variance**2 / (of_days**2 / free + of_runs**2 / (self.runs - self.days))
        half = t_value(freedom) * max(sqrt(variance), least_sd)
        return Predicted(dot(at, self.coefficients), half, leverage, self.largest_leverage)


def fit_by_day(x: Sequence[Sequence[float]], y: Sequence[float], days: Sequence[Hashable]) -> DayFit | None:
    """Least squares of y on one or more x, from the means of days, since runs of one day share weather and track.

    x     rows of predictors, a row a run
    y     the values
    days  the day of each run; runs of one day count as one
    None where the days do not determine it: no more days than coefficients, or an x that is the same on all of them.

    Source: least squares and its prediction interval: Montgomery, Peck, Vining, Introduction to Linear Regression
    Analysis; the part within days: variance components of a one-way layout (textbook).

    >>> fit = fit_by_day([[1.0], [2.0], [3.0], [4.0]], [1.0, 3.0, 4.9, 7.1], ["a", "b", "c", "d"])
    >>> round(fit.at([2.5]).value, 2), round(fit.at([2.5]).half_width, 3)
    (4.0, 0.456)
    """
    places: dict[Hashable, list[int]] = {}
    for place, day in enumerate(days):
        places.setdefault(day, []).append(place)
    means = [[mean(row[one] for row in rows) for one in range(len(x[0]))] for rows in _by_day(x, places)]
    heights = [mean(of_day) for of_day in _by_day(y, places)]
    columns = [[1.0] * len(means), *map(list, zip(*means, strict=True))]
    found = fitted(columns, heights) if len(means) > len(columns) else None
    if found is None:
        return None
    design = [(1.0, *one) for one in means]
    off = [height - dot(row, found.coefficients) for height, row in zip(heights, design, strict=True)]
    slopes = found.coefficients[1:]
    apart = [
        y[place] - height - dot([one - other for one, other in zip(x[place], of_day, strict=True)], slopes)
        for of_day, height, at in zip(means, heights, places.values(), strict=True)
        for place in at
    ]
    inside = len(y) - len(means)
    return DayFit(
        found.coefficients,
        found.inverse,
        dot(off, off) / (len(means) - len(columns)),
        dot(apart, apart) / inside if inside else 0.0,
        len(means),
        len(y),
        len(means) / fsum(1.0 / len(at) for at in places.values()),
        max(dot(row, [dot(one, row) for one in found.inverse]) for row in design),
    )


def _by_day(values: Sequence[T], places: Mapping[Hashable, Sequence[int]]) -> list[list[T]]:
    return [[values[place] for place in at] for at in places.values()]


def inflation(first: Sequence[float], second: Sequence[float]) -> float:
    """How much the variance of a slope grows because two predictors move together: 1 / (1 - r^2); infinite at r = 1.

    >>> round(inflation([1.0, 2.0, 3.0, 4.0], [2.0, 1.0, 4.0, 3.0]), 4)
    1.5625
    """
    a, b = ([one - middle for one in values] for values, middle in ((first, mean(first)), (second, mean(second))))
    scale = dot(a, a) * dot(b, b)
    share = dot(a, b) ** 2 / scale if scale > 0.0 else 0.0
    return 1.0 / (1.0 - share) if share < 1.0 - 1e-12 else float("inf")
