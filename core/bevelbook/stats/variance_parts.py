"""Scatter within groups and between them (one-way analysis of variance), and how well few readings know it."""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum, sqrt
from typing import Final, NamedTuple

from bevelbook.declare.sources import Source
from bevelbook.stats.distributions import chi_squared_over
from bevelbook.stats.line import CONFIDENCE, t_value
from bevelbook.stats.spread import mean

TYPE_A: Final = Source(
    "standard",
    "Evaluation of measurement data: Guide to the expression of uncertainty in measurement, JCGM 100:2008",
    "Joint Committee for Guides in Metrology",
    "2008",
    "4.2, type A evaluation; G.3 and G.4, t and effective degrees of freedom",
    "not opened; clause numbers from memory",
)
NORMAL_95: Final = 1.959964
"""The normal quantile that t becomes with many degrees of freedom."""


class VarianceParts(NamedTuple):
    """Variances of readings in groups, such as days, with their degrees of freedom; ``between`` is the mean square of
    the groups' means, None under two groups, and ``readings_per_group`` the count that it is of (n0)."""

    within: float
    within_freedom: int
    between: float | None
    between_freedom: int
    readings_per_group: float

    @property
    def group_variance(self) -> float | None:
        """Variance of the groups themselves, (MSB - MSW) / n0, not under 0; None under two groups."""
        if self.between is None:
            return None
        return max(0.0, (self.between - self.within) / self.readings_per_group)

    @property
    def reading_variance(self) -> float | None:
        """Variance of one reading of any group: MSB / n0 + (1 - 1 / n0) MSW; None under two groups."""
        if self.between is None:
            return None
        share = 1.0 / self.readings_per_group
        return share * self.between + (1.0 - share) * self.within

    @property
    def reading_freedom(self) -> float:
        """Effective degrees of freedom of that (Welch-Satterthwaite, JCGM 100:2008, G.4.1)."""
        total = self.reading_variance
        if not total or self.between is None:
            return float(self.within_freedom)
        share = 1.0 / self.readings_per_group
        terms = (share * self.between) ** 2 / self.between_freedom
        if self.within_freedom:
            terms += ((1.0 - share) * self.within) ** 2 / self.within_freedom
        return total**2 / terms


def variance_parts(things: Sequence[Sequence[Sequence[float]]]) -> VarianceParts:
    """One-way analysis of variance of readings by thing, then by group: groups are compared within a thing only.

    MSW = sum of (x - group mean)^2 / (N - groups); MSB = sum of n (group mean - thing mean)^2 / (groups - things); n0 =
    (N - sum of n^2 / N, thing by thing) / (groups - things). Each group needs a reading; without two in any group MSW
    is 0 with no degrees of freedom.

    >>> found = variance_parts([[[1.0, 2.0, 3.0], [5.0, 6.0, 7.0]]])
    >>> found.within, found.within_freedom, found.between, found.readings_per_group
    (1.0, 4, 24.0, 3.0)
    """
    scatter, within_freedom = 0.0, 0
    spread, between_freedom, per_group = 0.0, 0, 0.0
    for groups in things:
        of_thing = mean(value for group in groups for value in group)
        count = sum(map(len, groups))
        for group in groups:
            centre = mean(group)
            scatter += fsum((value - centre) ** 2 for value in group)
            within_freedom += len(group) - 1
            if len(groups) > 1:
                spread += len(group) * (centre - of_thing) ** 2
        if len(groups) > 1:
            between_freedom += len(groups) - 1
            per_group += count - sum(len(group) ** 2 for group in groups) / count
    return VarianceParts(
        within=scatter / within_freedom if within_freedom else 0.0,
        within_freedom=within_freedom,
        between=spread / between_freedom if between_freedom else None,
        between_freedom=between_freedom,
        readings_per_group=per_group / between_freedom if between_freedom else 0.0,
    )


def widening(degrees_of_freedom: float, confidence: float = CONFIDENCE) -> float:
    """By how much a standard deviation from few readings has to grow for intervals of a normal distribution to hold:
    t / 1.96 (JCGM 100:2008, G.3). Valid from one degree of freedom.

    >>> round(widening(9), 3), round(widening(1), 2)
    (1.154, 6.48)
    """
    return t_value(degrees_of_freedom, confidence) / NORMAL_95


def deviation_interval(
    deviation: float, degrees_of_freedom: int, confidence: float = CONFIDENCE
) -> tuple[float, float]:
    """The interval of a standard deviation from normal readings: s sqrt(v / chi-squared), two-sided.

    >>> low, high = deviation_interval(1.0, 9)
    >>> round(low, 3), round(high, 3)
    (0.688, 1.826)
    """
    tail = (1.0 - confidence) / 2.0
    highest, lowest = (chi_squared_over(degrees_of_freedom, one) for one in (tail, 1.0 - tail))
    return deviation * sqrt(degrees_of_freedom / highest), deviation * sqrt(degrees_of_freedom / lowest)
