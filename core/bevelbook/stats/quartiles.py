"""Median and quartiles of a few values."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple


class Quartiles(NamedTuple):
    """The values under which a quarter, half and three quarters of all are."""

    lower: float
    median: float
    upper: float


def quartiles_of(values: Sequence[float]) -> Quartiles:
    """Median and quartiles of at least two values. Raises statistics.StatisticsError for fewer.

    The definition: n values in their order stand at 0 to n - 1, the lower quartile at (n - 1) / 4, the median and the
    upper one at twice and three times that, on the straight line between the two values beside. It is the seventh of
    R. J. Hyndman and Y. Fan, "Sample quantiles in statistical packages", The American Statistician 50 (1996),
    p. 361-365 (from memory), and "inclusive" in Python's statistics.

    >>> quartiles_of([40.0, 44.0, 50.0, 61.0, 90.0])
    Quartiles(lower=44.0, median=50.0, upper=61.0)
    """
    from statistics import quantiles

    return Quartiles(*quantiles(values, n=4, method="inclusive"))
