"""Intervals for shares of a few yes-or-no outcomes, independent of each other.

A few outcomes are whole numbers, so that the share of intervals that hold the truth jumps with the true share; what the
methods promise is 95 % in the mean over true shares (Newcombe, Statistics in Medicine 17 (1998) 857 and 873). Each
simulation therefore draws its true shares, evenly from 0 to 1.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache, partial

import numpy as np
from benchmarks.coverages import Case
from numpy.random import Generator
from numpy.typing import NDArray

from bevelbook.stats.proportions import newcombe_interval, wilson_interval

OF = (3, 4, 8, 12, 30)


def cases() -> Iterator[Case]:
    for of in OF:
        yield Case(f"share of {of}", "95 %", partial(wilson_holds, of=of), count=20_000)
    for of in OF:
        yield Case(f"difference of shares of {of}", "95 %", partial(newcombe_holds, of=of), count=20_000)


def wilson_holds(rng: Generator, count: int, of: int) -> NDArray[np.bool_]:
    share = rng.uniform(0.0, 1.0, count)
    low, high = np.array([wilson_interval(kept, of) for kept in range(of + 1)])[rng.binomial(of, share)].T
    return (low <= share) & (share <= high)


def newcombe_holds(rng: Generator, count: int, of: int) -> NDArray[np.bool_]:
    share_a, share_b = rng.uniform(0.0, 1.0, (2, count))
    low, high = _differences(of)[rng.binomial(of, share_a), rng.binomial(of, share_b)].T
    return (low <= share_a - share_b) & (share_a - share_b <= high)


@cache
def _differences(of: int) -> NDArray[np.float64]:
    return np.array([[newcombe_interval(a, of, b, of) for b in range(of + 1)] for a in range(of + 1)])
