"""Each column of a note row from the file to the stored record, and a column more by one declaration. Invented data."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from bevelbook.declare.errors import DeclarationError
from bevelbook.declare.fields import filling, record
from bevelbook.notes.note_columns import LATER, NAMES, STORED
from bevelbook.records.building import Build
from bevelbook.records.track import Run

Command = Callable[..., Any]
ROOT = Path(__file__).parent.parent.parent

CELLS: dict[str, Any] = {
    "date": "2026-05-03",
    "builder": "ana",
    "diff": "rear-a",
    "dry_mass_g": 9.52,
    "oil_mass_g": 1.5,
    "total_mass_g": 11.02,
    "viscosity_cst": 7000.0,
    "fluid": "house 7k",
    "venue": "hall one",
    "position": "rear",
    "grip": "high",
    "track_temp_c": 31.0,
    "air_temp_c": 22.0,
    "diff_temp_c": 48.0,
    "runs": 3.0,
    "call": "keep",
    "result_note": "calm on entry",
}
"""One row in which no two cells are alike."""
OF_BUILD = ("date", "builder", "diff", "dry_mass_g", "oil_mass_g", "total_mass_g", "viscosity_cst", "fluid")
BUILD = """
SELECT b.built_on, p.name AS builder, d.label AS diff, b.dry_mass_g, b.oil_mass_g, b.filled_mass_g, b.viscosity_cst,
       f.label AS fluid, b.viscosity_from, b.label
FROM builds b JOIN diffs d ON d.id = b.diff LEFT JOIN people p ON p.id = b.builder LEFT JOIN fluids f ON f.id = b.fluid
"""
WEIGHING = """
SELECT w.weighed_on, p.name AS person, w.mass_g, b.label AS build
FROM weighings w JOIN builds b ON b.id = w.build LEFT JOIN people p ON p.id = w.person
"""
RUN = """
SELECT r.run_on, p.name AS noted_by, v.name AS venue, r.grip, r.track_temp_c, r.air_temp_c, r.runs, r.call, r.note,
       r.label, x.position, x.diff_temp_c, b.label AS build
