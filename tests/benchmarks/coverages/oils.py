"""Which oil was kept more often: false differences between oils that are kept equally often, and shares by day.

Days are independent of each other, but for weekends and seasons; what the runs and diffs of one day share is drawn once
for the day. A difference is false where it is shown as that of the oils, without a caution.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache, partial

import numpy as np
from benchmarks.coverages import Case
from numpy.random import Generator
from numpy.typing import NDArray

from bevelbook.stats.proportions import newcombe_interval, wilson_interval
from bevelbook_plugins.oil_choice import ChoiceGiven, PastRun, choose, shows_difference

KEPT = 0.6
FALSE_DIFFERENCES = (0.0, 0.06)
"""5 % or less, and what 2,000 simulations may be off."""
FALSE_DIFFERENCES_OF_CONDITIONS = (0.0, 0.07)
SINGLE_SHARES = (0.90, 1.0)
"""What is said of one true share of 0.3, 0.6 or 0.9 and 3 to 12 days."""
DAYS = (3, 4, 5, 8, 12)
SHARES = (0.3, 0.6, 0.9)
OILS_CST = (5000.0, 10_000.0)


@dataclass(frozen=True)
class Season:
    """How two oils are run: days of each, runs a day, diffs on a day, how often a call is that of the whole day.

    ``weather_of_both``: both oils run on the same days, and what a day shares holds for both. ``change_ends``: the day
    of an oil ends with its first change.
    """

    days: tuple[int, int]
    runs: tuple[int, int] = (1, 1)
    diffs: int = 1
    alike: float = 1.0
    weather_of_both: bool = False
    change_ends: bool = False


SEASONS = {
    "3 and 3 days": Season((3, 3)),
    "12 and 12 runs in threes": Season((4, 4), (3, 3)),
    "6 and 6 runs in threes": Season((2, 2), (3, 3)),
    "6 and 7 days": Season((6, 7)),
    "8 and 8 days": Season((8, 8)),
    "12 and 12 days": Season((12, 12)),
    "days of 6 and of 2 runs, half of the calls alike": Season((12, 12), (6, 2), alike=0.5),
    "days of 6 and of 1 run, calls independent": Season((12, 12), (6, 1), alike=0.0),
    "days of 6 and of 2 runs, a change ends the day": Season((12, 12), (6, 2), alike=0.5, change_ends=True),
    "two diffs with one oil on each day": Season((4, 4), (3, 3), diffs=2),
    "both oils on the same days, one weather": Season((8, 8), weather_of_both=True, alike=0.5),
}


FIRST_DAY = date(2026, 3, 7)
GENTLE, STEEP = 2.0, 0.5


@dataclass(frozen=True)
class Year:
    """A year of weekends on which neither oil is better, and what a call goes by instead.

    ``days``: days of a weekend, of one call and one oil. ``thick_when_warm`` and ``thick_when_late``: how sharply the
    thicker oil is taken when it is warm (°C) or late (share of the season); None is by turns, weekend by weekend.
    ``kept_when_cold``: how sharply a call goes by the temperature (°C); ``rising``: the share kept at the beginning and
    at the end.
    """

    weekends: int
    days: int = 1
    thick_when_warm: float | None = None
    thick_when_late: float | None = None
    kept_when_cold: float | None = None
    rising: tuple[float, float] = (KEPT, KEPT)
    by_chance: bool = False


YEARS = {
    "12 weekends of two days with one call, oils in turn": Year(12, days=2),
    "12 weekends of two days with one call, oils drawn": Year(12, days=2, by_chance=True),
    "24 weekends of two days with one call, oils in turn": Year(24, days=2),
    "calls by temperature alone, oils each at their own": Year(12, thick_when_warm=0.1, kept_when_cold=STEEP),
    "calls by temperature alone, the thicker mostly when warm": Year(20, thick_when_warm=2.0, kept_when_cold=STEEP),
    "calls by temperature alone, the thicker more often when warm": Year(20, thick_when_warm=4.0, kept_when_cold=STEEP),
    "calls gently by temperature, the thicker mostly when warm": Year(20, thick_when_warm=2.0, kept_when_cold=GENTLE),
    "calls by temperature alone, oils in turn": Year(12, kept_when_cold=STEEP),
    "keeping rises over the season, oils in two halves": Year(24, thick_when_late=0.01, rising=(0.2, 0.9)),
    "keeping rises over the season, the thicker mostly late": Year(24, thick_when_late=0.2, rising=(0.2, 0.9)),
    "keeping rises over the season, the thicker more often late": Year(24, thick_when_late=0.4, rising=(0.2, 0.9)),
    "keeping rises over the season, oils in turn": Year(24, rising=(0.2, 0.9)),
}


def cases() -> Iterator[Case]:
    for name, season in SEASONS.items():
        yield Case(
            f"false difference, {name}", "5 % or less", partial(false_difference, season=season), FALSE_DIFFERENCES
        )
    for name, year in YEARS.items():
        simulated = partial(false_difference_in_year, year=year)
        yield Case(f"false difference, {name}", "7 % or less", simulated, FALSE_DIFFERENCES_OF_CONDITIONS)
    yield Case("false difference, the better-looking oil run more", "5 % or less", leaning, FALSE_DIFFERENCES)
    yield Case("share kept, 4 days of 3 alike runs", "95 % on average", partial(share_holds, runs=3, alike=1.0))
    yield Case(
        "share kept, 4 days of 3 runs, split days",
        "95 % on average, split days more",
        partial(share_holds, runs=3, alike=0.5),
        (0.93, 1.0),
    )
    for days in DAYS:
        for share in SHARES:
            wilson = partial(one_share_holds, days=days, share=share)
            yield Case(f"share {share:g}, {days} days", "90 to 100 %", wilson, SINGLE_SHARES, 20_000)
    for days in DAYS:
        for thin in SHARES:
            for thick in (share for share in SHARES if share >= thin):
                newcombe = partial(one_difference_holds, days=days, thin=thin, thick=thick)
                name = f"difference of {thin:g} and {thick:g}, {days} days"
                yield Case(name, "90 to 100 %", newcombe, SINGLE_SHARES, 20_000)


def false_difference(rng: Generator, count: int, season: Season) -> NDArray[np.bool_]:
    return np.array([_is_shown(_played(rng, season)) for _ in range(count)])


def false_difference_in_year(rng: Generator, count: int, year: Year) -> NDArray[np.bool_]:
    return np.array([_is_shown(_year(rng, year)) for _ in range(count)])


def _is_shown(past: Sequence[PastRun]) -> bool:
    given = _given(past)
    return shows_difference(given, choose(given))


def _year(rng: Generator, year: Year) -> list[PastRun]:
    warm_c = rng.uniform(25.5, 34.5, year.weekends)
    late = np.linspace(0.0, 1.0, year.weekends)
    if year.thick_when_warm is not None:
        is_thick = rng.random(year.weekends) < _logistic((warm_c - 30.0) / year.thick_when_warm)
    elif year.thick_when_late is not None:
        is_thick = rng.random(year.weekends) < _logistic((late - 0.5) / year.thick_when_late)
    elif year.by_chance:
        is_thick = rng.random(year.weekends) < 0.5
    else:
        is_thick = np.arange(year.weekends) % 2 == 1
    share = year.rising[0] + (year.rising[1] - year.rising[0]) * late
    if year.kept_when_cold is not None:
        share = _logistic((30.0 - warm_c) / year.kept_when_cold)
    kept = rng.random(year.weekends) < share
    return [
        _run(
            OILS_CST[int(is_thick[weekend])],
            (FIRST_DAY + timedelta(days=7 * weekend + day)).isoformat(),
            "diff",
            bool(kept[weekend]),
            float(warm_c[weekend]),
        )
        for weekend in range(year.weekends)
        for day in range(year.days)
    ]


def _logistic(x: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(x, -50.0, 50.0))))


def _played(rng: Generator, season: Season) -> list[PastRun]:
    shared = rng.random((2, max(season.days))) < KEPT
    if season.weather_of_both:
        shared[1] = shared[0]
    past = []
    for oil in range(2):
        for day in range(season.days[oil]):
            for diff in range(season.diffs):
                own, alike = rng.random((2, season.runs[oil]))
                calls = np.where(alike < season.alike, shared[oil, day], own < KEPT)
                if season.change_ends and not calls.all():
                    calls = calls[: int(np.argmin(calls)) + 1]
                name = f"day {day}" if season.weather_of_both else f"day {day} of {oil}"
                past += [_run(OILS_CST[oil], name, f"diff {diff}", bool(kept)) for kept in calls]
    return past


def leaning(rng: Generator, count: int) -> NDArray[np.bool_]:
    """24 days; from the fourth on, the oil with the larger share so far is taken on 7 of 10 days."""
    return np.array([_is_shown(_leaning_season(rng)) for _ in range(count)])


def _leaning_season(rng: Generator) -> list[PastRun]:
    calls: tuple[list[bool], list[bool]] = ([], [])
    past = []
    for day in range(24):
        oil = day % 2
        if day >= 4:
            better = int(np.mean(calls[1]) > np.mean(calls[0]))
            oil = better if rng.random() < 0.7 else 1 - better
        kept = bool(rng.random() < KEPT)
        calls[oil].append(kept)
        past.append(_run(OILS_CST[oil], f"day {day}", "diff", kept))
    return past


def share_holds(rng: Generator, count: int, runs: int, alike: float) -> NDArray[np.bool_]:
    """Four days of one oil; the true share is drawn evenly from 0 to 1."""
    found = []
    for share in rng.uniform(0.0, 1.0, count):
        of_day, own = rng.random(4) < share, rng.random((4, runs)) < share
        calls = np.where(rng.random((4, runs)) < alike, of_day[:, None], own)
        past = [_run(OILS_CST[0], f"day {day}", "diff", bool(kept)) for day in range(4) for kept in calls[day]]
        row = choose(_given(past)).rows[0]
        found.append((row.keep_low or 0.0) <= share <= (row.keep_high or 0.0))
    return np.array(found)


def one_share_holds(rng: Generator, count: int, days: int, share: float) -> NDArray[np.bool_]:
    low, high = np.array([wilson_interval(kept, days) for kept in range(days + 1)])[rng.binomial(days, share, count)].T
    return (low <= share) & (share <= high)


def one_difference_holds(rng: Generator, count: int, days: int, thin: float, thick: float) -> NDArray[np.bool_]:
    kept = rng.binomial(days, thick, count), rng.binomial(days, thin, count)
    low, high = _differences(days)[kept].T
    return (low <= thick - thin + 1e-12) & (thick - thin - 1e-12 <= high)


@cache
def _differences(of: int) -> NDArray[np.float64]:
    return np.array([[newcombe_interval(a, of, b, of) for b in range(of + 1)] for a in range(of + 1)])


def _given(past: Sequence[PastRun]) -> ChoiceGiven:
    return ChoiceGiven(grip="low", temperature_c=30.0, past=tuple(past))


def _run(viscosity_cst: float, day: str, diff: str, kept: bool, temperature_c: float = 30.0) -> PastRun:
    call = "keep" if kept else "change"
    return PastRun(grip="low", temperature_c=temperature_c, viscosity_cst=viscosity_cst, call=call, day=day, diff=diff)
