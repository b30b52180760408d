"""Builds that lost oil, and what was decided on them: a change of oil on a diff that was not full decides little."""

from __future__ import annotations

import json
import sqlite3
from typing import Any, NamedTuple

from bevelbook.store.counting import count_of
from bevelbook.tasks.shelf import lost_in_words


class Lost(NamedTuple):
    """A build whose weighings say caution or stop: the grams, the oil put in, the runs, and how it was opened."""

    build: str
    label: str
    verdict: str
    loss_g: float
    oil_mass_g: float | None
    runs: float
    opened_on: str | None
    leak_place: str | None
    is_last: bool
    """Whether it is the last build of its diff."""

    @property
    def words(self) -> str:
        """What was lost in how many runs."""
        return f"lost {lost_in_words(self.loss_g, self.oil_mass_g)} in {count_of(self.runs)}"

    @property
    def opened_words(self) -> str:
        """When it was opened, and where it leaked; empty while it is closed."""
        if not self.opened_on:
            return ""
        return f"opened {self.opened_on}" + (f" ({self.leak_place})" if self.leak_place else "")


def lost_builds(connection: sqlite3.Connection, most: int = -1) -> list[Lost]:
    """Builds that the latest leak-trend of theirs says lost oil, the newest first; all of them, or so many."""
    found = connection.execute(
        """
        SELECT b.id, b.label, c.verdict, json_extract(c.found, '$.loss_g'), json_extract(c.given, '$.oil_mass_g'),
               json_extract(c.given, '$.weighings[' || (json_array_length(c.given, '$.weighings') - 1) || '].runs'),
               (SELECT o.opened_on FROM openings o WHERE o.build = b.id ORDER BY o.opened_on, o.id LIMIT 1),
               (SELECT o.leak_place FROM openings o WHERE o.build = b.id ORDER BY o.opened_on, o.id LIMIT 1),
               b.id = (SELECT l.id FROM builds l WHERE l.diff = b.diff
                       ORDER BY l.built_on DESC, l.note_line DESC, l.created_at DESC, l.id DESC LIMIT 1)
        FROM calculations c JOIN builds b ON b.id = c.subject_id
        WHERE c.calculator = 'leak-trend' AND c.verdict IN ('caution', 'stop') AND c.subject_table = 'builds'
              AND c.id = (SELECT n.id FROM calculations n
                          WHERE n.subject_table = c.subject_table AND n.subject_id = c.subject_id
                                AND n.calculator = c.calculator
                          ORDER BY n.version DESC, n.calculated_at DESC, n.id DESC LIMIT 1)
        ORDER BY b.built_on DESC, b.label DESC LIMIT ?
        """,
        (most,),
    )
    return [Lost._make((*tuple(row)[:-1], bool(row[-1]))) for row in found]


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
