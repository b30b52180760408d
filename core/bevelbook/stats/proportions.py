"""k of n: intervals for shares of a few outcomes, and whether two shares differ."""

from __future__ import annotations

from math import ceil, floor, sqrt
from typing import Final

from bevelbook.declare.sources import Source
from bevelbook.stats.boschloo import chance_both_ways
from bevelbook.stats.distributions import normal_quantile

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
BOSCHLOO: Final = Source(
    "paper",
    "Boschloo: Raised conditional level of significance for the 2x2-table when testing equality of two probabilities",
    "Statistica Neerlandica 24",
    "1970",
    "issue 1",
    "quoted in the documentation of scipy.stats.boschloo_exact, against which it is tested; the paper was not opened",
)
CONFIDENCE: Final = 0.95
PART_OF_ONE: Final = 1e-9
"""Counts this close are equal: a sum of parts of days is not exact."""


def wilson_interval(kept: float, of: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Wilson's score interval for a proportion, without continuity correction.

    (p + z^2/2n -+ z sqrt(p (1 - p)/n + z^2/4n^2)) / (1 + z^2/n). ``kept`` may count parts of outcomes, whose spread is
    at most that of whole ones. The confidence holds in the mean over true proportions; for a single one it jumps, since
    a few outcomes are whole numbers. Raises ValueError unless 0 <= kept <= of and of >= 1.

    Source: Newcombe, Statistics in Medicine 17 (1998) 857-872, method 3.

    >>> low, high = wilson_interval(3, 3)
    >>> round(low, 4), round(high, 4)
    (0.4385, 1.0)
    """
    if of < 1 or not 0 <= kept <= of:
        raise ValueError(f"{kept:g} of {of} is not a share")
    z = normal_quantile(0.5 + confidence / 2.0)
    share = kept / of
    middle = share + z * z / (2.0 * of)
    half = z * sqrt(share * (1.0 - share) / of + (z / (2.0 * of)) ** 2)
    scale = 1.0 + z * z / of
    return (0.0 if kept == 0 else (middle - half) / scale), (1.0 if kept == of else (middle + half) / scale)


def chance_of_difference(kept_a: float, of_a: int, kept_b: float, of_b: int) -> float:
    """The chance of two shares at least this far apart if the true ones are equal: Boschloo's exact test, two-sided.

    At most 5 % of pairs with equal true shares come out at 0.05 or less, however few the outcomes and whatever the true
    share. Parts of outcomes are rounded so that the shares move together; 1 where nothing is left between them. Valid
    as :func:`wilson_interval`.

    Source: Boschloo, Statistica Neerlandica 24(1) (1970).

    >>> round(chance_of_difference(3, 3, 0, 3), 5), chance_of_difference(2, 3, 2, 3)
    (0.03125, 1.0)
    """
    if kept_a * of_b < kept_b * of_a:
        return chance_of_difference(kept_b, of_b, kept_a, of_a)
    whole_a, whole_b = floor(kept_a + PART_OF_ONE), ceil(kept_b - PART_OF_ONE)
    if whole_a * of_b <= whole_b * of_a:
        return 1.0
    return chance_both_ways(whole_a, of_a, whole_b, of_b)


def newcombe_interval(
    kept_a: float, of_a: int, kept_b: float, of_b: int, confidence: float = CONFIDENCE
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


def shrunk_share(kept: float, of: int, pooled_share: float, strength: float) -> float:
    """A proportion drawn towards the pooled one: the mean of a Beta posterior, (k + s p) / (n + s).

    The prior counts as ``strength`` outcomes at the pooled share. With few groups the strength is fixed and disclosed:
    common practice, no source. Valid for a positive ``of`` or a positive strength.

    >>> round(shrunk_share(2, 2, 8 / 14, 4), 4)
    0.7143
    """
    return (kept + strength * pooled_share) / (of + strength)
