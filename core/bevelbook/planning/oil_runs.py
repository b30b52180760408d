"""What was run at a place of the car in conditions such as those of an event, and what was kept there."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cache, cached_property
from typing import Any, Final, Literal, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.in_command import in_command
from bevelbook.display.days import day_in_words
from bevelbook.facts.day_order import minutes
from bevelbook.facts.measured_diffs import NEWEST
from bevelbook.facts.oil_days import days_kept_of, oil_day
from bevelbook.facts.places import PLACE
from bevelbook.facts.runs import RUN_ORDER, count_of, runs_of_row
from bevelbook.facts.sql import Row, rows
from bevelbook.formulas.conditions import REACH, TEMPERATURE_SCALE_C, HowNear, how_near
from bevelbook.formulas.oil_days import DECIDED, KEEP, DaysKept
from bevelbook.formulas.same_feel_to_come import WeatherThen
from bevelbook.planning.event_to_come import DayRange, EventToCome
from bevelbook.planning.oils_at_hand import oil_named
from bevelbook.reports.oils_in_runs import has_lost_oil

TemperatureOf = Literal["track", "air"]
MOSTLY: Final = 0.5
"""An oil is mostly kept where more than this share of its days was kept: as the start of the oil choice has it."""
OILS_SAID: Final = 3
"""How many oils are named of those that were run."""
_RUNS: Final = f"""
SELECT r.id AS run, r.label AS run_label, r.run_on, r.day_order, r.started_at, r.note_line, r.car, r.grip,
       r.air_temp_c, r.track_temp_c, r.call, r.runs, x.diff_temp_c, {PLACE} AS place, v.surface, b.diff, b.fluid,
       b.label AS build_label, f.label AS fluid_label, k.viscosity_cst, n.fill_state
FROM (SELECT * FROM runs ORDER BY run_on DESC, id DESC LIMIT {NEWEST}) r CROSS JOIN run_diffs x ON x.run = r.id
JOIN builds b ON b.id = x.build JOIN diffs d ON d.id = b.diff
JOIN run_diff_facts n ON n.run_diff = x.id JOIN build_facts k ON k.build = x.build
LEFT JOIN venues v ON v.id = r.venue LEFT JOIN fluids f ON f.id = b.fluid
WHERE coalesce(f.medium, 'oil') = 'oil'
ORDER BY {RUN_ORDER}, x.id
"""


def _oil_by_hand(row: Row) -> str:
    if row["fluid_label"] is None:
        return f"record build {in_command(row['build_label'])} fluid=..."
    return f"record fluid {in_command(row['fluid_label'])} viscosity=... viscosity_source=..."


_CALL: Final = "a call"
_GRIP: Final = "grip"
_WEATHER: Final = "air and track"
_CST: Final = "the cSt of the oil"
_SETTLED_BY: Final[Mapping[str, Callable[[Row], str]]] = {
    _CALL: lambda row: "calls",
    _GRIP: lambda row: f"record run {in_command(row['run_label'])} grip=...",
    _WEATHER: lambda row: f"record run {in_command(row['run_label'])} air_temp=... track_temp=...",
    _CST: _oil_by_hand,
}
"""What was not written down of a run, and the command that writes it down."""


def degrees(temperature_c: float) -> str:
    """A temperature as a person says it, to a tenth.

    >>> degrees(37.2222), degrees(24.0)
    ('37.2', '24')
    """
    return f"{round(temperature_c, 1):g}"


class OilOfRun(NamedTuple):
    """A run whose oil was kept: which run, its day, grip and weather, and the oil, in cSt at 25 °C.

    ``how`` says in words why its feel is wanted, where it is not the last kept in such conditions.
    """

    label: str
    run_on: str
    grip: str | None
    weather: WeatherThen
    viscosity_cst: float
    fluid_label: str | None
    how: str

    @property
    def words(self) -> str:
        """``7k (7,000 cSt), kept on 3 May 2026 at air 18 °C, track 24 °C, diff 35 °C``."""
        named = (("air", self.weather.air_c), ("track", self.weather.track_c), ("diff", self.weather.diff_c))
        known = [f"{name} {degrees(value)} °C" for name, value in named if value is not None]
        oil = oil_named(self.fluid_label, self.viscosity_cst)
        return f"{oil}, kept on {day_in_words(self.run_on)} at {', '.join(known)}{self.how}"


class NearOil(NamedTuple):
    """How one oil did in such conditions: how near its runs were, its days, and its runs."""

    name: str
    viscosity_cst: float
    near: tuple[HowNear, ...]
    record: DaysKept

    @property
    def words(self) -> str:
        """``7,000 cSt kept on 3 of 4 days, changed on 1, 9 runs, up to 3 °C away``."""
        farthest = max(self.near, key=lambda one: one.distance)
        apart = f", up to {farthest.words}" if farthest.words.endswith("away") else ""
        return f"{self.name} {self.record.words}, {count_of(self.record.runs)}{apart}"


class OilRuns:
    """The newest runs of the team with what is known of their oil, read once."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._rows = rows(connection, _RUNS)
        self._there: dict[tuple[str, str | None], RunsThere] = {}

    def at(self, position: str, surface: str | None) -> RunsThere:
        """Those at a place of the car, on the same surface where both are known."""
        if (position, surface) not in self._there:
            there = [
                row
                for row in self._rows
                if row["place"] == position and (surface is None or row["surface"] in (None, surface))
            ]
            self._there[position, surface] = RunsThere(position, there)
        return self._there[position, surface]


