"""What temperature the diff will have in a run, from the team's own measured ones."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property
from math import sqrt
from typing import Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.fields import choice, listing, quantity, record, which_day, whole
from bevelbook.declare.vocabulary import POSITIONS
from bevelbook.physics.cooling import READING_ERROR_C
from bevelbook.plugin.calculator import Formula, OneOf
from bevelbook.plugin.returned_values import Judgement
from bevelbook.stats.line import straight_line
from bevelbook.stats.prediction import MOST_INFLATION, DayFit, fit_by_day, inflation
from bevelbook.stats.spread import mean

DAYS_NEEDED: Final = 8
WIDE_C: Final = 8.0
"""Half an interval from which it does not help to choose an oil; our own figure."""
LEAST_SD_C: Final = READING_ERROR_C / sqrt(3.0)
"""A single reading may be off by 1 °C either way, so no expectation is better than it; our own figure."""
APART_C: Final = 1.0
"""How much farther apart than ever seen air and track may be where one of them is used; our own figure."""
_NAMES: Final = {"air_temp_c": "air", "track_temp_c": "track"}
_BOTH: Final = tuple(_NAMES)


@record
class MeasuredDiff:
    air_temp_c: float | None = quantity("°C", "Air then", default=None, minimum=-60, maximum=70, example="22")
    track_temp_c: float | None = quantity("°C", "Track then", default=None, minimum=-60, maximum=100, example="31")
    diff_temp_c: float = quantity("°C", "What the diff read", minimum=-60, maximum=200, example="38")
    day: str | None = which_day("Its day, a date or a number; without one it counts as a day of its own", default=None)
    position: str | None = choice(POSITIONS, "Where the diff was in the car", default=None)


@record
class ExpectedGiven:
    air_temp_c: float | None = quantity(
        "°C", "Air to come", default=None, minimum=-60, maximum=70, plausible=(-30, 50), same_as="runs.air_temp_c"
    )
    track_temp_c: float | None = quantity(
        "°C", "Track to come", default=None, minimum=-60, maximum=100, plausible=(-20, 65), same_as="runs.track_temp_c"
    )
    position: str | None = choice(
        POSITIONS,
        "Where the diff is in the car: only diffs read there count",
        default=None,
        same_as="run_diffs.position",
    )
    past: tuple[MeasuredDiff, ...] = listing(
        MeasuredDiff, "Runs with a measured diff", singular="past", same_as="listings.measured_diffs"
    )


@record
class ExpectedFound:
    expected_temperature_c: float | None = quantity(
        "°C", "What the diff will read after a run, if nothing else changed", digits=0
    )
    low_c: float | None = quantity(
        "°C", "Lower end for one run, 95 %", exact=True, low_of="expected_temperature_c", heading="from", digits=0
    )
    high_c: float | None = quantity(
        "°C", "Upper end of that", exact=True, high_of="expected_temperature_c", heading="to", digits=0
    )
    n: int = whole("Days with a measured diff that it rests on", heading="days")
    n_runs: int = whole("Runs on these days", heading="runs")
    rests_on: str | None = choice(
        ("air and track", "air", "track"), "What it was worked out from", default=None, heading="worked out from"
    )


class Expected(NamedTuple):
    """An expected temperature with its interval in °C and what it rests on; or why there is none."""

    value_c: float | None = None
    low_c: float | None = None
    high_c: float | None = None
    days: int = 0
    runs: int = 0
    rests_on: tuple[str, ...] = ()
    why_none: str = ""
    remarks: tuple[str, ...] = ()
    undated: int = 0
    """Readings among the runs whose day is not known, each of which counts as a day."""

    @property
    def rests_on_unknown_days(self) -> bool:
        """Whether fewer days are known than it takes."""
        return self.days - self.undated < DAYS_NEEDED

    @property
    def undated_in_words(self) -> str:
        """What days that nobody noted do to it; empty where all are known.

        >>> Expected(undated=8).undated_in_words
        '8 readings without a day: each counts as a day of its own, though readings of one day are alike; give the day'
        """
        if not self.undated:
            return ""
        return (
            f"{counted(self.undated, 'reading')} without a day: each counts as a day of its own, though readings of "
            "one day are alike; give the day"
        )

    @property
    def words(self) -> str:
        """Where it comes from, as an origin says it.

        >>> Expected(38.2, 33.4, 42.9, 11, 14, ("air_temp_c", "track_temp_c")).words
        'expected from 11 own days, 38 °C, 33 to 43 °C fits'
        """
        return (
            f"expected from {counted(self.days, 'own day')}, {self.value_c:.0f} °C, {self.low_c:.0f} to "
            f"{self.high_c:.0f} °C fits"
        )


class _Fitted(NamedTuple):
    """A fit on some of air and track; None with the days that there were, and why."""

    fit: DayFit | None
    days: int
    runs: int
    why: str = ""
    undated: int = 0


class MeasuredPast:
    """Past runs with a measured diff at one place, or at all; fits are kept, so that many days may be asked about."""

    def __init__(self, rows: Iterable[Mapping[str, Any]], position: str | None = None) -> None:
        found = [dict(row) for row in rows]
        self._position = position
        self._left_out = sum(1 for row in found if position is not None and row["position"] != position)
        self._rows = [row for row in found if position is None or row["position"] == position]
        self._fits: dict[tuple[str, ...], _Fitted] = {}

    @cached_property
    def _days(self) -> list[object]:
        return [row["day"] or place for place, row in enumerate(self._rows)]

    def expected(self, air_temp_c: float | None, track_temp_c: float | None) -> Expected:
        """The temperature of the diff at these temperatures of air and track, of which one may be unknown."""
        wanted = {
            name: value for name, value in zip(_BOTH, (air_temp_c, track_temp_c), strict=True) if value is not None
        }
        ways = _ways(tuple(wanted))
        few = [found for names in ways if (found := self._fitted(names)).days < DAYS_NEEDED]
        if len(few) == len(ways):
            return self._none(few[0].why)
        outside = [words for name, value in wanted.items() if (words := self._outside(name, value))]
        if outside:
            return self._none("; ".join(outside))
        remarks: list[str] = []
        why = []
        for names in ways:
            found = self._fitted(names)
            if found.fit is None:
                why.append(found.why)
                continue
            predicted = found.fit.at([wanted[name] for name in names], LEAST_SD_C)
            if predicted.leverage > predicted.largest_leverage * (1.0 + 1e-9):
                return self._none("air and track were never together like this on any of those days")
            if len(names) < len(wanted):
                if self._apart(wanted):
                    return self._none("air and track were never this far apart on any of those days")
                remarks.append(f"from the {_NAMES[names[0]]} alone: {why[0]}")
            elif len(wanted) < len(_BOTH):
                remarks.append(
                    f"from the {_NAMES[names[0]]} alone, the other is not known: the interval is wider for it"
                )
            return Expected(
                predicted.value,
                predicted.value - predicted.half_width,
                predicted.value + predicted.half_width,
                found.days,
                found.runs,
                names,
                remarks=(*remarks, *self._said_left_out),
                undated=found.undated,
            )
        return self._none("; ".join(dict.fromkeys(why)))

    def _none(self, why: str) -> Expected:
        days, runs = self._with_weather
        return Expected(days=days, runs=runs, why_none=why, remarks=self._said_left_out)

    @cached_property
    def _with_weather(self) -> tuple[int, int]:
        """On how many days, and in how many runs, the air or the track is known."""
        known = [
            day for row, day in zip(self._rows, self._days, strict=True) if any(row[name] is not None for name in _BOTH)
        ]
        return len(set(known)), len(known)

    @cached_property
    def _said_left_out(self) -> tuple[str, ...]:
        places = [one for one in POSITIONS if any(row["position"] == one for row in self._rows)]
        if len(places) > 1:
            return (f"diffs at {' and '.join(places)} are taken together: say the position to keep them apart",)
        if not self._left_out:
            return ()
        return (
            f"left out: {counted(self._left_out, 'run')} with the diff not at the {self._position}, or nowhere said",
        )

    @cached_property
    def _seen(self) -> dict[str, tuple[float, float]]:
        """The lowest and highest of air and track, of those that are known at all."""
        known = {name: [row[name] for row in self._rows if row[name] is not None] for name in _BOTH}
        return {name: (min(values), max(values)) for name, values in known.items() if values}

    def _outside(self, name: str, value: float) -> str:
        low, high = self._seen.get(name, (value, value))
        if low <= value <= high:
            return ""
        span = f"{low:g} to {high:g} °C" if low < high else f"{low:g} °C every time"
        return f"{_NAMES[name]} at {value:g} °C is outside what you measured in, {span}"

    def _with(self, names: Sequence[str]) -> tuple[list[list[float]], list[float], list[object]]:
        held = [
            (row, day)
            for row, day in zip(self._rows, self._days, strict=True)
            if all(row[name] is not None for name in names)
        ]
        return (
            [[row[name] for name in names] for row, _ in held],
            [row["diff_temp_c"] for row, _ in held],
            [day for _, day in held],
        )

    def _fitted(self, names: tuple[str, ...]) -> _Fitted:
        if names not in self._fits:
            self._fits[names] = self._fit(names)
        return self._fits[names]

    def _fit(self, names: tuple[str, ...]) -> _Fitted:
        x, y, days = self._with(names)
        words = " and ".join(_NAMES[name] for name in names)
        count = len(set(days))
        if count < DAYS_NEEDED:
            have = f"there {'is' if count == 1 else 'are'} {count or 'none'}"
            return _Fitted(
                None, count, len(y), f"{DAYS_NEEDED} days with {words} and the diff measured are needed, {have}"
            )
        for place, name in enumerate(names):
            values = [row[place] for row in x]
            if min(values) == max(values):
                return _Fitted(None, count, len(y), f"the {_NAMES[name]} was {values[0]:g} °C every time")
        if len(names) > 1 and inflation(*zip(*x, strict=True)) > MOST_INFLATION:
            return _Fitted(None, count, len(y), "air and track went up and down together")
        fit = fit_by_day(x, y, days)
        if fit is None:
            return _Fitted(None, count, len(y), f"the {words} did not differ from day to day")
        return _Fitted(fit, count, len(y), undated=sum(isinstance(day, int) for day in days))

    @cached_property
    def _air_over_track(self) -> tuple[float, float, float, float] | None:
        """The line of air on track, and how far below and above it the air was at most; None with too few days."""
        x, _, days = self._with(_BOTH)
        if len(set(days)) < DAYS_NEEDED:
            return None
        air, track = zip(*x, strict=True)
        slope, level = 0.0, mean(air)
        if min(track) < max(track):
            line = straight_line(track, air)
            slope, level = line.slope, line.intercept
        off = [one - (level + slope * other) for one, other in x]
        return slope, level, min(off), max(off)

    def _apart(self, wanted: Mapping[str, float]) -> bool:
        """Whether air and track are farther from each other than ever, against the line of one on the other."""
        if self._air_over_track is None:
            return False
        slope, level, lowest, highest = self._air_over_track
        off = wanted["air_temp_c"] - (level + slope * wanted["track_temp_c"])
        return not lowest - APART_C <= off <= highest + APART_C


def _ways(names: tuple[str, ...]) -> tuple[tuple[str, ...], ...]:
    """What to work it out from, the best first: air and track, else the track, else the air."""
    return (names, *((name,) for name in reversed(names))) if len(names) > 1 else (names,)


def outcome(given: ExpectedGiven) -> Expected:
    """The expectation of a calculation, or why there is none."""
    rows = [{name: getattr(one, name) for name in (*_BOTH, "diff_temp_c", "day", "position")} for one in given.past]
    return MeasuredPast(rows, given.position).expected(given.air_temp_c, given.track_temp_c)


def expected_temperature(given: ExpectedGiven) -> ExpectedFound:
    """Least squares of the diff's temperature on air and track, from the means of days, and a prediction interval for
    one run on a new day; from eight days on, inside what was seen. See :func:`bevelbook.stats.prediction.fit_by_day`.
    """
    found = outcome(given)
    return ExpectedFound(
        expected_temperature_c=found.value_c,
        low_c=found.low_c,
        high_c=found.high_c,
        n=found.days,
        n_runs=found.runs,
        rests_on=" and ".join(_NAMES[name] for name in found.rests_on) or None,
    )


def judge_expected(given: ExpectedGiven, found: ExpectedFound) -> Judgement:
    result = outcome(given)
    if result.value_c is None or result.low_c is None or result.high_c is None:
        return Judgement("unclear", (f"nothing to expect: {result.why_none}",), result.remarks)
    said = (
        f"{result.value_c:.0f} °C; from {result.low_c:.0f} to {result.high_c:.0f} °C fits for one run (95 %), from "
        f"{counted(result.days, 'own day')}"
    )
    half = result.high_c - result.value_c
    cautions = []
    if half > WIDE_C:
        cautions.append(
            f"{half:.0f} °C either way is too wide to choose an oil by: about {2 * half:.0f} % of its viscosity"
        )
    remarks = result.remarks
    if result.undated and result.rests_on_unknown_days:
        cautions.append(result.undated_in_words)
    elif result.undated:
        remarks = (*remarks, result.undated_in_words)
    return Judgement("caution" if cautions else "ok", (said, *cautions), remarks)


def expected_working(given: ExpectedGiven, found: ExpectedFound) -> tuple[str, ...]:
    if found.expected_temperature_c is None or found.high_c is None:
        return ("no line was drawn",)
    return (
        f"mean of each day, then least squares of the diff on {found.rests_on}: {found.n} days, {found.n_runs} runs",
        "half of the interval = t √(between days × (1 + h) + within a day × (1 − 1/m)) = "
        f"{found.high_c - found.expected_temperature_c:.2f} °C, with h the leverage and m the runs of a day",
        f"not under t × {LEAST_SD_C:.2f} °C, what a reading off by up to {READING_ERROR_C:g} °C leaves",
    )


EXPECTED_TEMPERATURE: Final = Formula(
    title="Expected temperature of the diff",
    given=ExpectedGiven,
    found=ExpectedFound,
    compute=expected_temperature,
    judge=judge_expected,
    working=expected_working,
    one_of=(OneOf((("track_temp_c",), ("air_temp_c",))),),
)
