"""Oil lost: whether its intervals hold the truth, and how often something is said of a diff that loses none.

Truth: a diff that loses the same at every run, or nothing; readings scatter about it, share a shift on one day where
that is said, and are rounded to the scale's step. The start is anywhere within a step unless it is said to be on one.
For the loss itself each diff loses up to twice as much as said: one loss of whole steps is rounded the same way always.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import Final, NamedTuple

import numpy as np
from benchmarks.coverages import Case
from numpy.random import Generator
from numpy.typing import NDArray

from bevelbook.formulas.leak import LeakFound, LeakGiven, LeakWeighing, judge_leak, leak
from bevelbook.formulas.leak_rate import runs_after_last
from bevelbook.formulas.readings import Point, reading_of
from bevelbook.physics.weighing import ScaleNoise
from bevelbook.stats.line import t_value

APART: Final = 6.0
LIMIT_G: Final = 0.15
AT_LEAST_95: Final = (0.93, 1.0)
NOT_SEEN: Final = (0.90, 1.0)
"""A difference shows in whole steps: the least that is seen is passed by chance in up to 10 of 100, either way."""
SELDOM: Final = (0.0, 0.01)
AT_MOST_5: Final = (0.0, 0.05)


class Truth(NamedTuple):
    """A diff and a scale: ``tells_s`` is how its repeatability is known, ``tells_day`` whether its term from day to day
    is, ``a_day`` how many weighings a day has."""

    weighings: int
    loss_g_per_run: float
    scatter_g: float
    step_g: float = 0.01
    tells_s: str = "known"
    day_g: float = 0.0
    tells_day: bool = True
    a_day: int = 1
    start_g: float | None = None
    repeats: int = 1


def cases() -> Iterator[Case]:
    yield Case("loss of a tight diff, 2 weighings, s known", "k = 2", partial(loss_holds, truth=Truth(2, 0.0, 0.005)))
    for truth in _OF_A_DATE:
        for start, more in (("", {}), (", start on a step", {"start_g": 18.35})):
            name = f"{truth.weighings} weighings, {truth.loss_g_per_run:g} g a run, s {truth.scatter_g:g}{start}"
            yield Case(f"date, {name}", "95 %", partial(date_holds, truth=truth._replace(**more)))
    for truth in _OF_A_DATE:
        name = f"{truth.weighings} weighings, {truth.loss_g_per_run:g} g a run, s {truth.scatter_g:g} from ten readings"
        yield Case(f"date, {name}", "95 %", partial(date_holds, truth=truth._replace(tells_s="from ten")))
    unknown = Truth(8, 0.003, 0.005, tells_s="not known")
    yield Case("date given, s not known", "none", partial(is_dated, truth=unknown), (0.0, 0.0))
    yield Case("date or at least, 0.0004 g a run", "95 %", partial(date_holds, truth=Truth(6, 0.0004, 0.005)))
    for name, truth in _OF_A_RATE.items():
        yield Case(f"rate, {name}", "95 %", partial(rate_holds, truth=truth))
    for name, truth in _OF_A_LOSS.items():
        yield Case(f"loss, {name}", "k = 2", partial(loss_holds, truth=truth))
        tight = truth._replace(loss_g_per_run=0.0)
        yield Case(
            f"none seen where none is, {name}", "the scale can see ...", partial(none_seen, truth=tight), NOT_SEEN
        )
    coarse = Truth(2, 0.0, 0.01)
    yield Case(
        "none seen where none is, s one step", "the scale can see ...", partial(none_seen, truth=coarse), NOT_SEEN
    )
    for s in (0.002, 0.005, 0.01):
        truth = Truth(6, 0.003, s, tells_s="not known")
        yield Case(
            f"loss, true s {s:g}, not known", "k = 2, one step assumed", partial(loss_holds, truth=truth), AT_LEAST_95
        )
    for tells_s in ("known", "from ten"):
        for weighings in (3, 6, 10):
            tight = Truth(weighings, 0.0, 0.005, tells_s=tells_s)
            name = f"tight, {weighings} weighings, s {tells_s}"
            yield Case(f"one stretch detected, {name}", "5 % at most", partial(is_detected, truth=tight), AT_MOST_5)
            yield Case(f"sudden, in the first or the last, {name}", "0.1 %", partial(is_sudden, truth=tight), SELDOM)
            yield Case(f"one called odd, {name}", "0.1 %", partial(is_odd, truth=tight), SELDOM)
    for weighings in (2, 3, 6, 10):
        of_days = Truth(weighings, 0.0, 0.005, day_g=0.01, tells_day=False)
        name = f"{weighings} weighings, a shift of 0.01 g a day, scale checked on one day"
        lost = partial(loss_holds, truth=of_days._replace(loss_g_per_run=0.003))
        yield Case(f"loss, {name}", "k = 2, one step assumed (said)", lost)
        yield Case(f"one stretch detected, {name}", "5 % at most", partial(is_detected, truth=of_days), AT_MOST_5)
        yield Case(f"sudden or in the last, {name}", "0.1 %", partial(is_sudden, truth=of_days), SELDOM)
    for loss in (0.004, 0.012):
        yield Case(f"runs left from two weighings, {loss:g} g a run", "k = 2", partial(runs_left_hold, loss=loss))


_OF_A_DATE: Final = (
    Truth(5, 0.005, 0.005),
    Truth(6, 0.005, 0.005),
    Truth(8, 0.003, 0.005),
    Truth(10, 0.002, 0.005),
    Truth(12, 0.003, 0.003),
    Truth(6, 0.005, 0.001, step_g=0.001),
)
_OF_A_RATE: Final = {
    "6 weighings, tight": Truth(6, 0.0, 0.005),
    "6 weighings, s from ten readings": Truth(6, 0.004, 0.005, tells_s="from ten"),
    "8 weighings, fine step, s from ten readings": Truth(8, 0.003, 0.005, step_g=0.001, tells_s="from ten"),
    "8 weighings, a shift of 0.01 g a day": Truth(8, 0.003, 0.005, day_g=0.01),
    "9 weighings, three a day, a shift of 0.02 g": Truth(9, 0.003, 0.005, day_g=0.02, a_day=3),
    "6 weighings of three readings each": Truth(6, 0.003, 0.005, repeats=3),
}
_OF_A_LOSS: Final = {
    "6 weighings, s known": Truth(6, 0.003, 0.005),
    "2 weighings, s 0.003 known": Truth(2, 0.003, 0.003),
    "2 weighings, s from ten readings": Truth(2, 0.003, 0.005, tells_s="from ten"),
    "2 weighings, fine step, s from ten readings": Truth(2, 0.003, 0.005, step_g=0.001, tells_s="from ten"),
    "6 weighings, a shift of 0.01 g a day": Truth(6, 0.003, 0.005, day_g=0.01),
    "6 weighings, a shift of 0.02 g a day": Truth(6, 0.003, 0.005, day_g=0.02),
    "4 weighings on one day, a shift of 0.02 g": Truth(4, 0.003, 0.005, day_g=0.02, a_day=4),
    "2 weighings of three readings, a shift of 0.01 g": Truth(2, 0.003, 0.005, day_g=0.01, repeats=3),
}


def _given(
    rng: Generator, count: int, truth: Truth, lost_g_per_run: NDArray[np.float64] | None = None
) -> Iterator[LeakGiven]:
    """``count`` series of weighings, with the oil of which 10 % are the limit; each may have its own loss per run."""
    runs = np.repeat(np.arange(truth.weighings) * APART, truth.repeats)
    days = np.repeat(np.arange(truth.weighings) // truth.a_day, truth.repeats)
    start = rng.uniform(18.0, 19.0, (count, 1)) if truth.start_g is None else np.full((count, 1), truth.start_g)
    shifts = rng.normal(0.0, truth.day_g, (count, truth.weighings))[:, days]
    lost = np.full(count, truth.loss_g_per_run) if lost_g_per_run is None else lost_g_per_run
    shown = start - np.outer(lost, runs) + shifts + rng.normal(0.0, truth.scatter_g, (count, len(runs)))
    masses = np.round(shown / truth.step_g) * truth.step_g
    for of_one, s in zip(masses.tolist(), _told_s(rng, count, truth), strict=True):
        yield LeakGiven(
            weighings=tuple(
                LeakWeighing(runs=at, mass_g=mass_g, day=f"day {day}")
                for at, mass_g, day in zip(runs.tolist(), of_one, days.tolist(), strict=True)
            ),
            scale_step_g=truth.step_g,
            repeatability_g=s,
            oil_mass_g=10.0 * LIMIT_G,
            day_to_day_g=truth.day_g if truth.tells_day else None,
        )


def _told_s(rng: Generator, count: int, truth: Truth) -> list[float | None]:
    """What is known of the repeatability; from ten readings as a check of the scale keeps it: widened by t / 1.96, and
    without the rounding that every mass counts by itself."""
    if truth.tells_s == "not known":
        return [None] * count
    if truth.tells_s == "known":
        return [truth.scatter_g] * count
    place = rng.uniform(0.0, truth.step_g, (count, 1))
    shown = np.round((place + rng.normal(0.0, truth.scatter_g, (count, 10))) / truth.step_g) * truth.step_g
    widened = (t_value(9) / 1.96) ** 2 * shown.var(axis=1, ddof=1)
    kept: list[float | None] = np.sqrt(np.maximum(widened - truth.step_g**2 / 12.0, 0.0)).tolist()
    return kept


def _of_each(
    rng: Generator, count: int, truth: Truth, ask: Callable[[LeakGiven, LeakFound], bool | None]
) -> list[bool]:
    """The answers of those that have one."""
    answers = (ask(given, leak(given)) for given in _given(rng, count, truth))
    return [one for one in answers if one is not None]


def date_holds(rng: Generator, count: int, truth: Truth) -> list[bool]:
    at = LIMIT_G / truth.loss_g_per_run

    def ask(_: LeakGiven, found: LeakFound) -> bool | None:
        low, high = found.runs_to_limit_low, found.runs_to_limit_high
        return None if low is None else low <= at and (high is None or at <= high)

    return _of_each(rng, count, truth, ask)


def is_dated(rng: Generator, count: int, truth: Truth) -> list[bool]:
    return _of_each(rng, count, truth, lambda _, found: found.runs_to_limit_low is not None)


def rate_holds(rng: Generator, count: int, truth: Truth) -> list[bool]:
    def ask(_: LeakGiven, found: LeakFound) -> bool | None:
        low, high = found.loss_low_g_per_run, found.loss_high_g_per_run
        return None if low is None or high is None else low <= truth.loss_g_per_run <= high

    return _of_each(rng, count, truth, ask)


def loss_holds(rng: Generator, count: int, truth: Truth) -> list[bool]:
    lost = rng.uniform(0.0, 2.0 * truth.loss_g_per_run, count)
    held = []
    for given, true_g in zip(_given(rng, count, truth, lost), lost * APART * (truth.weighings - 1), strict=True):
        found = leak(given)
        held.append(bool(found.loss_low_g <= true_g <= found.loss_high_g))
    return held


def none_seen(rng: Generator, count: int, truth: Truth) -> list[bool]:
    """A difference that is not there is under the smallest loss seen, either way."""
    return _of_each(rng, count, truth, lambda _, found: abs(found.loss_g) <= found.smallest_loss_seen_g)


def is_detected(rng: Generator, count: int, truth: Truth) -> list[bool]:
    return _of_each(rng, count, truth, lambda _, found: any(row.detected == "yes" for row in found.rows))


def _says(rng: Generator, count: int, truth: Truth, words: tuple[str, ...]) -> list[bool]:
    def ask(given: LeakGiven, found: LeakFound) -> bool:
        return any(word in reason for word in words for reason in judge_leak(given, found).reasons)

    return _of_each(rng, count, truth, ask)


def is_sudden(rng: Generator, count: int, truth: Truth) -> list[bool]:
    return _says(rng, count, truth, ("sudden", "by the last weighing alone", "by the first weighing alone"))


def is_odd(rng: Generator, count: int, truth: Truth) -> list[bool]:
    return _says(rng, count, truth, ("off its neighbours", "which of them to count"))


def runs_left_hold(rng: Generator, count: int, loss: float) -> NDArray[np.bool_]:
    """Two weighings ten runs apart; the limit is passed when it is lost for certain, and then nothing is printed."""
    scale, over = ScaleNoise(0.01, 0.005), 10.0
    start = rng.uniform(18.0, 19.0, count)
    first, last = (
        np.round((start - lost + rng.normal(0.0, 0.005, count)) / 0.01) * 0.01 for lost in (0.0, loss * over)
    )
    true_left, held = LIMIT_G / loss - over, []
    for one, other in zip(first.tolist(), last.tolist(), strict=True):
        uncertainty = reading_of(0.0, one, scale).variance_g2 ** 0.5
        points = [Point(at, mass_g, uncertainty) for at, mass_g in ((0.0, one), (over, other))]
        left = runs_after_last(points[0], points[0], points[1], LIMIT_G)
        held.append(left.low <= true_left and (left.high is None or true_left <= left.high))
    return np.array(held)
