"""Workbooks: typed cells need no guessing, formulas give stored values, and what is too large is refused unopened."""

from __future__ import annotations

import hashlib
import re
import sys
import zipfile
from collections.abc import Callable
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from bevelbook.declare.errors import InputError
from bevelbook.notes import workbook
from bevelbook.notes.cells import SheetDay, SheetNumber
from bevelbook.notes.decoding import unpacked

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


def blocks(path: Path) -> list[workbook.Block]:
    with path.open("rb") as file:
        return list(workbook.WorkbookTable(file).blocks())


def test_a_sheet_is_read_up_to_its_five_hundredth_column(tmp_path: Path) -> None:
    path = saved(tmp_path / "wide.xlsx", [[f"c{number}" for number in range(1, 502)]])
    ((row,),) = [block.rows for block in blocks(path)]
    assert row == [f"c{number}" for number in range(1, 501)]


def test_a_sheet_is_as_wide_as_its_first_sixty_rows_and_short_rows_are_filled_up(tmp_path: Path) -> None:
    path = saved(tmp_path / "long.xlsx", [["a"], *[["b", "c"]] * 59, ["d", "e", "f"], ["g"]])
    (block,) = blocks(path)
    assert block.rows == [["a", ""], *[["b", "c"]] * 59, ["d", "e", "f"], ["g", ""]]
    assert block.lines == range(1, 63)
    path = saved(tmp_path / "short.xlsx", [["a"], *[["b", "c"]] * 58, ["d", "e", "f"], ["g"]])
    (block,) = blocks(path)
    assert block.rows[0] == ["a", "", ""]
    assert block.rows[-1] == ["g", "", ""]


def test_blocks_of_a_sheet_go_on_where_the_one_before_ended(tmp_path: Path) -> None:
    path = saved(tmp_path / "blocks.xlsx", [["a", "b"], ["c"], ["d"], ["e"], ["f"]])
    with path.open("rb") as file:
        found = [(block.rows, block.lines, block.broken) for block in workbook.WorkbookTable(file).blocks(2)]
    assert found == [
        ([["a", "b"], ["c", ""]], range(1, 3), []),
        ([["d", ""], ["e", ""]], range(3, 5), []),
        ([["f", ""]], range(5, 6), []),
    ]


FAULTS = [
    AttributeError("x"),
    zipfile.BadZipFile("x"),
    KeyError("x"),
    IndexError("x"),
    ValueError("x"),
    SyntaxError("x"),
    OSError("x"),
]


def with_cell(path: Path, cell: bytes) -> Path:
    """The workbook with another cell in place of B1, as no program writes it."""
    changed = path.with_name(f"changed {path.name}")
    with zipfile.ZipFile(path) as archive, zipfile.ZipFile(changed, "w") as other:
        for info in archive.infolist():
            content = archive.read(info)
            if info.filename == "xl/worksheets/sheet1.xml":
                content, count = re.subn(rb'<c r="B1".*?</c>', cell, content)
                assert count == 1
            other.writestr(info.filename, content)
    return changed


@pytest.mark.parametrize(
    "cell",
    [
        b'<c r="B1" t="s"><v>99</v></c>',
        b'<c r="B1" t="s"><v>x</v></c>',
        b'<c r="B1" t="n"><v>x</v></c>',
        b'<c r="B1" t="b"><v>x</v></c>',
        b'<c r="B1" t="d"><v>99-99-99</v></c>',
        b'<c r="!!"><v>1</v></c>',
        b"<c",
    ],
)
def test_a_sheet_with_a_cell_that_cannot_be_read_is_refused_as_damaged(
    bevelbook: Run, db: Path, tmp_path: Path, cell: bytes
) -> None:
    """The first one refers to a text that the workbook does not hold."""
    path = with_cell(saved(tmp_path / "notes.xlsx", [HEADING]), cell)
    done = bevelbook("--db", db, "import", path, "--json")
    assert (done.code, done.json["file_reason"]) == (2, "workbook_damaged")


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: type(fault).__name__)
def test_a_sheet_that_breaks_off_while_it_is_read_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: Exception
) -> None:
    def broken(value: Any) -> str:
        raise fault

    path = saved(tmp_path / "notes.xlsx", [HEADING])
    monkeypatch.setattr(workbook, "_text", broken)
    with pytest.raises(InputError, match="cannot be opened") as raised:
        blocks(path)
    assert raised.value.code == "workbook_damaged"


@pytest.mark.parametrize("fault", [*FAULTS, TypeError("x")], ids=lambda fault: type(fault).__name__)
def test_a_workbook_that_breaks_off_while_it_is_opened_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: Exception
) -> None:
    def broken(*given: Any, **more: Any) -> None:
        raise fault

    path = saved(tmp_path / "notes.xlsx", [HEADING])
    monkeypatch.setattr(workbook, "_reader", broken)
    with pytest.raises(InputError, match="cannot be opened") as raised:
        blocks(path)
    assert raised.value.code == "workbook_damaged"


@pytest.mark.parametrize(
    ("cell", "text"),
    [
        (None, ""),
        ("x", "x"),
        (True, "TRUE"),
        (False, "FALSE"),
        (7, SheetNumber("7")),
        (7.0, SheetNumber("7")),
        (7.25, SheetNumber("7.25")),
        (-1e14, SheetNumber("-100000000000000")),
        (1e15, SheetNumber("1000000000000000.0")),
        (1e16, SheetNumber("1e+16")),
        (datetime(2026, 5, 3), SheetDay("2026-05-03")),
        (datetime(2026, 5, 3, 18, 30), SheetDay("2026-05-03T18:30:00")),
        (date(2026, 5, 3), SheetDay("2026-05-03")),
        (time(18, 30), "18:30:00"),
    ],
)
def test_a_cell_is_taken_as_its_type_says(cell: Any, text: str) -> None:
    assert workbook._text(cell) == text


def test_a_workbook_is_kept_with_its_hash_and_size(tmp_path: Path) -> None:
    path = saved(tmp_path / "notes.xlsx", [HEADING])
    held = path.read_bytes()
    with path.open("rb") as file:
        found = workbook.workbook_decoding(file, pack=True)
        bare = workbook.workbook_decoding(file, pack=False)
    assert (found.encoding, found.warning, found.byte_count) == ("workbook", None, len(held))
    assert found.sha256 == bare.sha256 == hashlib.sha256(held).hexdigest()
    assert unpacked(found.packed or b"") == held
    assert bare.packed is None
