"""What to expect of one more run, from runs that come in days: least squares, with an interval for one new value."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from math import sqrt
from typing import Any, Final, NamedTuple

from bevelbook.declare.sources import Source
from bevelbook.stats.line import t_value

PREDICTION: Final = Source(
    "handbook",
    "Montgomery, Peck, Vining: Introduction to Linear Regression Analysis, prediction of new observations",
    "John Wiley & Sons",
    "undated",
    "delivery time data, tables 2.11 and 2.12",
    "read in part: the data and the line on one variable; the interval of a new observation on two, 12.28 to 26.16, is "
    "from memory and comes out the same",
)
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

    coefficients: Any
    inverse: Any
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
        import numpy as np

        at = np.concatenate(([1.0], np.asarray(x, dtype=float)))
        leverage = float(at @ self.inverse @ at)
        of_days = self.between * (1.0 + leverage)
        of_runs = self.within * (1.0 - 1.0 / self.runs_a_day)
        variance = of_days + of_runs
        free = self.days - len(at)
        freedom = float(free)
        if of_runs > 0.0 and variance > 0.0:
            freedom = variance**2 / (of_days**2 / free + of_runs**2 / (self.runs - self.days))
        half = t_value(freedom) * max(sqrt(variance), least_sd)
        return Predicted(float(at @ self.coefficients), half, leverage, self.largest_leverage)


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
    import numpy as np

    values, target = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    number = {day: place for place, day in enumerate(dict.fromkeys(days))}
    place = np.array([number[day] for day in days])
    counts = np.bincount(place).astype(float)
    means = np.column_stack([np.bincount(place, column) for column in values.T]) / counts[:, None]
    heights = np.bincount(place, target) / counts
    design = np.column_stack((np.ones(len(counts)), means))
    if len(counts) <= design.shape[1] or np.linalg.matrix_rank(design) < design.shape[1]:
        return None
    inverse = np.linalg.inv(design.T @ design)
    coefficients = np.linalg.lstsq(design, heights, rcond=None)[0]
    off = heights - design @ coefficients
    apart = (target - heights[place]) - (values - means[place]) @ coefficients[1:]
    inside = len(target) - len(counts)
    return DayFit(
        coefficients,
        inverse,
        float(off @ off) / (len(counts) - design.shape[1]),
        float(apart @ apart) / inside if inside else 0.0,
        len(counts),
        len(target),
        len(counts) / float((1.0 / counts).sum()),
        float(np.einsum("ij,jk,ik->i", design, inverse, design).max()),
    )


def inflation(first: Sequence[float], second: Sequence[float]) -> float:
    """How much the variance of a slope grows because two predictors move together: 1 / (1 - r^2); infinite at r = 1.

    >>> round(inflation([1.0, 2.0, 3.0, 4.0], [2.0, 1.0, 4.0, 3.0]), 4)
    1.5625
    """
    import numpy as np

    a, b = (np.asarray(one, dtype=float) - np.mean(one) for one in (first, second))
    scale = float(a @ a) * float(b @ b)
    share = float(a @ b) ** 2 / scale if scale > 0.0 else 0.0
    return 1.0 / (1.0 - share) if share < 1.0 - 1e-12 else float("inf")
