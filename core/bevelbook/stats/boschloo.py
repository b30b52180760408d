"""Boschloo's exact test of two shares, in whole numbers: a library's own takes a second and more to load."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from math import comb, exp, log
from typing import Final

_STEPS: Final = 200
"""Between 0 and 1, where the largest chance is looked for first; it has no narrower hill up to a few hundred days."""
_BEST: Final = 3
_NARROWED: Final = 60


@lru_cache(maxsize=256)
def chance_both_ways(kept_a: int, of_a: int, kept_b: int, of_b: int) -> float:
    """The chance of two shares at least this far apart, either way, if the true ones are equal.

    Twice the larger of all chances, over the true share, of a pair that Fisher's test of "a is larger" finds as
    unlikely as this one or more so; at most 1. Valid for 0 <= kept <= of, of >= 1, where the share of a is the larger.

    Source: Boschloo, Statistica Neerlandica 24(1) (1970); twice the smaller side as scipy.stats.boschloo_exact has it.

    >>> round(chance_both_ways(3, 3, 0, 3), 5)
    0.03125
    """
    tails = {kept: _tails(of_a, of_b, kept) for kept in range(of_a + of_b + 1)}
    seen = kept_a + kept_b
    as_unlikely, of_seen = tails[seen][kept_a], comb(of_a + of_b, seen)
    ways: dict[int, float] = {}
    for kept, tail in tails.items():
        of_kept = comb(of_a + of_b, kept)
        counted = sum(
            comb(of_a, a) * comb(of_b, kept - a)
            for a, weight in tail.items()
            if weight * of_seen <= as_unlikely * of_kept
        )
        if counted:
            ways[kept] = log(counted)
    return min(1.0, 2.0 * _largest(lambda share: _chance(ways, of_a + of_b, share)))


def _tails(of_a: int, of_b: int, kept: int) -> dict[int, int]:
    """In how many ways a, or more, of those kept are of the first group, by a."""
    found, ways = dict[int, int](), 0
    for a in range(min(of_a, kept), max(0, kept - of_b) - 1, -1):
        ways += comb(of_a, a) * comb(of_b, kept - a)
        found[a] = ways
    return found


def _chance(ways: dict[int, float], of: int, share: float) -> float:
    """The chance of those outcomes, given the logarithm of their ways by how many are kept, at one true share."""
    if not 0.0 < share < 1.0:
        return 1.0 if (of if share else 0) in ways else 0.0
    kept, lost = log(share), log(1.0 - share)
    return sum(exp(one + number * kept + (of - number) * lost) for number, one in ways.items())


def _largest(chance: Callable[[float], float]) -> float:
    """The largest value between 0 and 1 of a function with a few smooth hills."""
    at = [(chance(step / _STEPS), step / _STEPS) for step in range(_STEPS + 1)]
    return max(_top_near(chance, share) for _, share in sorted(at, reverse=True)[:_BEST])


def _top_near(chance: Callable[[float], float], share: float) -> float:
    low, high = max(0.0, share - 1.0 / _STEPS), min(1.0, share + 1.0 / _STEPS)
    for _ in range(_NARROWED):
        left, right = low + (high - low) / 3.0, high - (high - low) / 3.0
        low, high = (left, high) if chance(left) < chance(right) else (low, right)
    return max(chance((low + high) / 2.0), chance(share))
