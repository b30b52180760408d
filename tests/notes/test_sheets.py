"""Which sheet of a workbook is imported, and what its cells show beside what they hold."""

from __future__ import annotations

import sqlite3
import sys
import zipfile
from collections.abc import Callable
from contextlib import closing
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.chart import BarChart
from openpyxl.comments import Comment
from openpyxl.styles import Font
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from bevelbook.notes.cells import SheetDay, SheetFormula, SheetNumber
from bevelbook.notes.number_format import number_format
from bevelbook.notes.workbook import WorkbookTable

Run = Callable[..., Any]
HEADING = ["date", "builder", "diff", "dry mass", "oil mass", "total", "track temp (°C)"]


def row(day: int, diff: Any, dry_mass_g: float = 21.3) -> list[Any]:
    return [date(2024, 2, day), "ana", diff, dry_mass_g, 2.5, None, 22]


def book_of(**sheets: list[list[Any]]) -> openpyxl.Workbook:
    """A workbook with these sheets, in their order."""
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for cells in rows:
            sheet.append(cells)
    return book


@pytest.fixture
def imported(bevelbook: Run, db: Path, tmp_path: Path) -> Callable[..., Any]:
    saved: list[openpyxl.Workbook] = []

    def run(book: openpyxl.Workbook, *more: str) -> Any:
        if book not in saved:  # saved again it would be another file, of another time
            saved.append(book)
            book.save(tmp_path / "season.xlsx")
        return bevelbook("--db", db, "import", tmp_path / "season.xlsx", "--json", "--rows", *more)

    return run


def counted(db: Path, sql: str) -> list[tuple[Any, ...]]:
    with closing(sqlite3.connect(db)) as connection:
        return connection.execute(sql).fetchall()


def diffs(report: Any) -> list[str]:
    return [one["values"]["diff"] for one in report["rows"] if one["status"] == "accepted"]


def test_the_sheet_behind_a_cover_sheet_is_found_and_all_sheets_are_named(imported: Callable[..., Any]) -> None:
    done = imported(book_of(cover=[["Team notes"]], notes=[HEADING, row(14, "K-01")]))
    assert (done.code, diffs(done.json)) == (0, ["K-01"])
    assert [(one["name"], one["has_heading"], one["is_taken"]) for one in done.json["sheets"]] == [
        ("cover", False, False),
        ("notes", True, True),
    ]


def test_a_sheet_of_other_things_is_said_not_to_be_read(
    bevelbook: Run, imported: Callable[..., Any], db: Path, tmp_path: Path
) -> None:
    book = book_of(notes=[HEADING, row(14, "K-01")], Oils=[["label", "viscosity"], ["7k", 7000]], more=[HEADING])
    book["more"].sheet_state = "hidden"
    assert imported(book).json["sheets_not_read"] == ["Oils", "more"]
    said = bevelbook("--db", db, "import", tmp_path / "season.xlsx", "--dry-run").out
    assert "Not read: Oils, more (hidden). A sheet is read where it is not hidden" in said
    alone = book_of(notes=[HEADING, row(15, "K-01")])
    alone.save(tmp_path / "alone.xlsx")
    assert "Not read" not in bevelbook("--db", db, "import", tmp_path / "alone.xlsx").out


def test_of_several_sheets_with_a_heading_one_has_to_be_named(imported: Callable[..., Any], tmp_path: Path) -> None:
    book = book_of(**{"K-01": [HEADING, row(14, "K-01")], "K-02": [HEADING, row(15, "K-02")], "shelf": [["fluid"]]})
    done = imported(book)
    assert (done.code, done.json["file_reason"]) == (2, "several_sheets")
    (question,) = done.json["questions"]
    assert question["option"] == "sheet"
    assert [one["value"] for one in question["answers"]][:2] == ["K-01", "K-02"]
    for name, diff in (("K-02", "K-02"), ("k-01", "K-01")):
        named = imported(book, "--sheet", name)
        assert (named.code, diffs(named.json)) == (0, [diff])
    missing = imported(book, "--sheet", "K-03")
    assert (missing.code, missing.json["file_reason"]) == (2, "no_sheet")
    assert "K-01, K-02, shelf" in missing.json["message"]


