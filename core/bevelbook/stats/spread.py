"""Mean and spread of a few values, from the standard library, which is imported only when they are asked for."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import fsum


def mean(values: Iterable[float]) -> float:
    """Arithmetic mean. Raises statistics.StatisticsError for none.

    >>> mean([1.0, 2.0, 6.0])
    3.0
    """
    known = [*values]
    if not known:
        from statistics import StatisticsError

        raise StatisticsError("the mean of no values")
    return fsum(known) / len(known)


def median(values: Sequence[float]) -> float:
    """The value in the middle, of an even count the mean of the two. Raises IndexError for none.

    >>> median([3.0, 1.0, 2.0]), median([4.0, 1.0])
    (2.0, 2.5)
    """
    known, half = sorted(values), len(values) // 2
    return known[half] if len(known) % 2 else (known[half - 1] + known[half]) / 2.0


def sample_variance(values: Sequence[float]) -> float:
    """Sample variance, n - 1 in the denominator. Raises statistics.StatisticsError under two values.

    >>> sample_variance([1.0, 2.0, 6.0])
    7.0
    """
    from statistics import variance

    return variance(values)
