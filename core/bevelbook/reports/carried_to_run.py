"""What a new run takes over from the runs before it: place and people of the day, weather while it is fresh, tyres.

Each value has the run in which a person wrote it, so that its age is that of the reading and not of the last run.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from datetime import date, datetime, timedelta
from typing import Final, NamedTuple

from bevelbook.facts.car_times import RunMoment, moment_of
from bevelbook.facts.car_values import differences, values_at
from bevelbook.facts.day_order import (
    AS_WRITTEN,
    day_in_turn,
    label_number_sql,
    last_run_before,
    minutes,
    noted_at_sql,
    runs_of_day,
)
from bevelbook.facts.runs import runs_of_row
from bevelbook.facts.sql import Row, rows
from bevelbook.kept_json import object_in
from bevelbook.records import BY_NAME
from bevelbook.store.event_of_day import events_on
from bevelbook.store.lookup import label_of
from bevelbook.store.record_names import names_of

WEATHER_HOLDS: Final = timedelta(hours=3)
"""How old a temperature of air or track may be to be taken over; our own figure. The sun moves a track by several °C in
an hour."""
MEETING_HOLDS_DAYS: Final = 1
"""How many days later place, event, driver and tyres are still taken over: the next day of a meeting."""
OF_THE_DAY: Final = ("venue", "event")
WEATHER: Final = ("air_temp_c", "track_temp_c")
TYRES: Final = "tyres"
TYRE_RUNS: Final = "tyre_runs"
OF_THE_CAR: Final = ("driver", TYRES)
OF_CAR: Final = (*OF_THE_CAR, TYRE_RUNS)
"""Fields whose values are taken over within a car alone."""
HOLDS_DAYS: Final[Mapping[str, int]] = {
    **dict.fromkeys(WEATHER, 0),
    **dict.fromkeys((*OF_THE_DAY, *OF_CAR), MEETING_HOLDS_DAYS),
}
"""How many days later the value of a field is still taken over."""
HOLDS_MIN: Final[Mapping[str, float]] = dict.fromkeys(WEATHER, WEATHER_HOLDS / timedelta(minutes=1))
"""How many minutes later as well, of a field that holds for so long only."""
_LOOKED_AT: Final = 500
"""The last runs that are looked at for the figure used last."""
LAP_FIGURES: Final = ("best_five_s", "best_lap_s")
"""The figures of a run of which the one used last comes first."""
AS_IN_RUN: Final = "as in run "
"""How the origin of a value begins that was taken over."""
BY_ITS_DAY: Final = "the event of that day"
WHERE_IT_IS: Final = "where the event of that day is"
_RUNS: Final = f"""
SELECT r.*, r.id AS run, {label_number_sql()} AS label_number, {noted_at_sql()} AS noted_at FROM runs r
WHERE r.run_on = ? ORDER BY {AS_WRITTEN}
"""


class RunBefore(NamedTuple):
    """A run that a value comes from: ``minutes`` and ``days`` ago; without a time of day only the days are known."""

    run: str
    label: str
    day: str
    days: int
    minutes: float | None


class CarriedValue(NamedTuple):
    """A value of a field of runs, as the text that a person types for it, and the run in which it was written.

    ``holds`` is whether it is taken over; one that does not may still be true, which only a person knows. ``why`` is
    where a value is from that no run has: the event of that day, and where that is.
    """

    field: str
    text: str
    run: RunBefore
    holds: bool
    why: str = ""

    @property
    def origin(self) -> str:
        """What is kept with the value in place of what was typed: ``as in run 2026-05-03/1``."""
        return self.why or f"{AS_IN_RUN}{self.run.label}"


class CarriedToRun(NamedTuple):
    """What a new run of a car takes over; ``before`` is the run of the car before it.

    ``lap`` is the figure used last, of :data:`LAP_FIGURES`.
    """

    before: RunBefore | None
    values: tuple[CarriedValue, ...]
    lap: str

    def value(self, field: str) -> CarriedValue | None:
        """The value of a field, if there is one."""
        return next((value for value in self.values if value.field == field), None)


class RunsOfTeam(NamedTuple):
    """The runs of all cars on the last day with one, as they were written; and which was the last."""

    rows: tuple[Row, ...]
    last: Row | None


def carried_to_run(
    connection: sqlite3.Connection,
    car: str | None,
    day: str,
    now: datetime,
    *,
    until: str | None = None,
    team: RunsOfTeam | None = None,
) -> CarriedToRun:
    """What a new run of a car (by id) on a day takes over; without a car, of a team that names none.

    now    the time on the wall, with its zone, at which the run is noted
    until  the same as the database keeps it, where that is not now: of runs that were written down since, only those of
           the car itself count
    team   the runs of the team until then, where they were read before
    """
    team = team or runs_of_team(connection, day, until)
    before = _run_of_car(connection, car, day) if car else team.last
    ago = _Ago(day, now)
    found: list[CarriedValue] = []
    found += _of_the_day(connection, day, team.last, ago)
    found += _weather(connection, day, team, ago)
    if before is not None:
        found += _of_car(connection, before, car, ago)
    return CarriedToRun(
        ago.run(before) if before is not None else None, tuple(found), _lap_figure(connection, before, team.last)
    )


class _Ago(NamedTuple):
    """How long ago runs were, from a day and the time on the wall."""

    day: str
    now: datetime

    def run(self, row: Row) -> RunBefore:
        return RunBefore(row["id"], row["label"], row["run_on"], self.days(row), self.minutes(row))

    def days(self, row: Row) -> int:
        try:
            return (date.fromisoformat(self.day) - date.fromisoformat(row["run_on"])).days
        except ValueError:
            return MEETING_HOLDS_DAYS + 1

    def minutes(self, row: Row) -> float | None:
        """Minutes since the run: by its time of day, else since it was written down by hand on its day."""
        if self.day != self.now.date().isoformat() or row["run_on"] != self.day:
            return None
        started = minutes(row["started_at"])
        if started is not None:
            at = self.now.replace(hour=started // 60, minute=started % 60, second=0, microsecond=0)
        elif row["note_file"] is None:
            at = datetime.fromisoformat(row["created_at"].replace("Z", "+00:00")).astimezone(self.now.tzinfo)
        else:
            return None
        return max((self.now - at).total_seconds() / 60.0, 0.0) if at.date() == self.now.date() else None


def _run_of_car(connection: sqlite3.Connection, car: str, day: str) -> Row | None:
    of_day = runs_of_day(connection, car, day)
    run = of_day[-1] if of_day else last_run_before(connection, car, day)
    return rows(connection, "SELECT * FROM runs WHERE id = ?", (run,))[0] if run else None


def runs_of_team(connection: sqlite3.Connection, day: str, until: str | None = None) -> RunsOfTeam:
    """The runs of any car on the last day with one, until the end of a day; ``until`` as for what is carried over."""
    newest = "SELECT max(run_on) FROM runs WHERE run_on <= ?1 AND (?2 IS NULL OR created_at <= ?2)"
    last = connection.execute(newest, (day, until)).fetchone()[0]
    of_day = {row["run"]: row for row in _runs_of(connection, last, until)}
    return RunsOfTeam(tuple(of_day.values()), of_day[day_in_turn(of_day.values())[-1]] if of_day else None)


def _runs_of(connection: sqlite3.Connection, day: str | None, until: str | None) -> list[Row]:
    """The runs of a day that were written down until an instant, as they were written."""
    return [row for row in rows(connection, _RUNS, (day,)) if until is None or row["created_at"] <= until]


def _taken_over(
    connection: sqlite3.Connection, source: Row, fields: tuple[str, ...], ago: _Ago
) -> Iterator[CarriedValue]:
    for name in fields:
        if source[name] is not None:
            holds = ago.days(source) <= HOLDS_DAYS[name]
            yield CarriedValue(name, _text(connection, name, source[name]), ago.run(source), holds)


def _of_the_day(connection: sqlite3.Connection, day: str, last: Row | None, ago: _Ago) -> list[CarriedValue]:
    """Place and event: as in the last run, and where that has no event of this day, the one whose day it is. Of several
    such events none is taken: a person says which.
    """
    carried = list(_taken_over(connection, last, OF_THE_DAY, ago)) if last is not None else []
    place = next((one for one in carried if one.field == "venue" and one.holds), None)
    venue = last["venue"] if last is not None and place is not None else None
    there = events_on(connection, day, venue)
    of_last = last["event"] if last is not None else None
    if not there or (last is not None and of_last and (last["run_on"] == day or of_last in {one.id for one in there})):
        return carried
    names = names_of(connection, BY_NAME["event"], [one.id for one in there])
    no_run = RunBefore("", "", day, 0, None)
    is_one = len(there) == 1
    events = [CarriedValue("event", names[one.id], no_run, is_one, BY_ITS_DAY) for one in there]
    kept = [one for one in carried if one.field == "venue"]
    if is_one and place is None and there[0].venue is not None:
        kept = [CarriedValue("venue", _text(connection, "venue", there[0].venue), no_run, True, WHERE_IT_IS)]
    return [*kept, *events]


def _weather(connection: sqlite3.Connection, day: str, team: RunsOfTeam, ago: _Ago) -> Iterator[CarriedValue]:
    """The last reading of each temperature on that day, of any car at the place of the last run."""
    if team.last is None or team.last["run_on"] != day:
        return
    of_day = [row for row in team.rows if row["venue"] == team.last["venue"]]
    for name in WEATHER:
        read = [row for row in of_day if row[name] is not None and not _is_taken_over(row, name)]
        if not read:
            continue
        timed = [(since, -place, row) for place, row in enumerate(read) if (since := ago.minutes(row)) is not None]
        since, _, last = min(timed, key=lambda one: one[:2]) if timed else (None, 0, read[-1])
        holds = since is not None and since <= HOLDS_MIN[name]
        yield CarriedValue(name, _text(connection, name, last[name]), ago.run(last), holds)


def _is_taken_over(row: Row, field: str) -> bool:
    typed = (object_in(row["entered"]) or {}) if row["entered"] else {}
    return str(typed.get(field, "")).startswith(AS_IN_RUN)


def _of_car(connection: sqlite3.Connection, before: Row, car: str | None, ago: _Ago) -> Iterator[CarriedValue]:
    """Driver and tyres as in the run of the car before, the tyres with its runs added.

    Tyres that were written for the car since, as one of its values, are not those of the run before.
    """
    for value in _taken_over(connection, before, OF_THE_CAR, ago):
        if value.field != TYRES or not (car and _has_other_tyres(connection, car, before["id"], ago)):
            yield value
            if value.field == TYRES and before[TYRE_RUNS] is not None:
                runs = before[TYRE_RUNS] + runs_of_row(before)
                yield value._replace(field=TYRE_RUNS, text=f"{runs:g}")


def _has_other_tyres(connection: sqlite3.Connection, car: str, before: str, ago: _Ago) -> bool:
    run = RunMoment(ago.day, today=ago.now.date().isoformat())
    changed = differences(values_at(connection, car, moment_of(connection, before)), values_at(connection, car, run))
    return any(change.what.casefold() == TYRES for change in changed)


def _lap_figure(connection: sqlite3.Connection, *runs: Row | None) -> str:
    """The figure of the first of these runs that has one, else of the run written last that has one."""
    for run in runs:
        for name in LAP_FIGURES:
            if run is not None and run[name] is not None:
                return name
    last = connection.execute(
        f"SELECT best_five_s IS NOT NULL FROM (SELECT * FROM runs ORDER BY run_on DESC, id LIMIT {_LOOKED_AT}) "
        "WHERE best_five_s IS NOT NULL OR best_lap_s IS NOT NULL ORDER BY run_on DESC, created_at DESC, id DESC LIMIT 1"
    ).fetchone()
    return LAP_FIGURES[0] if last is None or last[0] else LAP_FIGURES[1]


def _text(connection: sqlite3.Connection, name: str, value: object) -> str:
    field = BY_NAME["run"].field(name)
    if field.kind == "reference" and field.target:
        return label_of(connection, BY_NAME[field.target], str(value))
    return f"{value:g}" if isinstance(value, float) else str(value)
