"""The weather to come against that of a diff's last run: what the oil for the afternoon is worked out from."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from typing import Final, Literal, NamedTuple

from bevelbook.declare.vocabulary import POSITIONS
from bevelbook.facts.car_diffs import in_cars
from bevelbook.facts.diffs import APART
from bevelbook.facts.place_of_diff import place_of_diff
from bevelbook.facts.runs import LAST_RUN_FIRST
from bevelbook.facts.sql import Row, rows
from bevelbook.plugin.where_shown import ForForecast
from bevelbook.reports.shelf import shelf_without_advice

OFF_C: Final = 3.0
"""How far a temperature that somebody expects is easily off; our own figure."""
ForecastOf = Literal["track", "air", "hotter"]
_LAST_RUN: Final = f"""
SELECT r.id, r.label, r.run_on, r.grip, r.air_temp_c, r.track_temp_c, x.diff_temp_c
FROM run_diffs x JOIN runs r ON r.id = x.run WHERE x.build = ? ORDER BY {LAST_RUN_FIRST}, x.id LIMIT 1
"""


class LastWeather(NamedTuple):
    """The last run of a build: its day, grip, and temperatures in °C as far as they are known."""

    run: str
    label: str
    run_on: str
    grip: str | None
    air_c: float | None
    track_c: float | None
    diff_c: float | None


class DiffToRun(NamedTuple):
    """A diff that is closed: its build and oil; of one that was chosen also where it runs, and the build's last run."""

    diff: str
    label: str
    mark: str | None
    build: str
    build_label: str
    fluid: str | None
    viscosity_cst: float | None
    position: str | None = None
    last: LastWeather | None = None


class CarToRun(NamedTuple):
    """A car with the closed diffs that sit in it, front to rear."""

    car: str
    name: str
    diffs: tuple[DiffToRun, ...]


class ToRun(NamedTuple):
    """What an oil may be asked for: the cars whose diffs are written down, and every diff that is closed."""

    cars: tuple[CarToRun, ...]
    diffs: tuple[DiffToRun, ...]


class ToCome(NamedTuple):
    """What a person expects: the temperature of the track or the air in °C, or how many °C hotter it will be; and the
    grip, None for that of the last run."""

    of: ForecastOf
    degrees_c: float
    grip: str | None = None


class WeatherToCome(NamedTuple):
    """The weather to come for one diff, in °C. ``follows`` is the run whose track temperature the track to come was
    worked out from, by the rise typed or that of the air."""

    track_c: float | None
    air_c: float | None
    hotter_by_c: float | None
    grip: str | None
    position: str | None
    follows: LastWeather | None = None

    def inputs(self, inputs: ForForecast) -> dict[str, str]:
        """The inputs of a calculator that takes such weather, as they are typed. Where it takes what was typed, it does
        not get what only follows from that.

        >>> weather = WeatherToCome(36.0, None, 12.0, "low", "rear")
        >>> weather.inputs(ForForecast(track_temp_c="track_c", hotter_by_c="hotter_by_c"))
        {'hotter_by_c': '12'}
        >>> weather.inputs(ForForecast(track_temp_c="track_c", grip="grip", position="position"))
        {'track_c': '36', 'grip': 'low', 'position': 'rear'}
        """
        typed = ((inputs.hotter_by_c, self.hotter_by_c), (inputs.air_temp_c, self.air_c))
        given = {name: f"{value:g}" for name, value in typed if name and value is not None}
        if not given and inputs.track_temp_c and self.track_c is not None:
            given[inputs.track_temp_c] = f"{self.track_c:g}"
        for name, word in ((inputs.grip, self.grip), (inputs.position, self.position)):
            if name and word:
                given[name] = word
        return given


def to_run(connection: sqlite3.Connection) -> ToRun:
    """The cars and diffs that an oil may be asked for; a diff that is apart is not among them."""
    diffs = {row["diff"]: _diff(row) for row in shelf_without_advice(connection) if row["word"] != APART}
    return ToRun(tuple(_cars(connection, diffs)), tuple(diffs.values()))


def _cars(connection: sqlite3.Connection, diffs: Mapping[str, DiffToRun]) -> Iterator[CarToRun]:
    sets: dict[tuple[str, str], dict[str, DiffToRun]] = {}
    for (car, position), there in in_cars(connection).items():
        if there.diff is not None and there.diff in diffs:
            sets.setdefault((there.car_name, car), {})[position] = diffs[there.diff]._replace(position=position)
    for (name, car), places in sorted(sets.items()):
        yield CarToRun(car, name, tuple(places[place] for place in POSITIONS if place in places))


def _diff(row: Row) -> DiffToRun:
    columns = ("diff", "label", "mark", "build", "build_label", "fluid", "viscosity_cst")
    return DiffToRun(*(row[column] for column in columns))


def with_last_run(connection: sqlite3.Connection, diff: DiffToRun) -> DiffToRun:
    """The diff with the last run of its build, and with where it is in a car."""
    last = rows(connection, _LAST_RUN, (diff.build,))
    place = None if diff.position else place_of_diff(connection, diff.diff)
    return diff._replace(
        position=place.position if place else diff.position, last=LastWeather(*last[0].values()) if last else None
    )


def weather_to_come(diff: DiffToRun, to_come: ToCome) -> WeatherToCome:
    """The weather to come for a diff; the same grip as in its last run unless another is expected.

    Where the air or only a rise was typed, the track is taken to rise by as much as the air does, from the last run.
    """
    last = diff.last
    grip = to_come.grip or (last.grip if last else None)
    if to_come.of == "track":
        return WeatherToCome(to_come.degrees_c, None, None, grip, diff.position)
    rise_c: float | None = to_come.degrees_c
    if to_come.of == "air":
        rise_c = None if last is None or last.air_c is None else to_come.degrees_c - last.air_c
    track_c = None if last is None or last.track_c is None or rise_c is None else last.track_c + rise_c
    return WeatherToCome(
        track_c,
        to_come.degrees_c if to_come.of == "air" else None,
        to_come.degrees_c if to_come.of == "hotter" else None,
        grip,
        diff.position,
        last if track_c is not None else None,
    )