FROM runs r JOIN run_diffs x ON x.run = r.id JOIN builds b ON b.id = x.build
LEFT JOIN people p ON p.id = r.noted_by LEFT JOIN venues v ON v.id = r.venue
"""
THE_RUN = {
    "run_on": "2026-05-03",
    "noted_by": "ana",
    "venue": "hall one",
    "grip": "high",
    "track_temp_c": 31.0,
    "air_temp_c": 22.0,
    "runs": 3.0,
    "call": "keep",
    "note": "calm on entry",
    "label": "2026-05-03/1",
    "position": "rear",
    "diff_temp_c": 48.0,
    "build": "rear-a/1",
}
THE_BUILD = {
    "built_on": "2026-05-03",
    "builder": "ana",
    "diff": "rear-a",
    "dry_mass_g": 9.52,
    "oil_mass_g": 1.5,
    "filled_mass_g": 11.02,
    "viscosity_cst": 7000.0,
    "fluid": "house 7k",
    "viscosity_from": "note",
    "label": "rear-a/1",
}
NOTHING = dict.fromkeys(NAMES)
IDS = ["019deb22-8000-8dd0-8015-e3daa1b3132c", "019deb22-8000-890a-88d4-ca453c65082c"]
"""What the first release made of the two rows of that test."""


def sheet(path: Path, *rows: dict[str, Any]) -> Path:
    """A file of these rows; its columns are the other way round, so that their order in the file does not count."""
    names = [name for name in reversed(list(CELLS)) if any(name in row for row in rows)]
    lines = [",".join("" if row.get(name) is None else str(row[name]) for name in names) for row in rows]
    path.write_text("\n".join([",".join(names), *lines]) + "\n")
    return path


def found(db: Path, sql: str) -> list[dict[str, Any]]:
    with closing(sqlite3.connect(db)) as connection:
        connection.row_factory = sqlite3.Row
        return [dict(row) for row in connection.execute(sql)]


def some(*names: str) -> dict[str, Any]:
    return {name: CELLS[name] for name in names}


def test_each_cell_goes_into_its_column(bevelbook: Command, db: Path, tmp_path: Path) -> None:
    assert set(CELLS) == set(NAMES) - set(LATER)
    assert len({str(value) for value in CELLS.values()}) == len(CELLS)
    assert bevelbook("--db", db, "import", sheet(tmp_path / "notes.csv", CELLS)).code == 0
    assert found(db, BUILD) == [THE_BUILD]
    assert found(db, RUN) == [THE_RUN]
    assert found(db, WEIGHING) == []
    (seen,) = found(db, "SELECT * FROM imported_notes")
    assert {name: seen[name] for name in NAMES} == NOTHING | CELLS
    assert (seen["file"], seen["line"], seen["made"]) == ("notes.csv", 2, "build and run")


@pytest.mark.parametrize("rows", [1, 2])
def test_each_cell_of_a_file_of_fills_goes_into_its_column(
    bevelbook: Command, db: Path, tmp_path: Path, rows: int
) -> None:
    other = some("date", "diff") | {"diff": "rear-b", "viscosity_cst": 5000}
    given = [some(*OF_BUILD), other][:rows]
    assert bevelbook("--db", db, "import", sheet(tmp_path / "fills.csv", *given)).code == 0
    unknown = dict.fromkeys(THE_BUILD) | {"built_on": "2026-05-03", "diff": "rear-b", "viscosity_cst": 5000.0}
    assert (
        found(db, BUILD + "ORDER BY b.label")
        == [
            THE_BUILD,
            unknown | {"viscosity_from": "note", "label": "rear-b/1"},
        ][:rows]
    )
    assert found(db, RUN) == []
    (seen, *_) = found(db, "SELECT * FROM imported_notes ORDER BY line")
    assert {name: seen[name] for name in NAMES} == NOTHING | some(*OF_BUILD)


def test_each_cell_of_a_weighing_and_a_run_goes_into_its_column(bevelbook: Command, db: Path, tmp_path: Path) -> None:
    later = {name: value for name, value in CELLS.items() if name not in OF_BUILD}
    later |= {"date": "2026-05-04", "builder": "bo", "diff": "rear-a", "total_mass_g": 10.97}
    assert bevelbook("--db", db, "import", sheet(tmp_path / "notes.csv", some(*OF_BUILD), later)).code == 0
    assert found(db, BUILD) == [THE_BUILD]
    weighed = {"weighed_on": "2026-05-04", "person": "bo", "mass_g": 10.97, "build": "rear-a/1"}
    assert found(db, WEIGHING) == [weighed]
    assert found(db, RUN) == [THE_RUN | {"run_on": "2026-05-04", "noted_by": "bo", "label": "2026-05-04/1"}]
    _, seen = found(db, "SELECT * FROM imported_notes ORDER BY line")
    of_its_build = some("viscosity_cst", "fluid")
    assert {name: seen[name] for name in NAMES} == NOTHING | later | of_its_build
    assert seen["made"] == "weighing and run"


def test_a_mass_on_a_diff_without_a_build_is_weighed_not_filled(bevelbook: Command, db: Path, tmp_path: Path) -> None:
    given = some("date", "diff", "builder", "total_mass_g", "position")
    assert bevelbook("--db", db, "import", sheet(tmp_path / "notes.csv", given)).code == 0
    assert found(db, BUILD) == [
        dict.fromkeys(THE_BUILD) | {"built_on": "2026-05-03", "builder": "ana", "diff": "rear-a", "label": "rear-a/1"}
    ]
    weighed = {"weighed_on": "2026-05-03", "person": "ana", "mass_g": 11.02, "build": "rear-a/1"}
    assert found(db, WEIGHING) == [weighed]
    assert found(db, "SELECT line, cells FROM note_extras") == [{"line": 2, "cells": '{"position":"rear"}'}]


@pytest.mark.parametrize("name", [name for name in CELLS if name not in OF_BUILD and name != "position"])
def test_each_cell_of_the_track_makes_a_run_by_itself(bevelbook: Command, db: Path, tmp_path: Path, name: str) -> None:
    given = some("date", "diff", name)
    assert bevelbook("--db", db, "import", sheet(tmp_path / "notes.csv", given)).code == 0
    column = "note" if name == "result_note" else name
    same = {"run_on": "2026-05-03", "label": "2026-05-03/1", "build": "rear-a/1"}
    assert found(db, RUN) == [dict.fromkeys(THE_RUN) | same | {column: CELLS[name]}]


@pytest.mark.parametrize(
    ("masses", "known"),
    [
        (("oil_mass_g",), True),
        (("dry_mass_g", "total_mass_g"), True),
        (("dry_mass_g",), False),
        (("viscosity_cst",), False),
        (("viscosity_cst", "total_mass_g"), False),
    ],
    ids=str,
)
@pytest.mark.parametrize("also", [(), ("grip",)], ids=["fill", "fill and run"])
def test_a_build_whose_oil_does_not_follow_from_its_masses_is_reported(
    bevelbook: Command, db: Path, tmp_path: Path, masses: tuple[str, ...], known: bool, also: tuple[str, ...]
) -> None:
    path = sheet(tmp_path / "notes.csv", some("date", "diff", *masses, *also))
    assert bevelbook("--db", db, "import", path, "--json").json["warnings"] == (
        [] if known else ["fill_unknown:line 2"]
    )


def test_a_row_that_says_nothing_is_a_run_of_none(bevelbook: Command, db: Path, tmp_path: Path) -> None:
    filled = some("date", "diff", "oil_mass_g")
    nothing = {"date": "2026-05-04", "diff": "rear-a", "builder": "bo", "position": "front"}
    assert bevelbook("--db", db, "import", sheet(tmp_path / "notes.csv", filled, nothing)).code == 0
    assert found(db, RUN) == [
        dict.fromkeys(THE_RUN)
        | {"run_on": "2026-05-04", "noted_by": "bo", "runs": 0.0, "label": "2026-05-04/1"}
        | {"position": "front", "build": "rear-a/1"}
    ]


def test_a_sheet_that_is_read_again_changes_only_what_it_now_says(bevelbook: Command, db: Path, tmp_path: Path) -> None:
    path = sheet(tmp_path / "notes.csv", CELLS)
    path.write_text(path.read_text().replace("track_temp_c", "tarmac").replace("air_temp_c", "shade"))
    assert bevelbook("--db", db, "import", path).code == 0
    assert found(db, RUN) == [THE_RUN | {"track_temp_c": None, "air_temp_c": None}]
    again = ("import", "--again", "notes.csv", "--map", "tarmac=track_temp_c", "--map", "shade=air_temp_c", "--yes")
    assert bevelbook("--db", db, *again).code == 0
    counted = {"label": "2026-05-03/2", "build": "rear-a/2"}
    assert found(db, RUN) == [THE_RUN | counted]
    assert found(db, BUILD) == [THE_BUILD | {"label": "rear-a/2"}]


def test_the_id_of_a_row_stays_what_it_was(bevelbook: Command, db: Path, tmp_path: Path) -> None:
    """Ids that releases before gave: a sheet that was imported then has to be known now."""
    assert bevelbook("--db", db, "import", sheet(tmp_path / "notes.csv", CELLS, some("date", "diff"))).code == 0
    assert [row["id"] for row in found(db, "SELECT id FROM runs ORDER BY note_line")] == IDS


def test_no_column_of_a_record_is_filled_twice() -> None:
    for columns in STORED.values():
        assert len(columns) == len(set(columns))


def test_a_column_that_fills_nothing_is_refused() -> None:
    with pytest.raises(DeclarationError, match="Run has no field lapz"):
        filling((Run, "lapz"))
    with pytest.raises(DeclarationError, match="fluid"):
        filling((Build, "fluid"))

    @record
    class Row:
        laps: int | None = filling((Run, "laps"))

    (field,) = Row.fields  # type: ignore[attr-defined]
    assert (field.kind, field.minimum, field.required, field.about) == ("whole", 0, False, "Laps")


class Later(NamedTuple):
    """A column that came later: its heading, a cell, and what is stored where."""

    name: str
    heading: str
    cell: str
    sql: str
    stored: object


LATER_COLUMNS = (
    Later("laps", "Laps", "12", "SELECT laps FROM runs", 12),
    Later("best_lap_s", "best", "14.2 s", "SELECT best_lap_s FROM runs", 14.2),
    Later("started_at", "Time", "2:10 pm", "SELECT started_at FROM runs", "14:10"),
    Later("driver", "driver", "cy", "SELECT name FROM runs JOIN people ON people.id = driver", "cy"),
    Later("car", "Car", "blue", "SELECT name FROM runs JOIN cars ON cars.id = car", "blue"),
    Later("temp_taken", "temp taken", "at once", "SELECT temp_taken FROM run_diffs", "at once"),
    Later("hand_feel", "feel by hand", "smooth", "SELECT hand_feel FROM builds", "smooth"),
    Later("build_kind", "kind of build", "rebuild", "SELECT kind FROM builds", "rebuild"),
    Later("wiped", "wiped", "yes", "SELECT wiped FROM weighings", "yes"),
)
ADDED = Later("place", "place", "1", "SELECT day_order FROM builds", 1)
DECLARED = '    place: int | None = filling((Build, "day_order"))\n'


@pytest.fixture(scope="module")
def grown(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The tool with that column declared, and nothing else changed."""
    core = tmp_path_factory.mktemp("grown") / "core"
    shutil.copytree(ROOT / "core", core, ignore=shutil.ignore_patterns("__pycache__"))
    with (core / "bevelbook/records/note_row.py").open("a") as file:
        file.write(DECLARED)
    return core