def test_parts_of_a_workbook_are_kept_files_of_their_own(
    imported: Callable[..., Any], bevelbook: Run, db: Path
) -> None:
    book = book_of(**{"K-01": [HEADING, row(14, "K-01")], "K-02": [HEADING, row(15, "K-02")]})
    assert [imported(book, "--sheet", name).json["added"] for name in ("K-01", "K-02", "K-02")] == [1, 1, 0]
    again = bevelbook("--db", db, "import", "--again", "season.xlsx", "--dry-run")
    assert (again.code, "(sheet K-01)" in again.err, "(sheet K-02)" in again.err) == (2, True, True)
    for more in (["season.xlsx", "--sheet", "K-02"], ["season.xlsx, sheet K-02"]):
        again = bevelbook("--db", db, "import", "--again", *more, "--dry-run")
        assert (again.code, again.out.splitlines()[0]) == (
            0,
            "season.xlsx, sheet K-02: 1 row accepted (before: 1), 0 rejected (before: 0)",
        )


def test_all_sheets_come_in_as_parts_of_one_entry_and_are_taken_back_together(
    imported: Callable[..., Any], bevelbook: Run, db: Path, tmp_path: Path
) -> None:
    book = book_of(
        cover=[["Team notes"]],
        **{"K-01": [HEADING, row(14, "K-01"), row(20, "K-01")], "K-02": [HEADING, row(15, "K-02")]},
    )
    book["K-01"]["A3"] = "sometime"
    done = imported(book, "--sheet", "all")
    assert done.code == 1
    assert [(one["file"], one["accepted"], one["rejected"]) for one in done.json["parts"]] == [
        ("season.xlsx, sheet K-01", 1, 1),
        ("season.xlsx, sheet K-02", 1, 0),
    ]
    assert (tmp_path / "season.sheet-K-01.rejected.csv").exists()
    assert "imported season.xlsx, sheet K-02: 1 row taken" in bevelbook("--db", db, "history").out
    assert bevelbook("--db", db, "take-back", "1").code == 0
    assert counted(db, "SELECT (SELECT count(*) FROM builds), (SELECT count(*) FROM diffs)") == [(0, 0)]
    for added in ([1, 1], [0, 0]):
        assert [one["added"] for one in imported(book, "--sheet", "all").json["parts"]] == added


def test_rows_that_another_file_has_stay_when_all_sheets_are_taken_back(
    imported: Callable[..., Any], bevelbook: Run, db: Path, tmp_path: Path
) -> None:
    book = book_of(**{"K-01": [HEADING, row(14, "K-01")], "K-02": [HEADING, row(15, "K-02")]})
    imported(book, "--sheet", "all")
    rows = "2024-02-15,ana,K-02,21.3,2.5,,22\n2024-02-16,ana,K-02,21.4,2.5,,22\n"
    (tmp_path / "copy.csv").write_text(f"{','.join(HEADING)}\n{rows}", encoding="utf-8")
    assert bevelbook("--db", db, "import", tmp_path / "copy.csv", "--json").json["added"] == 1
    assert bevelbook("--db", db, "take-back", "1").code == 0
    asked = "SELECT b.built_on, f.name FROM builds b JOIN note_files f ON f.id = b.note_file ORDER BY 1"
    assert counted(db, asked) == [("2024-02-15", "copy.csv"), ("2024-02-16", "copy.csv")]


def test_a_corrected_row_of_a_sheet_closes_the_one_of_that_sheet(
    imported: Callable[..., Any], bevelbook: Run, db: Path, tmp_path: Path
) -> None:
    book = book_of(**{name: [HEADING, row(14, name), row(15, name)] for name in ("K-01", "K-02")})
    for name in ("K-01", "K-02"):
        book[name]["A3"] = "sometime"
    imported(book, "--sheet", "all")
    corrected = tmp_path / "season.sheet-K-02.rejected.csv"
    corrected.write_text(corrected.read_text(encoding="utf-8").replace("sometime", "2024-02-15"), encoding="utf-8")
    done = bevelbook("--db", db, "import", corrected, "--json")
    assert (done.json["added"], done.json["closes"]) == (1, [{"rows": 1, "file": "season.xlsx, sheet K-02"}])


def test_a_sheet_that_is_refused_refuses_all(imported: Callable[..., Any], db: Path) -> None:
    twice = [*HEADING[:-1], "total"]
    done = imported(book_of(**{"K-01": [HEADING, row(14, "K-01")], "K-02": [twice, row(15, "K-02")]}), "--sheet", "all")
    assert (done.code, done.json["file"], done.json["file_reason"]) == (
        2,
        "season.xlsx, sheet K-02",
        "duplicate_header",
    )
    assert counted(db, "SELECT count(*) FROM note_files") == [(0,)]


