"""The diff's temperature as an input where it was not measured: expected from the team's own measured days."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Mapping, Sequence
from functools import cache, cached_property
from typing import Any, Final

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
from bevelbook.facts.last_temperatures import (
    RUN,
    TEMPERATURES,
    RunTemperatures,
    builds_in_runs,
    diffs_in_runs,
)
from bevelbook.facts.measured_diffs import measured_diffs
from bevelbook.formulas.expected_temperature import WIDE_C, Expected, MeasuredPast
from bevelbook.plugin.calculator import Formula
from bevelbook.reading import BY_HAND, read
from bevelbook.records import BY_NAME
from bevelbook.store.lookup import label_of

EXPECTED: Final = "expected "
"""How the origin of an expected temperature begins: ``formulas.expected_temperature.Expected.words``."""
EXPECTED_ORIGINS: Final = (OF_LAST_RUN, IN_USE, IN_USE_HIGH)
EXPECTED_OF_BUILD: Final = frozenset(EXPECTED_ORIGINS)


class _Expecting:
    """Expectations by where a diff is in the car, from the team's measured days, read once."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self._pasts: dict[str | None, MeasuredPast] = {}
        self.at = cache(self._at)

    @cached_property
    def _rows(self) -> list[dict[str, Any]]:
        return measured_diffs(self._connection)

    def of(self, run: RunTemperatures) -> Expected | None:
        """What is expected of the air and track of a run."""
        return self.at(run.air_c, run.track_c, run.position)

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


def temperatures_of_builds(
    connection: sqlite3.Connection, columns: Collection[str], build: str | None = None
) -> dict[str, dict[str, Value]]:
    """By column or origin, then by build (one by id, or all): temperatures, measured or expected, all of one run.

    Where ``columns`` name an expected one that is the last run in which the diff was measured or can be expected; else
    the last that has a temperature of ``columns``. What to expect in use of a build without a run of its own is that of
    the last run of its diff, unless the diff was measured in that.
    """
    own: dict[str, list[RunTemperatures]] = {}
    of_diff: dict[str | None, tuple[str, RunTemperatures]] = {}
    for one, run in builds_in_runs(connection, build):
        own.setdefault(one, []).append(run)
        if run.has_weather:
            of_diff[run.diff] = one, run
    found: dict[str, dict[str, Value]] = {column: {} for column in (*TEMPERATURES, RUN, *EXPECTED_ORIGINS)}
    expecting = _Expecting(connection) if EXPECTED_OF_BUILD & set(columns) else None
    asked = [column for column in TEMPERATURES if column in columns]
    for one, runs in own.items():
        if build in (None, one):
            chosen = _last_known(runs, asked, expecting)
            if chosen is not None:
                _fill(found, one, *chosen)
    if expecting is not None:
        where, given = ("WHERE id = ?", (build,)) if build else ("", ())
        for one, diff in connection.execute(f"SELECT id, diff FROM builds {where}", given):
            before, last = (None, None) if one in own else of_diff.get(diff, (None, None))
            if last is not None and last.diff_c is None and (expected := expecting.of(last)) is not None:
                _fill_in_use(found, one, last, expected, before and label_of(connection, BY_NAME["build"], before))
    return {column: values for column, values in found.items() if column in columns}


def expected_of_diffs_in_runs(
    connection: sqlite3.Connection, columns: Collection[str], run_diff: str | None = None
) -> dict[str, dict[str, Value]]:
    """By origin, then by the diff in a run (one by id, or all): what to expect of it where it was not measured."""
    found: dict[str, dict[str, Value]] = {origin: {} for origin in EXPECTED_ORIGINS}
    expecting = _Expecting(connection)
    for one, run in diffs_in_runs(connection, run_diff).items():
        if run.diff_c is None and (expected := expecting.of(run)) is not None:
            found[OF_LAST_RUN][one] = Value(expected.value_c, f"{expected.words}, {run.words}")
            _fill_in_use(found, one, run, expected)
    return {origin: values for origin, values in found.items() if origin in columns}


def _last_known(
    runs: Sequence[RunTemperatures], asked: Sequence[str], expecting: _Expecting | None
) -> tuple[RunTemperatures, Expected | None] | None:
    """The run of a build that its temperatures are of, and what is expected of the diff where it was not measured."""
    if expecting is not None:
        for run in reversed(runs):
            expected = None if run.diff_c is not None else expecting.of(run)
            if run.diff_c is not None or expected is not None:
                return run, expected
    for run in reversed(runs):
        if any(run.of(column) is not None for column in asked):
            return run, None
    return None


def _fill(found: dict[str, dict[str, Value]], one: str, run: RunTemperatures, expected: Expected | None) -> None:
    found[RUN][one] = Value(run.run, "the last run with a temperature")
    for column in TEMPERATURES:
        value = run.of(column)
        if value is not None:
            found[column][one] = Value(value, f"run {run.run}")
    if expected is not None:
        found[OF_LAST_RUN][one] = Value(expected.value_c, f"{expected.words}, {run.words}")
        _fill_in_use(found, one, run, expected)


def _fill_in_use(
    found: dict[str, dict[str, Value]], one: str, run: RunTemperatures, expected: Expected, before: str | None = None
) -> None:
    """``before`` is the label of the build whose run it is, where that is another."""
    origin = f"{expected.words}, {run.words}" + (f", build {before}" if before else "")
    for column, value_c in ((IN_USE, expected.value_c), (IN_USE_HIGH, expected.high_c)):
        found[column][one] = Value(value_c, origin, names_record=before is not None)


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
