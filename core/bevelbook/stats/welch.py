"""The difference of two means with Welch's interval."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt

from bevelbook.stats.least_squares import Interval
from bevelbook.stats.line import t_value
from bevelbook.stats.spread import mean, sample_variance


def welch(a: Sequence[float], b: Sequence[float]) -> Interval:
    """Mean of b minus mean of a with Welch's 95 % interval (unequal variances).

    u^2 = s_a^2/n_a + s_b^2/n_b, degrees of freedom u^4 / sum((s^2/n)^2 / (n - 1)). Valid from two values a side, one
    side of which may be all equal; raises ZeroDivisionError where both are.

    Source: Welch, Biometrika 34 (1947) 28-35, from memory; checked against scipy.stats.ttest_ind, which warns where
    one side is all equal.

    >>> found = welch([15.61, 15.70, 15.65], [15.70, 15.72])
    >>> round(found.value, 4), round(found.low, 4), round(found.high, 4), round(found.degrees_of_freedom, 2)
    (0.0567, -0.0424, 0.1557, 2.52)
    """
    parts = [sample_variance(side) / len(side) for side in (a, b)]
    error = sqrt(sum(parts))
    freedom = error**4 / sum(part**2 / (len(side) - 1) for part, side in zip(parts, (a, b), strict=True))
    value, half = mean(b) - mean(a), t_value(freedom) * error
    return Interval(value, value - half, value + half, freedom)
