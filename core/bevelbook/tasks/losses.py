"""Builds that lost oil, and what was decided on them: a change of oil on a diff that was not full decides little."""

from __future__ import annotations

import json
import sqlite3
from typing import Any


def lost_rows(connection: sqlite3.Connection) -> list[dict[str, Any]]:
    """Builds whose weighings say caution or stop, with the grams, the oil put in and the runs."""
    found = connection.execute(
        """
        SELECT b.label, c.verdict, json_extract(c.found, '$.loss_g') AS loss_g,
               json_extract(c.given, '$.oil_mass_g') AS oil_mass_g,
               json_extract(c.given, '$.weighings[#-1].runs') AS runs
        FROM latest_calculations c JOIN builds b ON c.subject_table = 'builds' AND b.id = c.subject_id
        WHERE c.calculator = 'leak-trend' AND c.verdict IN ('caution', 'stop') ORDER BY b.built_on, b.label
        """
    )
    return [dict(row) for row in found]


def decided_on_lost_oil(connection: sqlite3.Connection) -> list[dict[str, Any]]:
    """Runs that ended in a change while the diff had lost oil, with what was missing at the next weighing."""
    found = connection.execute(
        """
        SELECT w.run_on, w.venue, w.build_label, w.runs_before, w.note, c.given
        FROM what_worked w JOIN latest_calculations c
             ON c.calculator = 'leak-trend' AND c.subject_table = 'builds' AND c.subject_id = w.build
        WHERE w.doubtful = 'had lost oil' AND w.call = 'change' ORDER BY w.run_on, w.day_order, w.run_diff
        """
    )
    rows = []
    for row in found:
        given = json.loads(row["given"])
        masses = given["weighings"]
        later = next((one for one in masses if one["runs"] > row["runs_before"]), masses[-1])
        rows.append(
            {
                **{name: row[name] for name in ("run_on", "venue", "build_label", "runs_before", "note")},
                "loss_g": round(masses[0]["mass_g"] - later["mass_g"], 4),
                "oil_mass_g": given["oil_mass_g"],
            }
        )
    return rows


def decided_line(row: dict[str, Any]) -> str:
    """One such run in words."""
    start = f"{row['run_on']}, {row['venue']}: change"
    said = f' ("{row["note"]}")' if row["note"] else ""
    share = f"{row['loss_g'] / row['oil_mass_g']:.0%}".replace("%", " %") if row["oil_mass_g"] else None
    lost = f"{share} of its oil" if share else f"{row['loss_g']:.2f} g"
    return f"{start}{said}, on a diff that had lost {lost} ({row['build_label']})"
