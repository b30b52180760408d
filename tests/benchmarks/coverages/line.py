"""Where a line reaches a value, with its inversion (Fieller) interval, alone: points off by a normal scatter.

Where the slope is not significant there is no interval: any value fits, and the simulation counts as held. That is what
the method promises; of those that are printed fewer hold where many are not, which is for whoever prints one.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np
from benchmarks.coverages import Case
from numpy.random import Generator

from bevelbook.stats.line import straight_line, t_value, where_line_reaches

SLOPE = -0.004


def cases() -> Iterator[Case]:
    for points, scatter, beyond in ((5, 0.002, 1.0), (5, 0.02, 1.0), (8, 0.01, 1.5), (12, 0.003, 2.0), (30, 0.02, 1.5)):
        name = f"{points} points, scatter {scatter} g, reached at {beyond:g} times the last"
        given = {"points": points, "scatter": scatter}
        yield Case(f"where the line reaches, {name}", "95 %", partial(reach_holds, beyond=beyond, **given))
        yield Case(f"slope, {name}", "95 %", partial(slope_holds, **given))


def reach_holds(rng: Generator, count: int, points: int, scatter: float, beyond: float) -> list[bool]:
    x = np.linspace(0.0, 6.0 * (points - 1), points)
    true = beyond * float(x[-1])
    held = []
    for _ in range(count):
        found = where_line_reaches(
            straight_line(list(x), list(SLOPE * x + rng.normal(0.0, scatter, points))), SLOPE * true
        )
        held.append(found.low is None or found.high is None or found.low <= true <= found.high)
    return held


def slope_holds(rng: Generator, count: int, points: int, scatter: float) -> list[bool]:
    x = np.linspace(0.0, 6.0 * (points - 1), points)
    held = []
    for _ in range(count):
        line = straight_line(list(x), list(SLOPE * x + rng.normal(0.0, scatter, points)))
        held.append(abs(line.slope - SLOPE) <= t_value(line.degrees_of_freedom) * line.slope_error)
    return held
