"""False alarms of charts of good fills, and of the mean that is poured too much; fills read as a team reads them.

Each fill is the difference of two readings in steps of 0.01 g; the hand's spread runs from a fifth of a step, where
nearly all fills read alike, to five steps.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np
from benchmarks.coverages import Case
from numpy.random import Generator
from numpy.typing import NDArray

from bevelbook_plugins.fill_repeatability import (
    CHART_ALARMS,
    FALSE_ALARMS,
    Fill,
    RepeatabilityGiven,
    between,
    individuals_chart,
    judge_repeatability,
    repeatability,
)

STEP_G = 0.01


def cases() -> Iterator[Case]:
    for fills, share in FALSE_ALARMS:
        simulate = partial(next_fill_is_outside, fills=fills)
        allowed = (share - 0.004, share + 0.004)
        yield Case(f"next good fill outside, {fills} fills", f"{100 * share:g} %", simulate, allowed, 20_000)
    for fills in (5, 6, 10, 20, 30, 50):
        share = between(CHART_ALARMS, fills)
        for spread in (0.2, 0.6, 1.0, 2.0, 5.0):
            name = f"false alarm on a chart of {fills}, spread of {spread:g} steps"
            simulate = partial(chart_has_alarm, fills=fills, spread=spread)
            yield Case(name, f"{100 * share:.1f} % at most", simulate, allowed=(0.0, share + 0.012), count=4000)
    for fills in (6, 10, 20, 50):
        for spread in (0.6, 1.0, 5.0):
            name = f"mean of {fills}, spread of {spread:g} steps: too much said of none"
            yield Case(name, "5 % at most", partial(mean_is_off, fills=fills, spread=spread), allowed=(0.0, 0.07))


def next_fill_is_outside(rng: Generator, count: int, fills: int) -> NDArray[np.bool_]:
    outside = np.empty(count, dtype=bool)
    for turn, row in enumerate(rng.normal(0.0, 1.0, (count, fills + 1)).tolist()):
        chart = individuals_chart(row[:-1])
        outside[turn] = not chart.low <= row[-1] <= chart.high
    return outside


def chart_has_alarm(rng: Generator, count: int, fills: int, spread: float) -> list[bool]:
    return [
        judge_repeatability(given, repeatability(given)).verdict != "ok" for given in _good(rng, count, fills, spread)
    ]


def mean_is_off(rng: Generator, count: int, fills: int, spread: float) -> list[bool]:
    return [
        any("is poured" in one for one in judge_repeatability(given, repeatability(given)).findings)
        for given in _good(rng, count, fills, spread)
    ]


def _good(rng: Generator, count: int, fills: int, spread: float) -> Iterator[RepeatabilityGiven]:
    """Charts of fills that are right on the mean."""
    dry_g = rng.uniform(12.0, 13.0, (count, fills))
    filled_g = dry_g + rng.normal(0.0, spread * STEP_G, (count, fills))
    read_g = np.round(filled_g / STEP_G) * STEP_G - np.round(dry_g / STEP_G) * STEP_G
    for row in read_g.tolist():
        yield RepeatabilityGiven(fills=tuple(Fill(difference_g=round(one, 2)) for one in row), scale_step_g=STEP_G)
