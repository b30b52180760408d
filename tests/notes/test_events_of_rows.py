"""The event that a row of notes names: looked up by name and day, or added. The sheet is constructed."""

from __future__ import annotations

import io
import sqlite3
from pathlib import Path

from bevelbook.notes.importing_parts import import_all
from bevelbook.notes.report import Report
from bevelbook.notes.settings import Settings

SHEET = (
    "date,diff,dry mass,oil mass,runs,race",
    "2026-04-03,K-01,12.5,2.1,,",
    "2026-04-04,K-01,,,2,Fen cup",
    "2026-04-05,K-01,,,2,fen  cup",
    "2026-05-10,K-01,,,1,Fen cup",
    "2026-05-11,K-01,,,1,Fen test",
)


def bring(database: sqlite3.Connection, path: Path, *, dry_run: bool = False) -> Report:
    settings = Settings(today="2026-06-30")
    (report,) = import_all(
        io.BytesIO("\n".join([*SHEET, ""]).encode()), "fen.csv", database, path, settings, dry_run=dry_run
    )
    return report


def test_a_sheet_looks_events_up_by_name_and_day_and_says_which_are_new(
    database: sqlite3.Connection, path: Path
) -> None:
    database.execute(
        "INSERT INTO events (id, version, created_at, updated_at, name, first_on) "
        "VALUES ('e', 'e', '2026-01-01', '2026-01-01', 'Fen cup', '2026-05-10')"
    )
    database.commit()
    said = [(one.kind, one.label, one.line) for one in bring(database, path, dry_run=True).new_names]
    assert [one for one in said if one[0] == "event"] == [("event", "Fen cup", 3), ("event", "Fen test", 6)]
    bring(database, path)
    asked = "SELECT r.run_on, e.name, e.first_on FROM runs r JOIN events e ON e.id = r.event ORDER BY 1"
    runs = [tuple(row) for row in database.execute(asked)]
    assert runs == [
        ("2026-04-04", "Fen cup", None),
        ("2026-04-05", "Fen cup", None),
        ("2026-05-10", "Fen cup", "2026-05-10"),
        ("2026-05-11", "Fen test", None),
    ]
    again = bring(database, path)
    assert (again.new_names, database.execute("SELECT count(*) FROM events").fetchone()[0]) == ((), 3)