def test_a_dry_run_of_all_sheets_writes_nothing(imported: Callable[..., Any], db: Path) -> None:
    book = book_of(**{"K-01": [HEADING, row(14, "K-01")], "K-02": [HEADING, row(15, "K-02")]})
    for _ in range(2):
        assert [one["added"] for one in imported(book, "--sheet", "all", "--dry-run").json["parts"]] == [1, 1]
        assert counted(db, "SELECT count(*) FROM builds") == [(0,)]


def test_the_name_of_a_sheet_is_the_diff_of_its_rows_if_that_is_said(imported: Callable[..., Any]) -> None:
    heading = [*HEADING[:2], *HEADING[3:]]
    rows = {f"K-0{number}": [heading, [*row(number, "x")[:2], *row(number, "x")[3:]]] for number in (1, 2)}
    asked = imported(book_of(**rows), "--sheet", "K-01")
    assert (asked.code, asked.json["file_reason"]) == (2, "missing_required")
    assert "sheet_as_diff" in [one["option"] for one in asked.json["questions"]]
    done = imported(book_of(**rows), "--sheet", "all", "--sheet-as-diff")
    assert (done.code, [diffs(one) for one in done.json["parts"]]) == (0, [["K-01"], ["K-02"]])


def test_a_profile_holds_the_sheet(imported: Callable[..., Any], tmp_path: Path) -> None:
    (tmp_path / "team.yaml").write_text('options: {sheet: "K-02", sheet_as_diff: true}\n', encoding="utf-8")
    heading = ["date", "dry mass"]
    book = book_of(**{name: [heading, [date(2024, 2, 14), 21.3]] for name in ("K-01", "K-02")})
    assert diffs(imported(book, "--profile", str(tmp_path / "team.yaml")).json) == ["K-02"]


def test_a_hidden_sheet_is_taken_only_by_its_name(imported: Callable[..., Any]) -> None:
    book = book_of(old=[HEADING, row(1, "OLD")], notes=[HEADING, row(14, "NEW")])
    book["old"].sheet_state = "hidden"
    book.active = 1
    done = imported(book)
    assert diffs(done.json) == ["NEW"]
    assert [one["name"] for one in done.json["sheets"] if one["is_hidden"]] == ["old"]
    assert diffs(imported(book, "--sheet", "old").json) == ["OLD"]


def test_a_sheet_that_is_a_chart_is_passed_over(imported: Callable[..., Any]) -> None:
    book = book_of(notes=[HEADING, row(14, "K-01")])
    book.create_chartsheet("chart", 0).add_chart(BarChart())
    assert diffs(imported(book).json) == ["K-01"]


def test_a_sheet_that_is_a_chart_is_named_as_one_where_it_is_asked_for(imported: Callable[..., Any]) -> None:
    book = book_of(notes=[HEADING, row(14, "K-01")])
    book.create_chartsheet("Loss by run").add_chart(BarChart())
    for name in ("Loss by run", "loss by run"):
        done = imported(book, "--sheet", name)
        assert (done.code, done.json["file_reason"]) == (2, "no_sheet")
        assert "the sheet Loss by run is a chart, which holds no rows" in str(done.json)
    assert "there is no sheet named Loss" in str(imported(book, "--sheet", "Loss").json)


