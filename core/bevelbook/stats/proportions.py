"""k of n: intervals for shares of a few yes-or-no outcomes."""

from __future__ import annotations

from math import sqrt
from typing import Final

from bevelbook.declare.sources import Source

WILSON: Final = Source(
    "paper",
    "Newcombe: Two-sided confidence intervals for the single proportion: comparison of seven methods",
    "Statistics in Medicine 17",
    "1998",
    "p. 857-872, Table I, method 3",
    "quoted in public test files; the paper was not opened",
)
NEWCOMBE: Final = Source(
    "paper",
    "Newcombe: Interval estimation for the difference between independent proportions: comparison of eleven methods",
    "Statistics in Medicine 17",
    "1998",
    "p. 873-890, Table II, method 10",
    "quoted in public test files; the paper was not opened",
)
CONFIDENCE: Final = 0.95


def wilson_interval(kept: int, of: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Wilson's score interval for a proportion, without continuity correction (scipy.stats.binomtest).

    (p + z^2/2n -+ z sqrt(p (1 - p)/n + z^2/4n^2)) / (1 + z^2/n). Valid for 0 <= kept <= of, of >= 1; scipy raises
    ValueError outside.

    Source: Newcombe, Statistics in Medicine 17 (1998) 857-872, method 3.

    >>> low, high = wilson_interval(3, 3)
    >>> round(low, 4), round(high, 4)
    (0.4385, 1.0)
    """
    from scipy.stats import binomtest

    found = binomtest(kept, of).proportion_ci(confidence, method="wilson")
    return float(found.low), float(found.high)


def newcombe_interval(
    kept_a: int, of_a: int, kept_b: int, of_b: int, confidence: float = CONFIDENCE
) -> tuple[float, float]:
    """Interval for the difference of two independent proportions, a minus b: Wilson limits, square and add.

    d - sqrt((pa - la)^2 + (ub - pb)^2) to d + sqrt((ua - pa)^2 + (pb - lb)^2). Valid as :func:`wilson_interval`.

    Source: Newcombe, Statistics in Medicine 17 (1998) 873-890, method 10.

    >>> low, high = newcombe_interval(9, 10, 3, 10)
    >>> round(low, 4), round(high, 4)
    (0.1705, 0.809)
    """
    share_a, share_b = kept_a / of_a, kept_b / of_b
    low_a, high_a = wilson_interval(kept_a, of_a, confidence)
    low_b, high_b = wilson_interval(kept_b, of_b, confidence)
    difference = share_a - share_b
    return (
        difference - sqrt((share_a - low_a) ** 2 + (high_b - share_b) ** 2),
        difference + sqrt((high_a - share_a) ** 2 + (share_b - low_b) ** 2),
    )


def shrunk_share(kept: int, of: int, pooled_share: float, strength: float) -> float:
    """A proportion drawn towards the pooled one: the mean of a Beta posterior, (k + s p) / (n + s).

    The prior counts as ``strength`` runs at the pooled share. With few groups the strength is fixed and disclosed:
    common practice, no source. Valid for a positive ``of`` or a positive strength.

    >>> round(shrunk_share(2, 2, 8 / 14, 4), 4)
    0.7143
    """
    return (kept + strength * pooled_share) / (of + strength)