class RunsThere:
    """The runs at one place on one surface; those of a diff that had lost oil, or may have, say nothing of its oil.

    What is asked for every diff alike is worked out once.
    """

    def __init__(self, position: str, found: Sequence[Row]) -> None:
        self.position = position
        self._rows = [row for row in found if not has_lost_oil(row)]
        self._decided = [row for row in self._rows if row["call"] in DECIDED and row["viscosity_cst"] is not None]
        self.near = cache(self._near)
        self.nearest_in_words = cache(self._nearest_in_words)
        self.temperature_of = cache(self._temperature_of)
        self.span_c = cache(self._span_c)
        self.kept_for = cache(self._kept_for)

    @property
    def grips_kept(self) -> list[str]:
        """The grips on which an oil was kept, by name."""
        return sorted({row["grip"] for row in self._decided if row["call"] == KEEP and row["grip"] is not None})

    @cached_property
    def has_kept(self) -> bool:
        """Whether any oil was ever kept there."""
        return any(row["call"] == KEEP for row in self._decided)

    @cached_property
    def what_is_missing(self) -> str:
        """What was not written down of its runs, so that they do not count, each with the command that settles it for
        the newest of them; empty where nothing is missing."""
        lacking: dict[str, float] = {}
        newest: dict[str, Row] = {}
        for row in self._rows:
            has_weather = row["air_temp_c"] is not None or row["track_temp_c"] is not None
            each = (
                (_CALL, row["call"]),
                (_GRIP, row["grip"]),
                (_WEATHER, True if has_weather else None),
                (_CST, row["viscosity_cst"]),
            )
            for what, value in each:
                if value is None:
                    lacking[what] = lacking.get(what, 0.0) + runs_of_row(row)
                    newest[what] = row
        said = [
            f"{count_of(lacking[what])} without {what} ('bevelbook {_SETTLED_BY[what](newest[what])}')"
            for what in sorted(lacking)
        ]
        return f"in the {self.position} {', '.join(said)}" if said else ""

    def _temperature_of(self, event: EventToCome, grip: str | None) -> TemperatureOf | None:
        """What conditions are compared by: the track, else the air; None where neither is known of both."""
        for of, expected in _expected(event):
            if expected.is_known and any(row[f"{of}_temp_c"] is not None for row in self._on(grip)):
                return of
        return None

    def _near(self, event: EventToCome, grip: str | None, of: TemperatureOf) -> list[NearOil]:
        """The oils decided on in such conditions, of most days first: as near as counts, kept or not."""
        found: dict[object, list[tuple[HowNear, Row]]] = {}
        for how, row in self._by_nearness(event, grip, of):
            if how.distance <= REACH:
                found.setdefault(oil_day(row).oil, []).append((how, row))
        oils = [
            NearOil(
                _named([row for _, row in of_oil]),
                of_oil[0][1]["viscosity_cst"],
                tuple(how for how, _ in of_oil),
                days_kept_of([row for _, row in of_oil]),
            )
            for of_oil in found.values()
        ]
        return sorted(oils, key=lambda one: (-one.record.days, one.viscosity_cst))

    def _nearest_in_words(self, event: EventToCome, grip: str | None) -> str:
        """The decided run whose conditions are nearest, in words; empty where none says its conditions."""
        for of, expected in _expected(event):
            found = [one for one in self._by_nearness(event, grip, of) if expected.is_known]
            if found:
                how, row = max(found, key=lambda one: (-one[0].distance, *_last_last(one[1])))
                grip_then = f"{row['grip']} grip, " if row["grip"] else ""
                apart = f", {how.words}" if how.words.endswith("away") else ""
                return (
                    f"{oil_named(row['fluid_label'], row['viscosity_cst'])} on {grip_then}{of} "
                    f"{degrees(row[f'{of}_temp_c'])} °C{apart}, {'kept' if row['call'] == KEEP else 'changed'} "
                    f"on {day_in_words(row['run_on'])}"
                )
        return ""

    def _span_c(self, grip: str | None, of: TemperatureOf) -> tuple[float, float]:
        """The lowest and the highest temperature at which anything was decided on a grip. Raises ValueError if nothing
        was."""
        known = [row[f"{of}_temp_c"] for row in self._on(grip) if row[f"{of}_temp_c"] is not None]
        return min(known), max(known)

    def _kept_for(
        self, ends_c: tuple[float, float], grip: str | None, of: TemperatureOf, car: str | None
    ) -> tuple[OilOfRun, OilOfRun] | None:
        """The runs whose feel is wanted again at the low and the high end of a forecast; None where nothing was kept.

        It is the run in which an oil was kept last inside the forecast, else anywhere on that grip; but an oil that was
        mostly kept near an end, on days enough to conclude from, is wanted there again, and at the other end too where
        none is known as well as that. Where anything was kept in the same car, only its runs count.
        """
        decided = [row for row in self._on(grip) if row["air_temp_c"] is not None or row["track_temp_c"] is not None]
        own = [row for row in decided if car is not None and row["car"] == car]
        decided = own if any(row["call"] == KEEP for row in own) else decided
        kept = [row for row in decided if row["call"] == KEEP]
        if not kept:
            return None

        def near(among: Sequence[Row], low_c: float, high_c: float) -> list[Row]:
            temperatures = ((row, row[f"{of}_temp_c"]) for row in among)
            reach_c = REACH * TEMPERATURE_SCALE_C
            return [row for row, at in temperatures if at is not None and low_c - reach_c <= at <= high_c + reach_c]

        known = [one for end_c in ends_c if (one := _known_oil(near(decided, end_c, end_c))) is not None]
        if known:
            return known[0], known[-1]
        inside = near(kept, *ends_c)
        last = _of(max(inside or kept, key=_last_last), "" if inside else ", the last kept, not near that")
        return last, last

    def _on(self, grip: str | None) -> list[Row]:
        """The decided runs on a grip; on any where none is asked for."""
        return [row for row in self._decided if grip is None or row["grip"] == grip]

    def _by_nearness(self, event: EventToCome, grip: str | None, of: TemperatureOf) -> Iterator[tuple[HowNear, Row]]:
        """The decided runs that say the conditions, each with how far it was from the nearest part of the forecast."""
        ends = dict(_expected(event))[of].ends
        for row in self._decided:
            then_c = row[f"{of}_temp_c"]
            if ends and then_c is not None and (grip is None or row["grip"] is not None):
                yield how_near(grip, min(max(then_c, ends[0]), ends[-1]), row["grip"], then_c), row


