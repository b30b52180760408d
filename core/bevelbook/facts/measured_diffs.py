"""Runs in which the temperature of the diff was measured, with the air and the track."""

from __future__ import annotations

import sqlite3
from typing import Any, Final

from bevelbook.facts.places import PLACE
from bevelbook.facts.runs import RUN_ORDER

NEWEST: Final = 5_000
"""The newest runs that are looked through, so that a page does not get slower with the years."""
MEASURED_DIFFS: Final = f"""
SELECT NULL, r.air_temp_c, r.track_temp_c, x.diff_temp_c, r.run_on AS day, {PLACE} AS position
FROM (SELECT * FROM runs ORDER BY run_on DESC, id DESC LIMIT {NEWEST}) r CROSS JOIN run_diffs x ON x.run = r.id
JOIN builds b ON b.id = x.build JOIN diffs d ON d.id = b.diff
WHERE x.diff_temp_c IS NOT NULL AND (r.air_temp_c IS NOT NULL OR r.track_temp_c IS NOT NULL)
ORDER BY {RUN_ORDER}, x.id
"""


def measured_diffs(connection: sqlite3.Connection) -> list[dict[str, Any]]:
    """The newest of them: air, track and diff in °C, day, and where the diff was in the car."""
    cursor = connection.execute(MEASURED_DIFFS)
    names = [column[0] for column in cursor.description][1:]
    return [dict(zip(names, tuple(row)[1:], strict=True)) for row in cursor]
