"""run-comparison: whether its interval holds the true difference, and how often equal builds are called different.

A pattern is the order of a day, such as ``abba``; several are days (or drivers) with levels some 0.3 s apart.
``drifts`` are seconds per run, one for each day; ``grip`` is what a day starts slower by, gone by a factor e every two
runs; ``hanging`` is how much of a run's deviation is in the next one too.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from typing import Any

import numpy as np
from benchmarks.coverages import NEAR_95, Case
from numpy.random import Generator
from numpy.typing import NDArray

from bevelbook.formulas.lap_comparison import compare_laps, judge_laps
from bevelbook.formulas.lap_standing import ASK, COUNT, LapComparisonGiven, RunsCompared, compared_runs
from bevelbook.formulas.timed_runs import TimedRun

TURNS = ("abbaabba",)
BLOCKS = ("aaaabbbb",)
BLOCKED = ("aaaabbbb", "aaabbb", "aabb")
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
                "about 95 %" if pattern in BLOCKED else "95 %",
                partial(holds, patterns=(pattern,), drifts=(drift,)),
                (0.93, 0.99) if pattern in BLOCKED else NEAR_95,
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
    yield from unlike_scatter()
    yield from days_of_one_order()
    yield from jumps()
    for step, scatter in ((0.1, 0.03), (0.1, 0.06), (0.1, 0.005)):
        yield Case(
            f"interval, a b b a a b b a, times to {step:g} s, scatter {scatter:g}",
            "95 %, at least a step where no scatter shows",
            partial(holds, patterns=TURNS, difference=-0.07, step=step, scatter=scatter),
            (0.93, 1.0),
        )
    yield Case(
        "equal builds called different (ok) at one of four looks, a b b a repeated",
        "about 10 %",
        looked_again,
        (0.07, 0.13),
        1000,
    )
    yield Case(
        "decided, a b b a a b b a, b 0.1 s faster, drift 0.03", "most", partial(decided, scatter=0.02), (0.95, 1.0)
    )
    yield Case("as timed, a b b a a b b a, no drift", "95 % only if nothing drifted", plain_holds, (0.93, 0.98))
    yield Case("a good lap asked about, a b b a a b b a", "1 %", asked_about, (0.0, 0.02))
    yield Case("a lap 0.5 s off asked about, scatter 0.03", "most", partial(asked_about, crash=0.5), (0.95, 1.0))


def unlike_scatter() -> Iterator[Case]:
    """As many runs of each, and two against six, where a scatters more or less than b; all were timed right."""
    for patterns, allowed in (
        (("abbaabba",), NEAR_95),
        (("abba", "baab"), NEAR_95),
        (("abbabba",), (0.87, 0.98)),
        (("bbabbabb",), (0.88, 1.0)),
        (("abbbbbba",), (0.86, 1.0)),
        (("abba",), (0.88, 0.97)),
    ):
        named = "; ".join(map(_spaced, patterns))
        for of_a, of_b in ((0.03, 0.03), (0.06, 0.03), (0.1, 0.03), (0.2, 0.02), (0.03, 0.1)):
            more = {"patterns": patterns, "scatter": of_b, "scatter_a": of_a, "odd": COUNT}
            yield Case(
                f"interval, {named}, scatter of a {of_a:g}, of b {of_b:g}",
                "95 %" if allowed == NEAR_95 else "as the valid range says",
                partial(holds, **more),
                allowed,
            )
            yield Case(
                f"equal builds called different (ok), {named}, scatter of a {of_a:g}, of b {of_b:g}",
                "5 %",
                partial(said_ok, **more),
                (0.0, 0.08),
            )


def days_of_one_order() -> Iterator[Case]:
    """Grip that comes in fast on each of several days."""
    for patterns in (("abba",) * 3, ("abba",) * 5, ("aba",) * 4, ("abab",) * 3, ("abba", "baab") * 2):
        for grip in (0.1, 0.3):
            yield Case(
                f"equal builds: a winner named (ok or caution), {'; '.join(map(_spaced, patterns))}, grip {grip:g} s",
                "5 %",
                partial(named_a_winner, patterns=patterns, grip=grip),
                FALSE_ALARM,
            )


def jumps() -> Iterator[Case]:
    """Something changes once, in the middle of the first day."""
    yield Case(
        "interval, a a a a b b b b, a jump of 0.15 s (a caution)",
        "about 41 %",
        partial(holds, patterns=BLOCKS, jump=0.15),
        (0.3, 0.5),
    )
    for patterns in (BLOCKS, TURNS, ("abababab",), ("aabb", "bbaa"), ("aaabbb", "bbbaaa")):
        for jump in (0.1, 0.15, 0.3):
            yield Case(
                f"equal builds called different (ok), {'; '.join(map(_spaced, patterns))}, a jump of {jump:g} s",
                "5 %",
                partial(said_ok, patterns=patterns, jump=jump),
                FALSE_ALARM,
            )


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
    scatter_a: float | None = None,
    jump: float = 0.0,
    step: float = 0.001,
) -> NDArray[np.float64]:
    """Times of all runs, a row for each simulation, as they are written down.

    ``scatter`` is that of both groups or, with ``scatter_a``, of b; ``jump`` comes in the middle of the first day;
    ``step`` is what times are read to.
    """
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
    times[:, len(patterns[0]) // 2 : len(patterns[0])] += jump
    is_a = np.array([group == "a" for group in "".join(patterns)])
    times += noise * np.where(is_a, scatter if scatter_a is None else scatter_a, scatter)
    if step > 0.001:
        times += rng.uniform(-step / 2.0, step / 2.0, (count, 1))
    return np.round(np.round(times / step) * step, 3)


def givens(
    times: NDArray[np.float64], patterns: Sequence[str], drivers: int = 1, odd: str = ASK
) -> Iterator[LapComparisonGiven]:
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
        yield LapComparisonGiven(runs=runs, also_changed="nothing", odd_times=odd)


def compared(
    times: NDArray[np.float64], patterns: Sequence[str], drivers: int = 1, odd: str = ASK
) -> Iterator[RunsCompared]:
    """What the tool makes of each simulation."""
    return map(compared_runs, givens(times, patterns, drivers, odd))


def verdicts(times: NDArray[np.float64], patterns: Sequence[str]) -> list[str]:
    """The verdict of each simulation."""
    return [judge_laps(given, compare_laps(given)).verdict for given in givens(times, patterns)]


def holds(
    rng: Generator,
    count: int,
    patterns: Sequence[str],
    difference: float = -0.1,
    drivers: int = 1,
    odd: str = ASK,
    **more: Any,
) -> list[bool]:
    """Whether the interval of the model holds the true difference."""
    times = times_of(rng, count, patterns, difference, **more)
    intervals = (one.difference for one in compared(times, patterns, drivers, odd))
    return [one.low <= difference <= one.high for one in intervals if one is not None]


def plain_holds(rng: Generator, count: int) -> list[bool]:
    """Whether the second line holds the true difference where nothing drifted."""
    return [one.plain.low <= -0.1 <= one.plain.high for one in compared(times_of(rng, count, TURNS, -0.1), TURNS)]


def said_ok(rng: Generator, count: int, patterns: Sequence[str], odd: str = ASK, **more: Any) -> list[bool]:
    """Whether equal builds get the verdict ok."""
    found = compared(times_of(rng, count, patterns, **more), patterns, odd=odd)
    return [one.standing == "decided" for one in found]


def named_a_winner(rng: Generator, count: int, patterns: Sequence[str], **more: Any) -> list[bool]:
    """Whether one of two equal builds is called faster, with a caution or without."""
    return [one.is_decided for one in compared(times_of(rng, count, patterns, **more), patterns)]


def looked_again(rng: Generator, count: int) -> list[bool]:
    """Whether equal builds get ok after 8, 12, 16 or 20 runs of one day."""
    pattern = TURNS[0] * 2 + TURNS[0][:4]
    times = times_of(rng, count, (pattern,))
    said = [
        [one.standing == "decided" for one in compared(times[:, :runs], (pattern[:runs],))] for runs in (8, 12, 16, 20)
    ]
    return [any(looks) for looks in zip(*said, strict=True)]


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
