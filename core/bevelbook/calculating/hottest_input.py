"""The hottest that a diff gets as an input: as it was measured after its runs, or else the diffs in its place."""

from __future__ import annotations

import sqlite3
from typing import Any, Final

from bevelbook.calculating.binding import Value
from bevelbook.facts.place_of_diff import place_of_diff
from bevelbook.facts.places import PLACE
from bevelbook.formulas.room_for_heat import HOT_C

ASSUMED: Final = "assumed"
"""What the origin of a temperature begins with that nobody measured."""
_READ: Final = "max(ifnull(x.diff_temp_c, -273.15), ifnull(x.second_diff_temp_c, -273.15))"
_HOTTEST: Final = f"""
SELECT {_READ} AS read_c, b.label, r.label
FROM run_diffs x JOIN runs r ON r.id = x.run JOIN builds b ON b.id = x.build JOIN diffs d ON d.id = b.diff
WHERE (x.diff_temp_c IS NOT NULL OR x.second_diff_temp_c IS NOT NULL) AND {{of}}
ORDER BY read_c DESC, r.run_on DESC, x.id DESC LIMIT 1
"""


def hottest_of_builds(connection: sqlite3.Connection, build: str | None = None) -> dict[str, Value]:
    """By build (one by its id, or all): the hottest measured of its diff, else of its place, in °C, with the run.

    Not under what is assumed where nothing is measured: a season of cool days says nothing about a hot one.
    """
    only, given = ("WHERE id = ?", (build,)) if build else ("", ())
    of_diffs: dict[str, Value | None] = {}
    of_places: dict[str, Value | None] = {}
    found = {}
    for one, diff in connection.execute(f"SELECT id, diff FROM builds {only}", given).fetchall():
        if diff not in of_diffs:
            of_diffs[diff] = _of_diff(connection, diff, of_places)
        if (hottest := of_diffs[diff]) is not None:
            found[one] = hottest
    return found


def _of_diff(connection: sqlite3.Connection, diff: str, of_places: dict[str, Value | None]) -> Value | None:
    """``of_places`` holds what was found of a place: that reads all runs, so it is asked once for each place."""
    own = connection.execute(_HOTTEST.format(of="x.build IN (SELECT id FROM builds WHERE diff = ?)"), (diff,))
    hottest = _value(own.fetchone())
    known = None if hottest else place_of_diff(connection, diff)
    if known is None:
        return hottest
    if known.position not in of_places:
        found = connection.execute(_HOTTEST.format(of=f"{PLACE} = ?"), (known.position,)).fetchone()
        of_places[known.position] = _value(found)
    return of_places[known.position]


def _value(row: Any) -> Value | None:
    if row is None:
        return None
    temperature_c, build, run = row
    if temperature_c < HOT_C:
        words = f"{ASSUMED}; the hottest measured is {temperature_c:g} °C, {build} in run {run}"
        return Value(HOT_C, words, names_record=True)
    return Value(temperature_c, f"the hottest measured, {build} in run {run}", names_record=True)
