"""Workbooks: typed cells need no guessing, formulas give stored values, and what is too large is refused unopened."""

from __future__ import annotations

import sys
import zipfile
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from bevelbook.notes import workbook

Run = Callable[..., Any]
HEADING = ["date", "unit", "dry mass", "viscosity", "track temp (°F)", "grip", "result_note"]


def saved(path: Path, rows: list[list[Any]]) -> Path:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for row in rows:
        sheet.append(row)
    book.save(path)
    return path


def test_typed_cells_are_taken_as_they_are(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    path = saved(
        tmp_path / "notes.xlsx",
        [
            ["typed from the paper book"],
            HEADING,
            [date(2024, 2, 14), 7, 21.125, 100.125, 68, "med", "ok"],
            [datetime(2024, 2, 15, 18, 30), "007", 21, 7000, None, None, None],
            ["16/02/2024", True, "21,5 g", "7k", None, None, None],
            [None, None, None, None, None, None, None],
        ],
    )
    done = bevelbook("--db", db, "import", path, "--json", "--rows")
    assert done.code == 0
    values = [row["values"] for row in done.json["rows"] if row["status"] == "accepted"]
    assert [(v["date"], v["diff"], v["dry_mass_g"], v["viscosity_cst"]) for v in values] == [
        ("2024-02-14", "7", 21.125, 100.125),
        ("2024-02-15", "007", 21.0, 7000.0),
        ("2024-02-16", "TRUE", 21.5, 7000.0),
    ]
    assert (values[0]["track_temp_c"], values[0]["grip"]) == (20.0, "medium")
    assert "time_dropped:line 4" in done.json["warnings"]
    assert bevelbook("--db", db, "import", path, "--json").json["known"] == 3


def test_a_typed_number_proves_nothing_about_typed_text(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    path = saved(
        tmp_path / "notes.xlsx",
        [HEADING[:4], [date(2024, 2, 14), "a", 21.3, 5000.5], [date(2024, 2, 15), "a", 21.3, "100.000"]],
    )
    report = bevelbook("--db", db, "import", path, "--json").json
    assert [(one["line"], one["reason"]) for one in report["rejects"]] == [(3, "ambiguous_number")]
    text = Path(report["rejects_file"]).read_text(encoding="utf-8-sig")
    assert text.splitlines()[1].startswith("2024-02-15,a,21.3,100.000,3,")


def test_the_error_words_of_a_broken_formula_are_refused(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    path = saved(tmp_path / "notes.xlsx", [HEADING[:3], [date(2024, 2, 14), "a", "#DIV/0!"]])
    assert bevelbook("--db", db, "import", path, "--json").json["rejects"][0]["reason"] == "spreadsheet_error"


def test_a_workbook_that_unpacks_to_too_much_is_refused(
    bevelbook: Run, db: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(workbook, "LARGEST_UNPACKED", 1000)
    path = saved(tmp_path / "notes.xlsx", [HEADING])
    done = bevelbook("--db", db, "import", path, "--json")
    assert (done.code, done.json["file_reason"]) == (2, "workbook_too_large")


def test_an_archive_that_is_no_workbook_is_refused(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    path = tmp_path / "notes.xlsx"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
    done = bevelbook("--db", db, "import", path, "--json")
    assert (done.code, done.json["file_reason"]) == (2, "workbook_damaged")


def test_without_the_library_the_error_says_what_to_install(
    bevelbook: Run, db: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = saved(tmp_path / "notes.xlsx", [HEADING])
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    done = bevelbook("--db", db, "import", path)
    assert done.code == 2
    assert "bevelbook[xlsx]" in done.err
