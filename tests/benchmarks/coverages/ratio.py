"""The 95 % interval of fluid-ratio: times stopped by hand, the oils up to 0.5 K apart, evenly.

Times and temperatures are drawn as the calculator says that they may be off; where it is to find the hand's scatter in
the times themselves the true scatter is another one than the 0.5 s that it assumes for one or two.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np
from benchmarks.coverages import Case
from numpy.random import Generator
from numpy.typing import NDArray

from bevelbook.formulas.hand_timing import HAND_S
from bevelbook.physics.viscosity import viscosity_ratio
from bevelbook_plugins.fluid_ratio import RatioGiven, Timed, compare

AT_C = 21.0
APART_K = 0.5
TIMES = ((33.0, 37.4), (120.0, 126.0), (600.0, 620.0))


def cases() -> Iterator[Case]:
    for seconds in TIMES:
        for counts, hand_s in (
            ((1, 1), HAND_S),
            ((2, 1), HAND_S),
            ((3, 1), HAND_S),
            ((3, 3), HAND_S),
            ((3, 3), 0.1),
            ((3, 3), 1.5),
            ((5, 4), 0.2),
        ):
            a_s, b_s = seconds
            name = f"{counts[0]} of {a_s:g} s, {counts[1]} of {b_s:g} s, a hand of {hand_s:g} s"
            simulate = partial(ratio_holds, seconds=seconds, counts=counts, hand_s=hand_s)
            yield Case(name, "95 %", simulate, count=4000)
    yield Case("difference between equal oils, 1 and 1 time", "5 %", equal_oils_differ, allowed=(0.02, 0.07))


def ratio_holds(
    rng: Generator, count: int, seconds: tuple[float, float], counts: tuple[int, int], hand_s: float
) -> NDArray[np.bool_]:
    true = seconds[1] / seconds[0]
    held = np.empty(count, dtype=bool)
    for turn in range(count):
        found = compare(_timed(rng, seconds, counts, hand_s))
        held[turn] = found.ratio_low <= true <= found.ratio_high
    return held


def equal_oils_differ(rng: Generator, count: int) -> list[bool]:
    return [compare(_timed(rng, (33.0, 33.0), (1, 1), HAND_S)).thicker != "cannot tell" for _ in range(count)]


def _timed(rng: Generator, seconds: tuple[float, float], counts: tuple[int, int], hand_s: float) -> RatioGiven:
    """Times of both oils, b warmer by an even error; shown by the watch to 0.01 s."""
    warmer = viscosity_ratio(AT_C + float(rng.uniform(-APART_K, APART_K)), AT_C)
    times = []
    for name, true_s, of in zip("ab", seconds, counts, strict=True):
        shown = true_s * (warmer if name == "b" else 1.0) + rng.normal(0.0, hand_s, of)
        times += [Timed(fluid=name, time_s=round(float(one), 2)) for one in shown]
    return RatioGiven(times=tuple(times), temperature_c=AT_C, temperature_difference_k=APART_K)
