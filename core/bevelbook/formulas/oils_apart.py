"""Two oils that were not run alike: in other weather, at another place or at another time, so that this may be what
made the difference between them.

Two oils are apart in something that has an order (temperature, grip, time) if it was larger in at least three of four
pairs of a day of one with a day of the other (the U statistic of Mann and Whitney, as a share). In simulations of calls
that go by the weather or by the time alone, no oil being better, at most 4 of 100 seasons showed a difference without
this caution (2,000 seasons each); with each day counted and nothing asked 21 to 88 did.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from math import fsum
from typing import Final, NamedTuple

from bevelbook.formulas.conditions import GRIP_INDEX
from bevelbook.formulas.oil_days import order_of
from bevelbook.stats.spread import mean

LITTLE_OVERLAP: Final = 0.75
"""Share of pairs of days from which two oils are apart (our own figure)."""
WARMER_C: Final = 2.0
"""Difference of mean temperatures from which two oils may be apart by it (our own figure)."""
GRIPPIER: Final = 0.1
"""The same of grip, half a step (our own figure)."""


class RunOfOil(NamedTuple):
    """When and where an oil was run; the temperature in °C is that of the track, or of the diff for all."""

    day: str
    temperature_c: float
    grip: str
    position: str | None = None
    surface: str | None = None


class RunsOfOil(NamedTuple):
    """An oil as people name it, and its runs."""

    name: str
    runs: Sequence[RunOfOil]

    def by_day(self, value: Callable[[RunOfOil], float]) -> list[float]:
        """The mean of a value on each day."""
        days: dict[str, list[float]] = {}
        for run in self.runs:
            days.setdefault(run.day, []).append(value(run))
        return [fsum(of_day) / len(of_day) for of_day in days.values()]


def share_larger(one: Sequence[float], other: Sequence[float]) -> float:
    """The share of pairs in which the value of the other is larger; equal ones count half. Valid from one of each.

    >>> share_larger([1.0, 2.0], [2.0, 3.0])
    0.875
    """
    pairs = [(a, b) for a in one for b in other]
    return sum(1.0 if b > a else 0.5 if a == b else 0.0 for a, b in pairs) / len(pairs)


def are_apart(one: Sequence[float], other: Sequence[float], more_than: float = 0.0) -> bool:
    """Whether the values of two oils hardly overlap, and differ by more than that in the mean.

    >>> are_apart([27.0, 27.5, 27.0], [33.0, 33.0, 32.0], WARMER_C), are_apart([27.0, 33.0], [28.0, 32.0], WARMER_C)
    (True, False)
    """
    share = share_larger(one, other)
    return abs(mean(other) - mean(one)) > more_than and max(share, 1.0 - share) >= LITTLE_OVERLAP


def what_else_differed(one: RunsOfOil, other: RunsOfOil, of_diff: bool = False) -> Iterator[str]:
    """What was different beside the oil, in words; ``of_diff`` says that the temperatures are those of the diff.

    >>> thin = RunsOfOil("5,000", [RunOfOil(f"2026-05-0{day}", 27.0, "low") for day in (1, 3, 5)])
    >>> thick = RunsOfOil("10,000", [RunOfOil(f"2026-05-0{day}", 33.0, "low") for day in (2, 4, 6)])
    >>> list(what_else_differed(thin, thick))
    ['5,000 was run at 27 °C and 10,000 at 33 °C: the weather may be the difference; run both on one day']
    """
    temperatures = [oil.by_day(lambda run: run.temperature_c) for oil in (one, other)]
    if are_apart(temperatures[0], temperatures[1], WARMER_C):
        may = "what warmed the diff" if of_diff else "the weather"
        yield _worded(one, other, [f"at {_span(of)}" for of in temperatures], may, "on one day")
    grips = [oil.by_day(lambda run: GRIP_INDEX[run.grip]) for oil in (one, other)]
    if are_apart(grips[0], grips[1], GRIPPIER):
        yield _worded(one, other, [f"on {_grips(oil)} grip" for oil in (one, other)], "the grip", "on one day")
    positions = [{run.position for run in oil.runs} for oil in (one, other)]
    if _are_others(*positions):
        where = [f"in the {' and '.join(sorted(map(str, of)))}" for of in positions]
        yield _worded(one, other, where, "the place in the car", "in one place")
    surfaces = [{run.surface for run in oil.runs} for oil in (one, other)]
    if _are_others(*surfaces):
        where = [f"on {' and '.join(sorted(map(str, of)))}" for of in surfaces]
        yield _worded(one, other, where, "the surface", "on one of them")
    yield from _in_time(one, other)


def _in_time(one: RunsOfOil, other: RunsOfOil) -> Iterator[str]:
    order = order_of(run.day for oil in (one, other) for run in oil.runs)
    if order is None:
        return
    times = [oil.by_day(lambda run: order[run.day]) for oil in (one, other)]
    if not are_apart(times[0], times[1]):
        return
    first, last = (one, other) if mean(times[0]) < mean(times[1]) else (other, one)
    is_all = max(times[0]) < min(times[1]) or max(times[1]) < min(times[0])
    how = "" if is_all else "mostly "
    yield f"{how}first {first.name}, then {last.name}: what else changed since? Run both at one meeting, in turn"


def _are_others(one: set[str | None], other: set[str | None]) -> bool:
    return None not in one | other and not one & other


def _worded(one: RunsOfOil, other: RunsOfOil, where: Sequence[str], what: str, together: str) -> str:
    return (
        f"{one.name} was run {where[0]} and {other.name} {where[1]}: {what} may be the difference; run both {together}"
    )


def _span(values: Sequence[float]) -> str:
    low, high = f"{min(values):.0f}", f"{max(values):.0f}"
    return f"{low} °C" if low == high else f"{low} to {high} °C"


def _grips(oil: RunsOfOil) -> str:
    return " and ".join(grip for grip in GRIP_INDEX if any(run.grip == grip for run in oil.runs))
