"""The diff's temperature as an input where it was not measured: expected from the team's own measured days."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any, Final, NamedTuple

from bevelbook.calculating.binding import Value
from bevelbook.calculating.named_origins import (
    FORECAST_AIR,
    FORECAST_OF,
    FORECAST_POSITION,
    FORECAST_TRACK,
    IN_USE,
    IN_USE_HIGH,
    OF_FORECAST,
    OF_LAST_RUN,
)
from bevelbook.declare.errors import BevelbookError
from bevelbook.declare.fields import Field
from bevelbook.facts.last_temperatures import last_temperatures
from bevelbook.facts.measured_diffs import measured_diffs
from bevelbook.facts.places import PLACE
from bevelbook.facts.runs import RUN_ORDER
from bevelbook.formulas.expected_temperature import WIDE_C, Expected, MeasuredPast
from bevelbook.plugin.calculator import Formula
from bevelbook.reading import BY_HAND, read

EXPECTED: Final = "expected "
"""How the origin of an expected temperature begins: ``formulas.expected_temperature.Expected.words``."""
EXPECTED_OF_BUILD: Final = frozenset({OF_LAST_RUN, IN_USE, IN_USE_HIGH})
_DIFF: Final = "run_diffs.diff_temp_c"
_WEATHER: Final = f"""
SELECT x.build, b.diff, r.air_temp_c, r.track_temp_c, {PLACE} AS position, r.label,
       x.diff_temp_c IS NOT NULL AS measured
FROM builds b CROSS JOIN diffs d ON d.id = b.diff CROSS JOIN run_diffs x ON x.build = b.id
CROSS JOIN runs r ON r.id = x.run
WHERE (r.air_temp_c IS NOT NULL OR r.track_temp_c IS NOT NULL) {{only}} ORDER BY {RUN_ORDER}
"""


class _Weather(NamedTuple):
    """Air and track of a run, and where the diff was in it."""

    air_c: float | None
    track_c: float | None
    position: str | None
    run: str
    was_measured: int

    @property
    def words(self) -> str:
        known = [
            f"{name} {value:g} °C"
            for name, value in (("air", self.air_c), ("track", self.track_c))
            if value is not None
        ]
        return f"for {' and '.join(known)} as in run {self.run}"


class _Expecting:
    """Expectations by where a diff is in the car, from the team's measured days, read once."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._rows = measured_diffs(connection)
        self._pasts: dict[str | None, MeasuredPast] = {}
        self.at = cache(self._at)

    def _at(self, air_c: float | None, track_c: float | None, position: str | None) -> Expected | None:
        """What is expected there; None if nothing is, or too wide to choose an oil by."""
        if air_c is None and track_c is None:
            return None
        if position not in self._pasts:
            self._pasts[position] = MeasuredPast(self._rows, position)
        found = self._pasts[position].expected(air_c, track_c)
        if found.value_c is None or found.high_c is None or found.high_c - found.value_c > WIDE_C:
            return None
        return found._replace(value_c=round(found.value_c, 1), high_c=round(found.high_c, 1))


def expected_of_builds(connection: sqlite3.Connection, build: str | None) -> Iterator[tuple[str, dict[str, Value]]]:
    """By origin: the temperature of the diff in the last run of a build (by id, or of all), and in use.

    Only builds in whose runs the diff was never measured; a build without a run of its own takes the last one of its
    diff, unless the diff was measured in that.
    """
    measured = last_temperatures(connection, _DIFF, build)
    of_build: dict[str, _Weather] = {}
    of_diff: dict[str, _Weather] = {}
    only, given = ("AND b.diff = (SELECT diff FROM builds WHERE id = ?)", (build,)) if build else ("", ())
    for one, diff, *weather_then in connection.execute(_WEATHER.format(only=only), given):
        of_build[one] = of_diff[diff] = _Weather._make(weather_then)
    where, asked = ("WHERE id = ?", (build,)) if build else ("", ())
    expecting: _Expecting | None = None
    then: dict[str, Value] = {}
    in_use: dict[str, Value] = {}
    high: dict[str, Value] = {}
    for one, diff in connection.execute(f"SELECT id, diff FROM builds {where}", asked):
        weather = of_build.get(one) or of_diff.get(diff)
        if one in measured or weather is None or (one not in of_build and weather.was_measured):
            continue
        expecting = expecting or _Expecting(connection)
        found = expecting.at(weather.air_c, weather.track_c, weather.position)
        if found is None:
            continue
        origin = f"{found.words}, {weather.words}"
        in_use[one], high[one] = Value(found.value_c, origin), Value(found.high_c, origin)
        if one in of_build:
            then[one] = Value(found.value_c, origin)
    yield OF_LAST_RUN, then
    yield IN_USE, in_use
    yield IN_USE_HIGH, high


def expected_of_forecast(
    connection: sqlite3.Connection,
    formula: Formula[Any, Any],
    texts: Mapping[str, str | list[str]],
    position: str | None = None,
) -> dict[str, tuple[Any, str]]:
    """The temperature of the diff for the air and track that a person typed into a formula's inputs, if any.

    ``position`` is where the diff is in the car if nothing typed says so.
    """
    by_origin = {field.same_as: field for field in formula.inputs if field.same_as}
    if OF_FORECAST not in by_origin or _typed(by_origin.get(FORECAST_OF), texts) not in (None, "track"):
        return {}
    air, track = (_typed(by_origin.get(origin), texts) for origin in (FORECAST_AIR, FORECAST_TRACK))
    if air is None and track is None:
        return {}
    place = _typed(by_origin.get(FORECAST_POSITION), texts) or position
    found = _Expecting(connection).at(air, track, place)
    return {} if found is None else {OF_FORECAST: (found.value_c, found.words)}


def _typed(field: Field | None, texts: Mapping[str, str | list[str]]) -> Any:
    """A typed value; None where there is none, or it cannot be read, which is reported where the inputs are bound."""
    text = texts.get(field.name) if field else None
    if field is None or not isinstance(text, str) or not text.strip():
        return None
    try:
        return read(field, text, BY_HAND)
    except BevelbookError:
        return None