def test_a_text_file_has_no_sheets(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    (tmp_path / "notes.csv").write_text("date,diff\n2024-02-14,K-01\n")
    done = bevelbook("--db", db, "import", tmp_path / "notes.csv", "--sheet", "K-01", "--json")
    assert (done.code, done.json["file_reason"]) == (2, "no_sheet")


def test_day_numbers_count_from_where_the_workbook_says(imported: Callable[..., Any]) -> None:
    """43,874 days after 1904-01-01 is 2024-02-14 (ISO/IEC 29500-1, 18.17.4.1; by Python's calendar)."""
    book = book_of(notes=[HEADING, [43874, *row(1, "K-01")[1:]]])
    book.epoch = CALENDAR_MAC_1904
    done = imported(book)
    assert [one["values"]["date"] for one in done.json["rows"]] == ["2024-02-14"]


def test_a_formula_without_a_stored_value_is_refused(imported: Callable[..., Any]) -> None:
    done = imported(book_of(notes=[HEADING, [*row(14, "K-01")[:5], "=D2+E2", 22], [*row(15, "K-01")[:2], "=C2"]]))
    assert [(one["line"], one["reason"], one["column"]) for one in done.json["rejects"]] == [
        (2, "formula_in_cell", "total_mass_g"),
        (3, "formula_in_cell", "diff"),
    ]


def test_a_day_in_place_of_a_name_is_refused_and_a_number_shown_otherwise_is_a_finding(
    imported: Callable[..., Any],
) -> None:
    book = book_of(notes=[HEADING, row(14, 7), row(15, date(2024, 2, 3)), row(16, 123)])
    for line in (2, 4):
        book["notes"].cell(line, 3).number_format = "000"
    done = imported(book)
    assert diffs(done.json) == ["7", "123"]
    assert [(one["line"], one["reason"]) for one in done.json["rejects"]] == [(3, "date_in_label")]
    assert "shown_otherwise:line 2" in done.json["warnings"]
    assert "shown_otherwise:line 4" not in done.json["warnings"]


def test_hidden_rows_struck_cells_and_comments_are_taken_and_named(imported: Callable[..., Any]) -> None:
    book = book_of(notes=[HEADING, *(row(day, "K-01", 21 + day / 10) for day in (1, 2, 3, 4))])
    sheet = book["notes"]
    sheet.row_dimensions[2].hidden = True
    sheet.column_dimensions["E"].hidden = True
    sheet["D3"].font = Font(strike=True)
    sheet["D4"].comment = Comment("ring swollen", "ana")
    done = imported(book)
    assert (done.code, done.json["accepted"]) == (0, 4)
    assert sorted(done.json["warnings"]) == [
        *("cell_comment:line 4", "hidden_column:oil mass", "hidden_row:line 2", "struck_through:line 3"),
    ]


def test_rows_behind_the_last_filled_one_are_not_rows(imported: Callable[..., Any]) -> None:
    book = book_of(notes=[HEADING, row(14, "K-01"), [], row(16, "K-01", 21.5)])
    book["notes"]["A4000"].number_format = "0.00"
    done = imported(book)
    assert (done.json["accepted"], done.json["skipped"]) == (2, 1)


OPEN_DOCUMENT = (
    '<?xml version="1.0" encoding="UTF-8"?><office:document-content office:version="1.2" '
    'xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
    'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0">'
    "<office:body><office:spreadsheet>{}</office:spreadsheet></office:body></office:document-content>"
)


def open_document(path: Path, **sheets: list[list[Any]]) -> Path:
    """An OpenDocument sheet with these cells, written by the text of ISO/IEC 26300-1 (sections 9.1 and 19.385)."""
    mimetype = "application/vnd.oasis.opendocument.spreadsheet"

    def cell(value: Any) -> str:
        of_type = {date: "date", int: "float", float: "float", str: "string"}[type(value)]
        typed = (
            ""
            if of_type == "string"
            else f" office:{of_type.replace('float', 'value')}"
            + (f'-value="{value}"' if of_type == "date" else f'="{value}"')
        )
        shown = f"<text:p>{value}</text:p>"
        return f'<table:table-cell office:value-type="{of_type}"{typed}>{shown}</table:table-cell>'

    tables = "".join(
        f'<table:table table:name="{name}">'
        + "".join(f"<table:table-row>{''.join(map(cell, cells))}</table:table-row>" for cells in rows)
        + '<table:table-row table:number-rows-repeated="1000"><table:table-cell/></table:table-row></table:table>'
        for name, rows in sheets.items()
    )
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("mimetype", mimetype)
        archive.writestr("content.xml", OPEN_DOCUMENT.format(tables))
        archive.writestr(
            "META-INF/manifest.xml",
            '<?xml version="1.0"?><manifest:manifest '
            'xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"><manifest:file-entry '
            f'manifest:full-path="/" manifest:media-type="{mimetype}"/><manifest:file-entry '
            'manifest:full-path="content.xml" manifest:media-type="text/xml"/></manifest:manifest>',
        )
    return path


def test_an_open_document_sheet_is_read(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    heading = ["date", "diff", "dry mass", "track temp (°C)"]
    cells = [heading, [date(2024, 2, 14), "K-01", 21.25, 22], [date(2024, 2, 15), 7, "21,5 g", 23]]
    path = open_document(tmp_path / "season.ods", cover=[["Team notes"]], notes=cells)
    done = bevelbook("--db", db, "import", path, "--json", "--rows")
    assert (done.code, done.json["read"], diffs(done.json)) == (0, 2, ["K-01", "7"])
    assert [(one["values"]["date"], one["values"]["dry_mass_g"]) for one in done.json["rows"]] == [
        ("2024-02-14", 21.25),
        ("2024-02-15", 21.5),
    ]
    other = [heading, [date(2024, 2, 16), "K-02", 21, 20]]
    two = open_document(tmp_path / "two.ods", **{"K-01": cells[:2], "K-02": other})
    assert bevelbook("--db", db, "import", two, "--json").json["file_reason"] == "several_sheets"
    assert diffs(bevelbook("--db", db, "import", two, "--sheet", "K-02", "--json", "--rows").json) == ["K-02"]


def test_an_open_document_sheet_that_is_damaged_or_needs_its_library_is_refused(
    bevelbook: Run, db: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "season.ods"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", "<office")
    assert bevelbook("--db", db, "import", path, "--json").json["file_reason"] == "workbook_damaged"
    monkeypatch.setitem(sys.modules, "python_calamine", None)
    done = bevelbook("--db", db, "import", path)
    assert (done.code, "bevelbook[sheets]" in done.err) == (2, True)


@pytest.mark.parametrize(
    ("code", "unit", "shown_of_7"),
    [
        ("General", "", False),
        ("0.00", "", False),
        ("#,##0.0", "", False),
        ('0.0"°F"', "°F", False),
        ('0" mg"', "mg", False),
        ("0.0\\ \\°\\C", "°C", False),
        ('General" g"', "g", False),
        ('0.00" g";[Red]-0.00" g"', "g", False),
        ("#,##0.00 [$€-407]", "€", False),
        ("000", "", True),
        ("0.0%", "", True),
        ("#,##0,", "", True),
        ('"K-"0', "", True),
    ],
)
def test_what_a_number_format_shows(code: str, unit: str, shown_of_7: bool) -> None:
    """The codes are of ISO/IEC 29500-1, 18.8.31; what they show was worked out by hand from it."""
    found = number_format(code)
    assert (found.unit, found.shows_otherwise("7")) == (unit, shown_of_7)


def test_cells_hold_what_their_format_and_type_say(tmp_path: Path) -> None:
    book = book_of(notes=[[59, date(2024, 2, 14), "=A1*2"]])
    book["notes"]["A1"].number_format = '0.0"°F"'
    book.save(tmp_path / "cells.xlsx")
    with (tmp_path / "cells.xlsx").open("rb") as file:
        ((cells,),) = [block.rows for block in WorkbookTable(file).blocks()]
    assert cells == [SheetNumber("59", "°F"), SheetDay("2024-02-14"), SheetFormula("=A1*2")]
    assert cells != ["59", "2024-02-14", "=A1*2"]


@pytest.mark.parametrize(
    ("content", "named"),
    [
        (bytes.fromhex("D0CF11E0A1B11AE1") + bytes(600), "an old binary workbook (.xls)"),
        (bytes.fromhex("D0CF11E0A1B11AE1") + "EncryptedPackage".encode("utf-16-le"), "locked with a password"),
        (b"\xef\xbb\xbf <!DOCTYPE html>\n<table><tr><td>date</td><td>diff</td></tr></table>", "a web page"),
        (b"<html><table><tr><td>date</td></tr></table></html>", "a web page"),
        (b'<?xml version="1.0"?><Workbook xmlns="urn:schemas-microsoft-com:office:spreadsheet"/>', "of 2003"),
        (b"%PDF-1.7\n", "a PDF document"),
        (b"\x89PNG\r\n\x1a\n\0\0", "an image"),
        (b"\x1f\x8b\x08\0\0", "a packed file (gzip)"),
    ],
)
def test_files_of_other_kinds_are_named_for_what_they_are(
    bevelbook: Run, db: Path, tmp_path: Path, content: bytes, named: str
) -> None:
    """The signatures are those of MS-CFB 2.2, RFC 1952 and PNG 5.2; that of PDF is from ISO 32000-1, 7.5.2."""
    (tmp_path / "notes.xls").write_bytes(content)
    done = bevelbook("--db", db, "import", tmp_path / "notes.xls", "--json")
    assert (done.code, done.json["file_reason"]) == (2, "not_a_table")
    assert named in done.json["message"]


@pytest.mark.parametrize(
    ("inside", "named"),
    [
        ("Index/Document.iwa", "(.numbers)"),
        ("word/document.xml", "a document or slides"),
        ("xl/workbook.bin", "(.xlsb)"),
        ("notes.csv", "an archive (zip)"),
    ],
)
def test_archives_of_other_kinds_are_named_for_what_they_are(
    bevelbook: Run, db: Path, tmp_path: Path, inside: str, named: str
) -> None:
    with zipfile.ZipFile(tmp_path / "notes.zip", "w") as archive:
        archive.writestr(inside, "date,diff")
    done = bevelbook("--db", db, "import", tmp_path / "notes.zip", "--json")
    assert (done.code, done.json["file_reason"]) == (2, "not_a_table")
    assert named in done.json["message"]