def imported(core: Path, db: Path, text: str) -> Any:
    """A sheet imported by the tool as it lies there."""
    path = db.with_name("grown.csv")
    path.write_text(text)
    code = "from bevelbook.cli import main; main()"
    command = [sys.executable, "-c", code, "--db", str(db), "import", str(path), "--json", "--no-rejects"]
    env = {**os.environ, "PYTHONPATH": str(core)}
    done = subprocess.run(command, capture_output=True, text=True, env=env, cwd=db.parent, check=False)
    assert done.stderr == ""
    return json.loads(done.stdout)


def check_column(db: Path, bring: Callable[[str], Any], column: Later) -> None:
    """The cells of a column reach their record and come back."""
    name, cell = column.name, column.cell
    first, second = (cell, "") if name != "wiped" else ("", cell)
    report = bring(
        f"date,diff,oil_mass_g,runs,total_mass_g,{column.heading}\n"
        f"2026-05-03,rear-a,1.5,3,,{first}\n2026-05-04,rear-a,,,11,{second}\n",
    )
    assert report["rejects"] == []
    assert [value for row in found(db, column.sql) for value in row.values() if value is not None] == [column.stored]
    shown = found(db, f"SELECT {name} AS cell FROM imported_notes ORDER BY line")
    assert [row["cell"] for row in shown if row["cell"] is not None] == [column.stored]


