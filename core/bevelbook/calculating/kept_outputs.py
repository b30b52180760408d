"""What a calculation that was kept for a build found, as the input of another: ``results.damping_nm_s``."""

from __future__ import annotations

import sqlite3
from math import isfinite

from bevelbook.calculating.binding import Value


def kept_outputs(connection: sqlite3.Connection, output: str, build: str | None) -> dict[str, Value]:
    """The last kept value of an output by build id, of one build or of all, with where it was kept."""
    only, given = ("AND subject_id = :build", {"build": build}) if build else ("", {})
    rows = connection.execute(
        "SELECT subject_id, json_extract(found, '$.' || :output), calculator, calculated_at FROM latest_calculations "
        f"WHERE subject_table = 'builds' AND json_valid(found) {only} ORDER BY calculated_at, id",
        {"output": output, **given},
    )
    return {
        row[0]: Value(float(row[1]), f"{row[2]} kept on {row[3][:10]}")
        for row in rows
        if isinstance(row[1], (int, float)) and isfinite(row[1])
    }
