"""Every field of a run, a diff in it, a build and a weighing can come from notes, and comes back as it was read.
Invented data."""

from __future__ import annotations

import csv
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from bevelbook.declare.fields import Field, fields_of
from bevelbook.notes.bulk import Bulk
from bevelbook.notes.note_columns import BY_NAME, COLUMNS, FILLINGS, NAMES, REFERRED, TEMP_AT
from bevelbook.notes.row_read_back import DIGITS, cells_of
from bevelbook.records import BY_NAME as KINDS
from bevelbook.records.building import Build, Weighing
from bevelbook.records.track import Run, RunDiff

Command = Callable[..., Any]
NOT_OF_A_ROW = {
    (Build, "label"): "numbered by the tool",
    (Build, "viscosity_from"): "is the note itself",
    (Build, "like"): "names another build by a number that the tool gives",
    (Build, "tries"): "names an idea, which has no name of its own",
    (Build, "day_order"): "follows from the order of the rows",
    (Build, "paper_wet_at"): "seen at the bench, hours after the build is written",
    (Weighing, "build"): "the build that the diff had then",
    (Weighing, "basis_from"): "follows from the columns that the row has",
    (Run, "label"): "numbered by the tool",
    (RunDiff, "run"): "the run of its row",
    (RunDiff, "build"): "the build that the diff had then",
    (RunDiff, "temp_place"): "follows from the columns that the row has",
}
"""The fields that no column of notes fills, and why."""
GIVEN: dict[str, Any] = {
    "date": "2026-05-03",
    "diff": "K-01",
    "dry_mass_g": 19.4,
    "oil_mass_g": 1.5,
    "total_mass_g": 20.9,
    "closed_mass_g": 24.1,
    "scale": "bench",
    "started_at": "14:10",
    "lap_times": "18.4 18.52",
}
OF_A_WEIGHING = {name: one for name, one in FILLINGS.items() if Weighing in one.owners or one.makes is Weighing}


def test_every_field_is_filled_or_has_a_reason_not_to_be() -> None:
    filled = {fill for one in FILLINGS.values() for fill in one.fills}
    filled |= {(cls, name) for name, one in FILLINGS.items() for cls in one.also}
    declared = {(cls, field.name) for cls in (Build, Weighing, Run, RunDiff) for field in fields_of(cls)}
    assert declared - filled == set(NOT_OF_A_ROW)
    assert filled <= declared | {(RunDiff, name) for name in TEMP_AT}


def cell_of(field: Field, number: int) -> Any:
    """A value that a column takes, another one in each."""
    if field.name in GIVEN:
        return GIVEN[field.name]
    if field.choices:
        return field.choices[number % len(field.choices)]
    if field.kind == "whole":
        return 1 + number % 2 if field.minimum != -2 else number % 3 - 1
    if field.kind == "quantity":
        low, high = field.plausible or (field.minimum or 0, min(field.below or 50, 50))
        return round(low + (high - low) * (0.2 + number / 200), 2)
    return f"{field.name} {number}"


CELLS = {field.name: cell_of(field, number) for number, field in enumerate(COLUMNS) if field.name not in TEMP_AT}
"""A cell for every column but the temperatures by place: of those a row has one or the other, not its own beside it."""
LATER = {name: CELLS[name] for name in ("date", "diff", *(name for name in CELLS if name in OF_A_WEIGHING))} | {
    "date": "2026-05-04",
    "closed_mass_g": None,
    "total_mass_g": 20.8,
    "oil_mass_g": None,
    "dry_mass_g": None,
}


@pytest.fixture
def brought(bevelbook: Command, db: Path, tmp_path: Path) -> list[dict[str, Any]]:
    """A row with every cell of a build and a run, and one with every cell of a weighing."""
    assert bevelbook("--db", db, "record", "scale", "name=bench", "step=0.01").code == 0
    rows = [{name: value for name, value in CELLS.items() if FILLINGS[name].owners != {Weighing}}, LATER]
    path = tmp_path / "sheet.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, NAMES)
        writer.writeheader()
        writer.writerows(rows)
    done = bevelbook("--db", db, "import", path, "--json")
    assert (done.code, done.json["rejects"], done.json["accepted"]) == (0, [], 2)
    assert done.json["made"] == {"builds": 1, "weighings": 1, "runs": 1}
    again = bevelbook("--db", db, "import", path, "--json")
    assert again.json["added"] == 0
    assert "No record changes" in bevelbook("--db", db, "import", "--again", "sheet.csv", "--yes").out
    return rows


def test_every_column_is_shown_as_it_was_read(brought: list[dict[str, Any]], db: Path) -> None:
    with closing(sqlite3.connect(db)) as connection:
        connection.row_factory = sqlite3.Row
        shown = connection.execute("SELECT * FROM imported_notes ORDER BY line").fetchall()
    of_its_build = {name for name, one in FILLINGS.items() if one.of_build}
    for row, seen in zip(brought, shown, strict=True):
        expected = {name: row.get(name) for name in NAMES if name not in of_its_build or row.get(name) is not None}
        assert {name: seen[name] for name in expected} == expected


def test_every_column_is_read_back_from_the_records(brought: list[dict[str, Any]], db: Path) -> None:
    with closing(sqlite3.connect(db)) as connection:
        bulk = Bulk(connection, note_file="", stamp="", by=None, dry=True)
        for row, line in zip(brought, (2, 3), strict=True):
            held = {}
            for kind in DIGITS:
                found = connection.execute(
                    f"SELECT id, note_file FROM {KINDS[kind].table} WHERE note_line = ?", (line,)
                ).fetchone()
                if found:
                    held[kind], note_file = found
            (diff,) = connection.execute("SELECT id FROM diffs").fetchone()
            cells = cells_of(bulk, held, diff, row["date"], note_file, line)
            assert cells.values == {name: value for name, value in row.items() if value is not None}
            assert {name for name in cells.ids if name in row} == {name for name in REFERRED if row.get(name)}
            assert all(BY_NAME[name].filling for name in cells.values)
