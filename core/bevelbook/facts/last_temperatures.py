"""The temperatures of a build's last runs: of the diff, the air and the track, each from the last run that has it."""

from __future__ import annotations

import sqlite3
from typing import Final, NamedTuple

from bevelbook.facts.runs import RUN_ORDER

TEMPERATURES: Final = {
    "run_diffs.diff_temp_c": "x.diff_temp_c",
    "runs.air_temp_c": "r.air_temp_c",
    "runs.track_temp_c": "r.track_temp_c",
}
"""The columns that have a temperature of a run, each as it is named in the query."""


class RunTemperature(NamedTuple):
    """A temperature in °C, and the label of the run it was taken in."""

    temperature_c: float
    run: str


def last_temperatures(
    connection: sqlite3.Connection, column: str, build: str | None = None
) -> dict[str, RunTemperature]:
    """One of :data:`TEMPERATURES` by build id: of one build (by id), or of all that have it."""
    cell = TEMPERATURES[column]
    only, given = ("AND x.build = ?", (build,)) if build else ("", ())
    rows = connection.execute(
        f"SELECT x.build, {cell}, r.label FROM run_diffs x CROSS JOIN runs r ON r.id = x.run "
        f"WHERE {cell} IS NOT NULL {only} ORDER BY {RUN_ORDER}",
        given,
    )
    return {row[0]: RunTemperature(row[1], row[2]) for row in rows}
