"""run-comparison: whether its interval holds the true difference, and how often equal builds are called different.

A pattern is the order of a day, such as ``abba``; several are days (or drivers) with levels some 0.3 s apart.
``drifts`` are seconds per run, one for each day; ``grip`` is what a day starts slower by, gone by a factor e every two
runs; ``hanging`` is how much of a run's deviation is in the next one too.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from functools import partial
from typing import Any

import numpy as np
from benchmarks.coverages import Case
from numpy.random import Generator
from numpy.typing import NDArray

from bevelbook.declare.errors import InputError
from bevelbook.formulas.lap_comparison import compare_laps, judge_laps
from bevelbook.formulas.lap_standing import LapComparisonGiven, RunsCompared, compared_runs
from bevelbook.formulas.timed_runs import TimedRun

TURNS = ("abbaabba",)
BLOCKS = ("aaaabbbb",)
FALSE_ALARM = (0.0, 0.07)
NEVER = (0.0, 0.0004)
"""None of 2,000."""
UNSTEADY = "95 %, a steady drift taken out"
"""What the text says beside the interval."""


def cases() -> Iterator[Case]:
    yield Case("ok with the wrong sign, a a a a b b b b, drift 0.05", "never", _wrong_sign(BLOCKS), NEVER)
    yield Case("ok with the wrong sign, a b b a a b b a, drift 0.05", "never", _wrong_sign(TURNS), NEVER)
    for pattern in ("aaaabbbb", "abbaabba", "abababab", "aaabbb", "aabb", "abba"):
        for drift in (0.0, 0.05):
            yield Case(
                f"interval, {_spaced(pattern)}, drift {drift:g}",
                "95 %",
                partial(holds, patterns=(pattern,), drifts=(drift,)),
            )
    for patterns, drifts in (
        (("abba", "abba"), (0.05, -0.03)),
        (("aabb", "bbaa"), (0.05, -0.03)),
        (("abba", "baab", "abba"), (0.03, 0.0, -0.05)),
        (("ab", "ba", "ab", "ba"), (0.03, 0.03, 0.03, 0.03)),
        (("ab", "ba", "ab", "ba"), (0.02, 0.03, -0.03, 0.0)),
        (("abb", "baa"), (0.02, 0.05)),
    ):
        named = f"{'; '.join(map(_spaced, patterns))}, drifts {', '.join(f'{drift:g}' for drift in drifts)}"
        yield Case(f"interval, days {named}", "95 %", partial(holds, patterns=patterns, drifts=drifts))
    yield Case(
        "interval, two drivers on each of two days",
        "95 %",
        partial(holds, patterns=("abba", "baab", "abba", "baab"), drifts=(0.05, 0.0, -0.03, 0.02), drivers=2),
    )
    yield Case(
        "interval, a b b b b b b a, grip comes in, 0.3 s (a caution)",
        "95 % if the drift was steady",
        partial(holds, patterns=("abbbbbba",), grip=0.3),
        (0.0, 1.0),
    )
    for patterns in (BLOCKS, TURNS, ("abba",)):
        for words, more in (("grip comes in, 0.3 s", {"grip": 0.3}), ("times hang together, 0.6", {"hanging": 0.6})):
            yield Case(
                f"interval, {_spaced(patterns[0])}, {words}",
                UNSTEADY,
                partial(holds, patterns=patterns, **more),
                (0.8, 1.0),
            )
    for pattern in ("aaaabbbb", "abbaabba", "abababab", "abba", "abbbbbba", "abbbaab"):
        for words, more in (
            ("no drift", {}),
            ("drift 0.05", {"drifts": (0.05,)}),
            ("grip comes in, 0.3 s", {"grip": 0.3}),
            ("grip comes in, 0.1 s", {"grip": 0.1}),
            ("times hang together, 0.6", {"hanging": 0.6}),
        ):
            yield Case(
                f"equal builds called different (ok), {_spaced(pattern)}, {words}",
                "5 %",
                partial(said_ok, patterns=(pattern,), **more),
                FALSE_ALARM,
            )
    yield Case(
        "decided, a b b a a b b a, b 0.1 s faster, drift 0.03", "most", partial(decided, scatter=0.02), (0.95, 1.0)
    )
    yield Case("as timed, a b b a a b b a, no drift", "95 % only if nothing drifted", plain_holds, (0.93, 0.98))
    yield Case("a good lap asked about, a b b a a b b a", "1 %", asked_about, (0.0, 0.02))
    yield Case("a lap 0.5 s off asked about, scatter 0.03", "most", partial(asked_about, crash=0.5), (0.95, 1.0))


def _spaced(pattern: str) -> str:
    return " ".join(pattern)


def _wrong_sign(patterns: Sequence[str]) -> Any:
    return partial(wrong_sign, patterns=patterns, drifts=(0.05,), scatter=0.02)


def times_of(
    rng: Generator,
    count: int,
    patterns: Sequence[str],
    difference: float = 0.0,
    drifts: Sequence[float] = (),
    scatter: float = 0.03,
    grip: float | Sequence[float] = 0.0,
    hanging: float = 0.0,
) -> NDArray[np.float64]:
    """Times of all runs, a row for each simulation, as they are written down: to 0.001 s."""
    runs = sum(map(len, patterns))
    noise = rng.normal(0.0, 1.0, (count, runs))
    start = 0
    times = np.full((count, runs), 15.6)
    grips = [grip] * len(patterns) if isinstance(grip, float) else grip
    for pattern, drift, gained in zip(patterns, drifts or [0.0] * len(patterns), grips, strict=True):
        end = start + len(pattern)
        for place in range(start + 1, end):
            noise[:, place] = hanging * noise[:, place - 1] + (1.0 - hanging**2) ** 0.5 * noise[:, place]
        places = np.arange(len(pattern))
        times[:, start:end] += drift * places + gained * np.exp(-places / 2.0)
        times[:, start:end] += difference * np.array([group == "b" for group in pattern])
        times[:, start:end] += rng.normal(0.0, 0.3, (count, 1)) if len(patterns) > 1 else 0.0
        start = end
    return np.round(times + scatter * noise, 3)


def givens(times: NDArray[np.float64], patterns: Sequence[str], drivers: int = 1) -> Iterator[LapComparisonGiven]:
    """The inputs of each simulation."""
    places = [
        (group, order, f"day {number // drivers}", f"driver {number % drivers}")
        for number, pattern in enumerate(patterns)
        for order, group in enumerate(pattern, start=1)
    ]
    for row in times.tolist():
        runs = tuple(
            TimedRun(group=group, order=order, time_s=time, day=day, driver=driver)
            for (group, order, day, driver), time in zip(places, row, strict=True)
        )
        yield LapComparisonGiven(runs=runs, also_changed="nothing")


def compared(times: NDArray[np.float64], patterns: Sequence[str], drivers: int = 1) -> Iterator[RunsCompared]:
    """What the tool makes of each simulation; one that it refuses (all times of a group equal) is left out."""
    for given in givens(times, patterns, drivers):
        with suppress(InputError):
            yield compared_runs(given)


def verdicts(times: NDArray[np.float64], patterns: Sequence[str]) -> list[str]:
    """The verdict of each simulation."""
    return [judge_laps(given, compare_laps(given)).verdict for given in givens(times, patterns)]


def holds(
    rng: Generator, count: int, patterns: Sequence[str], difference: float = -0.1, drivers: int = 1, **more: Any
) -> list[bool]:
    """Whether the interval of the model holds the true difference."""
    intervals = (
        one.difference for one in compared(times_of(rng, count, patterns, difference, **more), patterns, drivers)
    )
    return [one.low <= difference <= one.high for one in intervals if one is not None]


def plain_holds(rng: Generator, count: int) -> list[bool]:
    """Whether the second line holds the true difference where nothing drifted."""
    return [one.plain.low <= -0.1 <= one.plain.high for one in compared(times_of(rng, count, TURNS, -0.1), TURNS)]


def said_ok(rng: Generator, count: int, patterns: Sequence[str], **more: Any) -> list[bool]:
    """Whether equal builds get the verdict ok."""
    return [one.standing == "decided" for one in compared(times_of(rng, count, patterns, **more), patterns)]


def wrong_sign(rng: Generator, count: int, patterns: Sequence[str], **more: Any) -> list[bool]:
    """Whether a build 0.1 s faster is called slower with the verdict ok."""
    found = compared(times_of(rng, count, patterns, -0.1, **more), patterns)
    return [one.standing == "decided" and one.difference is not None and one.difference.value > 0 for one in found]


def decided(rng: Generator, count: int, scatter: float) -> list[bool]:
    """Whether a build 0.1 s faster is found so in turn, with a drift larger than the difference."""
    times = times_of(rng, count, TURNS, -0.1, drifts=(0.03,), scatter=scatter)
    return [one.standing == "decided" for one in compared(times, TURNS)]


def asked_about(rng: Generator, count: int, crash: float = 0.0) -> list[bool]:
    """Whether a time is asked about; with ``crash`` the fifth run is so many seconds slower."""
    times = times_of(rng, count, TURNS)
    times[:, 4] += crash
    return [one.standing == "odd" for one in compared(times, TURNS)]