def bringing(bevelbook: Command, db: Path, path: Path) -> Callable[[str], Any]:
    def bring(text: str) -> Any:
        path.write_text(text)
        return bevelbook("--db", db, "import", path, "--json", "--no-rejects").json

    return bring


@pytest.mark.parametrize("column", LATER_COLUMNS, ids=[one.heading for one in LATER_COLUMNS])
def test_a_later_column_reaches_its_record(bevelbook: Command, db: Path, tmp_path: Path, column: Later) -> None:
    check_column(db, bringing(bevelbook, db, tmp_path / "later.csv"), column)


@pytest.mark.parametrize("column", LATER_COLUMNS, ids=[one.heading for one in LATER_COLUMNS])
def test_a_cell_without_its_record_is_kept_beside_the_row(
    bevelbook: Command, db: Path, tmp_path: Path, column: Later
) -> None:
    """A row that is weighed, or that only says that the diff ran."""
    bring = bringing(bevelbook, db, tmp_path / "later.csv")
    heading = f"date,diff,oil_mass_g,total_mass_g,grip,{column.heading}"
    bring(
        f"{heading}\n2026-06-01,rear-z,1.5,,,\n2026-06-02,rear-z,,11,,{column.cell}\n2026-06-03,rear-z,,,high,{column.cell}\n"
    )
    kept = {row["line"]: json.loads(row["cells"]) for row in found(db, "SELECT line, cells FROM note_extras")}
    shown = {row["line"]: row["cell"] for row in found(db, f"SELECT line, {column.name} AS cell FROM imported_notes")}
    for line in (3, 4):
        assert (shown[line] == column.stored) != (kept.get(line) == {column.name: column.stored})


def test_one_declaration_adds_a_column(grown: Path, db: Path) -> None:
    check_column(db, lambda text: imported(grown, db, text), ADDED)


def test_a_column_more_changes_the_id_of_no_row_that_lacks_it(
    bevelbook: Command, grown: Path, db: Path, tmp_path: Path
) -> None:
    assert bevelbook("--db", db, "import", sheet(tmp_path / "notes.csv", CELLS, some("date", "diff"))).code == 0
    text = (tmp_path / "notes.csv").read_text()
    assert imported(grown, db, text)["added"] == 0
    heading, *rows = text.splitlines()
    assert imported(grown, db, "\n".join([f"place,{heading}", *(f",{row}" for row in rows)]))["added"] == 0
    assert imported(grown, db, "\n".join([f"place,{heading}", *(f"7,{row}" for row in rows)]))["added"] == 2


def test_a_whole_number_is_read_whole_or_not_at_all(bevelbook: Command, db: Path, tmp_path: Path) -> None:
    bring = bringing(bevelbook, db, tmp_path / "laps.csv")
    report = bring("date,diff,laps\n2026-05-03,rear-a,7.0\n2026-05-04,rear-a,7.5\n2026-05-05,rear-a,-1\n")
    assert [(one["line"], one["reason"]) for one in report["rejects"]] == [
        (3, "number_unparseable"),
        (4, "out_of_range"),
    ]
    assert found(db, "SELECT laps, typeof(laps) AS type FROM runs") == [{"laps": 7, "type": "integer"}]
