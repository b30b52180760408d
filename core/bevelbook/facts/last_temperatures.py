"""The temperatures of a build's runs: of the diff, the air and the track, those of one run together."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Final, NamedTuple

from bevelbook.display.format import figure_again
from bevelbook.facts.places import PLACE
from bevelbook.facts.runs import RUN_ORDER

DIFF: Final = "run_diffs.diff_temp_c"
AIR: Final = "runs.air_temp_c"
TRACK: Final = "runs.track_temp_c"
RUN: Final = "runs.label"
TEMPERATURES: Final = (DIFF, AIR, TRACK)
"""The columns that have a temperature of a run."""
_RUNS: Final = f"""
SELECT x.{{key}}, b.diff, r.label, x.diff_temp_c, r.air_temp_c, r.track_temp_c, {PLACE} AS position
FROM run_diffs x CROSS JOIN runs r ON r.id = x.run
LEFT JOIN builds b ON b.id = x.build LEFT JOIN diffs d ON d.id = b.diff
WHERE (x.diff_temp_c IS NOT NULL OR r.air_temp_c IS NOT NULL OR r.track_temp_c IS NOT NULL) {{only}}
ORDER BY {RUN_ORDER}
"""
_OF_SAME_DIFF: Final = (
    "AND x.build IN (SELECT ?1 UNION SELECT id FROM builds WHERE diff = (SELECT diff FROM builds WHERE id = ?1))"
)


class RunTemperatures(NamedTuple):
    """The temperatures of one run in °C, its label, and where the diff was in it; ``diff`` is its id."""

    diff: str | None
    run: str
    diff_c: float | None
    air_c: float | None
    track_c: float | None
    position: str | None

    def of(self, column: str) -> float | None:
        """One of :data:`TEMPERATURES`."""
        return {DIFF: self.diff_c, AIR: self.air_c, TRACK: self.track_c}[column]

    @property
    def has_weather(self) -> bool:
        """Whether the air or the track is known."""
        return self.air_c is not None or self.track_c is not None

    @property
    def words(self) -> str:
        """The weather, as what is expected of it says it."""
        named = (("air", self.air_c), ("track", self.track_c))
        known = [f"{name} {figure_again(value, '°C')} °C" for name, value in named if value is not None]
        return f"for {' and '.join(known)} as in run {self.run}"


def builds_in_runs(connection: sqlite3.Connection, build: str | None = None) -> Iterator[tuple[str, RunTemperatures]]:
    """The runs that have a temperature, in order, each with the id of the build: all, or those of one build's diff."""
    only, given = (_OF_SAME_DIFF, (build,)) if build else ("", ())
    for row in connection.execute(_RUNS.format(key="build", only=only), given):
        yield row[0], RunTemperatures._make(tuple(row)[1:])


def diffs_in_runs(connection: sqlite3.Connection, run_diff: str | None = None) -> dict[str, RunTemperatures]:
    """The same by the id of the diff in a run: of one, or of all."""
    only, given = ("AND x.id = ?1", (run_diff,)) if run_diff else ("", ())
    rows = connection.execute(_RUNS.format(key="id", only=only), given)
    return {row[0]: RunTemperatures._make(tuple(row)[1:]) for row in rows}
