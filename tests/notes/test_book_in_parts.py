"""All sheets of a workbook: it is opened once, and no sheet is searched again for each of them. Cells are invented."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from bevelbook.notes import source, workbook

Run = Callable[..., Any]
SHEETS = 6


def test_a_workbook_is_opened_once_for_all_its_sheets(
    bevelbook: Run, db: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = openpyxl.Workbook(write_only=True)
    for at in range(SHEETS):
        sheet = book.create_sheet(f"K-{at}")
        sheet.append(["date", "diff", "dry mass"])
        sheet.append(["2026-04-03", f"K-{at}", 12.5])
    book.save(tmp_path / "book.xlsx")
    opened: list[Any] = []
    searched: list[Any] = []
    first_opened, first_searched = workbook._opened, source._heading_of_sheet
    monkeypatch.setattr(workbook, "_opened", lambda file: (opened.append(1), first_opened(file))[1])
    monkeypatch.setattr(source, "_heading_of_sheet", lambda *given: (searched.append(1), first_searched(*given))[1])
    done = bevelbook("--db", db, "import", tmp_path / "book.xlsx", "--sheet", "all", "--json")
    assert [one["accepted"] for one in done.json["parts"]] == [1] * SHEETS
    assert len(opened) == 1
    assert len(searched) <= 2 * SHEETS