def _expected(event: EventToCome) -> tuple[tuple[TemperatureOf, DayRange], ...]:
    return ("track", event.track), ("air", event.air)


def _last_last(row: Mapping[str, Any]) -> tuple[object, ...]:
    """By what runs are in order, and if nothing tells two apart by what they say: never by when they were written."""
    started = minutes(row["started_at"])
    return (
        row["run_on"],
        -1 if row["day_order"] is None else row["day_order"],
        -1 if started is None else started,
        -1 if row["note_line"] is None else row["note_line"],
        row["run_label"],
        row["viscosity_cst"],
        *(-300.0 if row[one] is None else row[one] for one in ("diff_temp_c", "air_temp_c", "track_temp_c")),
    )


def _known_oil(near: Sequence[Row]) -> OilOfRun | None:
    """The last kept run of the oil that was mostly kept, on days enough to conclude from; of several that of most
    days."""
    found: dict[object, list[Row]] = {}
    for row in near:
        found.setdefault(oil_day(row).oil, []).append(row)
    known = []
    for of_oil in found.values():
        record = days_kept_of(of_oil)
        if record.enough and record.kept / record.days > MOSTLY:
            last = max((row for row in of_oil if row["call"] == KEEP), key=_last_last)
            known.append((record.days, _last_last(last), _of(last, f"; near that {record.words}")))
    return max(known)[-1] if known else None


def _of(row: Row, how: str) -> OilOfRun:
    return OilOfRun(
        row["run_label"],
        row["run_on"],
        row["grip"],
        WeatherThen(row["air_temp_c"], row["track_temp_c"], row["diff_temp_c"]),
        row["viscosity_cst"],
        row["fluid_label"],
        how,
    )


def _named(of_oil: Iterable[Row]) -> str:
    """An oil by its label where all runs have one, else by its cSt alone."""
    found = list(of_oil)
    labels = {row["fluid_label"] for row in found}
    return oil_named(next(iter(labels)) if len(labels) == 1 else None, found[0]["viscosity_cst"])


def near_in_words(near: Sequence[NearOil]) -> str:
    """What was run in such conditions, the oils of most days."""
    said = [one.words for one in near[:OILS_SAID]]
    more = len(near) - OILS_SAID
    return "; ".join((*said, *([counted(more, "more oil")] if more > 0 else [])))
