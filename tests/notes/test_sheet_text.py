"""Sheets whose XML says what no program writes, or holds many blank rows and wide ones. All cells are invented.

What a sheet can hold, 1,048,576 rows and 32,767 characters in a cell, is from memory of the vendor's published limits.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from trials.of_workbooks import ods, packed, parts, xlsx

from bevelbook.notes.decoding import FileRejected
from bevelbook.notes.open_document import OpenDocumentFile
from bevelbook.notes.sheet_text import SheetText
from bevelbook.notes.workbook import LAST_ROW, LONGEST_CELL, LONGEST_GAP, MOST_BLANK, WorkbookFile

Run = Callable[..., Any]
CELL = '<table:table-cell office:value-type="string">'
LINES = [["date", "diff", "dry mass"], *([f"2026-04-0{day}", "K-01", 12.5] for day in range(3, 6))]


def cell(name: str, text: str) -> str:
    return f'<c r="{name}" t="inlineStr"><is><t>{text}</t></is></c>'


def row(number: int, *texts: str) -> str:
    return f'<row r="{number}">{"".join(cell(f"{chr(65 + at)}{number}", one) for at, one in enumerate(texts))}</row>'


def book_with(behind: str) -> bytes:
    """A workbook of four rows and what is behind them, as XML."""
    book, packed, changed = openpyxl.Workbook(), io.BytesIO(), io.BytesIO()
    assert book.active is not None
    for line in LINES:
        book.active.append(line)
    book.save(packed)
    with zipfile.ZipFile(packed) as old, zipfile.ZipFile(changed, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            text = old.read(name)
            if name.endswith("sheet1.xml"):
                text = text.replace(b"</sheetData>", behind.encode() + b"</sheetData>")
            new.writestr(name, text)
    return changed.getvalue()


def rows_of(behind: str) -> dict[int, list[str]]:
    table = WorkbookFile(io.BytesIO(book_with(behind))).table("Sheet")
    return {
        line: [*map(str, cells)]
        for block in table.blocks()
        for line, cells in zip(block.lines, block.rows, strict=True)
    }


@pytest.mark.parametrize(
    ("behind", "said"),
    [
        (row(3, "2026-04-20", "K-77", "12.6"), "row 3 of the sheet comes again behind row 4"),
        (row(4, "2026-04-20", "K-77", "12.6"), "row 4 of the sheet comes again behind row 4"),
        (row(LAST_ROW + 1, "2026-04-20"), "sheet has 1048576 rows at most"),
        (row(999_999_999, "2026-04-20"), "sheet has 1048576 rows at most"),
        (row(5, "2026-04-20", "K" * (LONGEST_CELL + 1)), "a cell of row 5 has 32768 characters"),
        (f'<row r="5">{cell("B5", "K-77")}{cell("B5", "K-78")}</row>', "row 5 of the sheet has two cells in column 2"),
    ],
)
def test_a_workbook_that_says_what_no_sheet_holds_is_refused(
    bevelbook: Run, db: Path, tmp_path: Path, behind: str, said: str
) -> None:
    path = tmp_path / "notes.xlsx"
    path.write_bytes(book_with(behind))
    report = bevelbook("--db", db, "import", path, "--json").json
    assert report["file_reason"] == "workbook_damaged"
    assert said in report["message"]


def test_a_row_behind_blank_ones_keeps_its_line() -> None:
    blank = "".join(f'<row r="{at}" spans="1:1"><c r="A{at}" s="0"/><c r="B{at}"/></row>' for at in range(5, 3005))
    found = rows_of(blank + '<row r="3005"/>' + row(3006, "2026-04-20", "K-77"))
    assert found[3006] == ["2026-04-20", "K-77", ""]
    assert [*found] == [*range(1, 3007)]
    assert not any("".join(found[at]) for at in range(5, 3006))
    unnumbered = "<row>" + cell("A21", "2026-04-20") + "</row>"
    few = "".join(f'<row r="{at}"/>' for at in range(5, 21))
    assert rows_of(few + unnumbered)[21] == ["2026-04-20", "", ""]


def test_a_long_gap_between_rows_is_not_made_of_rows() -> None:
    found = rows_of(row(LAST_ROW, "2026-04-20", "K-77"))
    assert found[LAST_ROW] == ["2026-04-20", "K-77", ""]
    assert len(found) == 4 + LONGEST_GAP + 1


def test_blank_rows_and_cells_beyond_never_reach_the_reader() -> None:
    blank = "".join(f'<row r="{at}"><c r="A{at}" s="0"/></row>' for at in range(5, 50_005)).encode()
    wide = "".join(cell(f"{name}50006", "x") for name in ("A", "SF", "SG", "SH", "ZZ", "AAA", "NTP")).encode()
    text = b"<sheetData>" + blank + b'<row r="50006">' + wide + b"</row></sheetData>"
    source = SheetText(io.BytesIO(text))
    read = b"".join(iter(lambda: source.read(100), b""))
    assert read.count(b"<row") < 10
    assert [name in read for name in (b'"A50006"', b'"SF50006"', b'"SG50006"', b'"SH50006"', b'"NTP50006"')] == [
        *(True, True, True, False, False)
    ]


@pytest.mark.parametrize(
    "text",
    [
        b'<row r="1"><c r="A1"><v>1</v></c></row><row r="2"><c r="A2"/><c r="B2"><v>2</v></c></row></sheetData>',
        b'<row r="1"/><!-- <row r="2"/><row r="3"/> --><row r="4"/>',
        b'<row r="1"><c r="A1"><is><t><![CDATA[<row r="2"/><row r="3"/>]]></t></is></c></row>',
        b'<row r="1"><c r="A1"><v>0</v></c></row><row r="2"><c r="A2" t="str"><v> </v></c></row>',
        b'<row r="1"><c r="A1"><f>B1</f><v></v></c></row><row r="2"><c r="A2"><f>B2</f></c></row>',
        b'<x:row r="1"><x:c r="A1"><x:is><x:t>a</x:t></x:is></x:c></x:row><x:row r="2"><y:c r="A2"/></x:row>',
        b"no rows at all",
        b"",
    ],
)
def test_all_other_text_comes_through_as_it_is(text: bytes) -> None:
    source = SheetText(io.BytesIO(text))
    assert b"".join(iter(lambda: source.read(100), b"")) == text


@pytest.mark.parametrize(
    "blank",
    [
        '<row r="{at}"/>',
        '<row ht="15" r="{at}" spans="1:2"/>',
        '<row r="{at}"><c r="A{at}" s="1"></c><c r="B{at}"/></row>',
        '<row r="{at}"><c r="A{at}"><v/></c><c r="B{at}" t="s"><v></v></c></row>',
        '<row r="{at}"><c r="A{at}" t="inlineStr"><is><t/></is></c></row>',
        '<row r="{at}"><c r="A{at}" t="inlineStr"><is><t></t></is></c></row>',
        '<x:row r="{at}"><x:c r="A{at}" s="1"/><x:c r="B{at}"><x:v></x:v></x:c></x:row>',
    ],
)
def test_blank_rows_never_reach_the_reader_however_they_are_written(blank: str) -> None:
    """What ISO/IEC 29500-1 (18.3.1.73 row, 18.3.1.4 c) lets a row of nothing look like; clauses from memory."""
    rows = "".join(blank.format(at=at) for at in range(5, 50_005)).encode()
    source = SheetText(io.BytesIO(b"<sheetData>" + rows + b"</sheetData>"))
    read = b"".join(iter(lambda: source.read(100), b""))
    assert 0 < read.count(b"row r=") + read.count(b'row ht="15" r=') < 10
    assert b'"50004"' in read, "what follows without a number is counted from the last"


@pytest.mark.parametrize(
    ("behind", "said"),
    [("<row/>" * (MOST_BLANK + 1) + "<!-- -->", "blank rows in a run"), ("<a/>" * 600_000, "packed more tightly")],
    ids=["blank rows", "tight"],
)
def test_a_small_file_that_unpacks_to_very_much_is_refused(
    behind: str, said: str, bevelbook: Run, db: Path, tmp_path: Path
) -> None:
    path = tmp_path / "notes.xlsx"
    path.write_bytes(book_with(behind))
    report = bevelbook("--db", db, "import", path, "--json").json
    assert report["file_reason"] == "workbook_damaged"
    assert said in report["message"]


REPEATED = {
    "blanks": '<table:table-row><table:table-cell office:value-type="string"><text:p><text:s text:c="2000000000"/>'
    "</text:p></table:table-cell></table:table-row>",
    "cells": '<table:table-row table:number-rows-repeated="1000000">'
    '<table:table-cell table:number-columns-repeated="16000"><text:p>x</text:p></table:table-cell></table:table-row>',
}


@pytest.mark.parametrize("named", REPEATED)
def test_an_open_document_that_repeats_more_than_a_sheet_holds_is_refused(named: str) -> None:
    whole = parts(ods())
    content = whole["content.xml"].replace(b"</table:table>", f"{REPEATED[named]}</table:table>".encode())
    with pytest.raises(FileRejected, match="cannot be opened"):
        OpenDocumentFile(io.BytesIO(packed({**whole, "content.xml": content})))


def test_a_long_gap_in_an_open_document_is_not_made_of_rows() -> None:
    whole = parts(ods())
    rows = '<table:table-row table:number-rows-repeated="200000"/><table:table-row><table:table-cell><text:p>x</text:p>'
    behind = f"{rows}</table:table-cell></table:table-row></table:table>"
    content = whole["content.xml"].replace(b"</table:table>", behind.replace("<table:table-cell>", CELL).encode())
    table = OpenDocumentFile(io.BytesIO(packed({**whole, "content.xml": content}))).table("S")
    lines = [line for block in table.blocks() for line in block.lines]
    assert [*lines[:3], len(lines), lines[-1]] == [1, 2, 3, 3 + LONGEST_GAP, 200_003]


@pytest.mark.parametrize("opened", [WorkbookFile, OpenDocumentFile])
def test_a_workbook_packed_too_tightly_is_refused_before_anything_of_it_is_read(opened: Callable[..., Any]) -> None:
    name = "content.xml" if opened is OpenDocumentFile else "xl/worksheets/sheet1.xml"
    tight = packed({**parts(ods() if opened is OpenDocumentFile else xlsx()), name: b"<a>" * 2_000_000})
    with pytest.raises(FileRejected, match="packed more tightly"):
        opened(io.BytesIO(tight))
