"""Options and profiles at their bounds, cells of a workbook, the file of rejected rows. All data are constructed."""

from __future__ import annotations

import io
import zipfile
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

import pytest

from bevelbook.declare.errors import InputError, Place
from bevelbook.notes import workbook
from bevelbook.notes.cells import SheetDay, SheetNumber
from bevelbook.notes.decoding import FileRejected
from bevelbook.notes.headings import Heading, matched
from bevelbook.notes.note_columns import NAMES
from bevelbook.notes.profiles import delimiter_called, profile_from, profile_text, read_profile
from bevelbook.notes.rejects import rejects_path, rejects_text
from bevelbook.notes.settings import Settings
from bevelbook.notes.staging import Stage, empty_database
from bevelbook.notes.workbook import WorkbookTable

HERE = Place("ours.yaml")

# Settings


def test_what_is_said_goes_over_what_a_profile_says() -> None:
    mine = Settings(decimal=",", columns={"a": "date"}, units={"dry_mass_g": "mg"}, words={"grip": {"x": "low"}})
    theirs = Settings(
        decimal=".",
        date_order="dmy",
        allow_out_of_range=True,
        columns={"a": "diff", "b": "diff"},
        units={"oil_mass_g": "mg"},
        words={"call": {"y": "keep"}},
    )
    merged = mine.over(theirs)
    assert (merged.decimal, merged.date_order, merged.allow_out_of_range) == (",", "dmy", True)
    assert merged.columns == {"a": "date", "b": "diff"}
    assert merged.units == {"dry_mass_g": "mg", "oil_mass_g": "mg"}
    assert merged.words == {"grip": {"x": "low"}, "call": {"y": "keep"}}


def test_only_what_was_said_is_kept_with_a_file() -> None:
    assert Settings(today="2026-05-04").said() == {}
    assert Settings(decimal=",", header_line=3, allow_out_of_range=True).said() == {
        "decimal": ",",
        "header_line": 3,
        "allow_out_of_range": True,
    }


def test_an_option_of_reading_is_handed_on() -> None:
    found = Settings(",", "dmy", "F", date_base=1904, today="2026-05-04").reading_options()
    assert (found.decimal, found.date_order, found.temperature_unit, found.date_base, found.today) == (
        *(",", "dmy", "F", 1904),
        "2026-05-04",
    )
    assert Settings().reading_options().today == date.today().isoformat()


# Profiles


@pytest.mark.parametrize(
    ("options", "found"),
    [
        ("header_line: 1", {"header_line": 1}),
        ("date_order: ymd", {"date_order": "ymd"}),
        ("temp_unit: K", {"temp_unit": "K"}),
        ("date_base: 1900", {"date_base": 1900}),
        ("delimiter: Tab", {"delimiter": "\t"}),
        ("encoding: cp1252", {"encoding": "cp1252"}),
        ("allow_out_of_range: true", {"allow_out_of_range": True}),
    ],
)
def test_an_option_of_a_profile_is_taken(options: str, found: dict[str, Any]) -> None:
    assert profile_from(f"options: {{{options}}}", "ours.yaml").said() == found


@pytest.mark.parametrize(
    "text",
    [
        "options: {header_line: 0}",
        "options: {header_line: true}",
        "options: {encoding: 8}",
        "options: {delimiter: ab}",
        "options: {delimiter: 1}",
        "options: [decimal]",
        "words: [grip]",
        "words: {grip: high}",
        "words: {grip: {}}",
        "units: {dry_mass_g: 1}",
        "columns: {date: 1}",
        "7",
    ],
)
def test_a_value_that_a_profile_cannot_hold_is_refused(text: str) -> None:
    with pytest.raises(InputError) as caught:
        profile_from(text, "ours.yaml")
    assert (caught.value.code, caught.value.place.file) == ("profile_value", "ours.yaml")


def test_an_empty_profile_and_empty_sections_say_nothing() -> None:
    assert profile_from("", "ours.yaml") == Settings()
    assert profile_from("columns:\nunits:\nwords:\noptions:\n", "ours.yaml") == Settings()


def test_words_are_compared_without_case_and_blanks() -> None:
    assert profile_from('words: {grip: {" Griffig ": "HIGH"}}', "ours.yaml").words == {"grip": {"griffig": "high"}}


def test_a_profile_that_is_no_yaml_names_the_line() -> None:
    with pytest.raises(InputError) as caught:
        profile_from("columns:\n  a: b\n c: [\n", "ours.yaml")
    assert caught.value.code == "profile_yaml"
    assert (caught.value.place.line or 0) >= 3


def test_a_profile_that_is_not_there_or_not_in_utf_8_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "ours.yaml"
    for data, code in ((None, "no_file"), (b'columns: {"\xe9": "date"}', "profile_encoding")):
        if data is not None:
            path.write_bytes(data)
        with pytest.raises(InputError) as caught:
            read_profile(path)
        assert caught.value.code == code
    path.write_bytes(b"\xef\xbb\xbfoptions: {decimal: ','}")
    assert read_profile(path).decimal == ","


@pytest.mark.parametrize(
    ("said", "sign"),
    [("comma", ","), (" Semicolon ", ";"), ("tab", "\t"), ("\\t", "\t"), ("pipe", "|"), ("^", "^"), ("\t", "\t")],
)
def test_a_delimiter_is_a_sign_or_its_name(said: str, sign: str) -> None:
    assert delimiter_called(said, HERE) == sign


@pytest.mark.parametrize("said", ["", "a", "7", '"', "'", ".", "\n", ",,"])
def test_a_letter_a_digit_a_quote_or_a_dot_is_no_delimiter(said: str) -> None:
    with pytest.raises(InputError) as caught:
        delimiter_called(said, HERE)
    assert caught.value.code == "profile_value"


def test_a_profile_has_its_headings_as_they_were_typed() -> None:
    heading = Heading(0, (matched("Gewicht für Öl", 0, {}),), ("Gewicht für Öl",), ",")
    assert '  "Gewicht für Öl": "ignore"' in profile_text(heading, Settings(), {}).splitlines()


def test_a_profile_of_everything_said_is_read_back_as_it_was() -> None:
    said = Settings(
        decimal=",",
        header_line=2,
        allow_out_of_range=True,
        units={"dry_mass_g": "mg"},
        words={"grip": {"griffig": "high", "glatt": "low"}},
    )
    columns = tuple(matched(cell, place, {}) for place, cell in enumerate(("date", "Kiste", "")))
    text = profile_text(Heading(0, columns, ("date", "Kiste", ""), ","), said, said.units)
    assert profile_from(text, "ours.yaml") == said._replace(columns={"date": "date", "kiste": "ignore"})
    bare = profile_text(Heading(0, columns, ("date", "Kiste", ""), ","), Settings(), {"dry_mass_g": ""})
    assert profile_from(bare, "ours.yaml") == Settings(columns={"date": "date", "kiste": "ignore"})


# Workbooks


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, ""),
        ("=A1", "=A1"),
        (True, "TRUE"),
        (False, "FALSE"),
        (7, SheetNumber("7")),
        (7.0, SheetNumber("7")),
        (7.25, SheetNumber("7.25")),
        (1e15, SheetNumber("1000000000000000.0")),
        (999999999999999.0, SheetNumber("999999999999999")),
        (date(2024, 2, 14), SheetDay("2024-02-14")),
        (datetime(2024, 2, 14), SheetDay("2024-02-14")),
        (datetime(2024, 2, 14, 18, 30), SheetDay("2024-02-14T18:30:00")),
        (time(18, 30), "18:30:00"),
    ],
)
def test_a_cell_of_a_workbook_as_text(value: object, text: str) -> None:
    assert workbook._text(value) == text


def book(*rows: list[Any]) -> io.BytesIO:
    from openpyxl import Workbook

    made = Workbook()
    sheet = made.active
    assert sheet is not None
    for row in rows:
        sheet.append(row)
    file = io.BytesIO()
    made.save(file)
    return file


def test_rows_of_a_workbook_are_filled_up_and_counted_on_from_block_to_block() -> None:
    table = WorkbookTable(book(["a", "b", None], ["c"], ["d", None, "e"], [None], ["f"]))
    found = [(list(one.lines), one.rows) for one in table.blocks(2)]
    assert found == [
        ([1, 2], [["a", "b"], ["c", ""]]),
        ([3, 4], [["d", "", "e"], ["", "", ""]]),
        ([5], [["f", "", ""]]),
    ]
    assert table.progress() == (0, 0)


@pytest.mark.parametrize(("size", "is_taken"), [(0, True), (1, False)])
def test_a_workbook_may_unpack_to_the_limit(monkeypatch: pytest.MonkeyPatch, size: int, is_taken: bool) -> None:
    file = book(["date"])
    with zipfile.ZipFile(file) as archive:
        unpacked = sum(one.file_size for one in archive.infolist())
    monkeypatch.setattr(workbook, "LARGEST_UNPACKED", unpacked - size)
    if is_taken:
        found = workbook.workbook_decoding(file, pack=False)
        assert (found.encoding, found.byte_count, found.packed) == ("workbook", len(file.getvalue()), None)
    else:
        with pytest.raises(FileRejected) as caught:
            workbook.workbook_decoding(file, pack=False)
        assert caught.value.code == "workbook_too_large"


def test_an_archive_without_a_list_of_contents_is_no_workbook() -> None:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr("letter.txt", "dear friend")
    with pytest.raises(FileRejected) as caught:
        workbook.workbook_decoding(file, pack=True)
    assert caught.value.code == "workbook_damaged"


# The file of rejected rows


def test_a_file_of_rejects_stands_beside_the_file_and_is_not_rejected_twice_by_name() -> None:
    assert rejects_path(Path("x/notes.csv")) == Path("x/notes.rejected.csv")
    assert rejects_path(Path("x/notes.rejected.csv")) == Path("x/notes.rejected.csv")


def test_rejected_rows_have_the_units_above_them_and_why_behind_them() -> None:
    cells = ("date", "diff", "line", "dry mass")
    heading = Heading(0, tuple(matched(cell, place, {}) for place, cell in enumerate(cells)), cells, ";")
    connection = empty_database()
    stage = Stage(connection, NAMES, ("date", "diff", "dry_mass_g"))
    stage.add_left(
        [
            (7, "rejected", "too_many_fields", None, None, "5 fields.", ["2026-05-02", "a", "1", "9.5", "more"]),
            (5, "rejected", "date_unparseable", "date", "x", None, ["x", "a", "1", SheetNumber("9.5")]),
            (2, "skipped", "units_row", None, None, None, ["", "", "", "g"]),
            (3, "skipped", "blank", None, None, None, ["", "", "", ""]),
            (6, "rejected", "too_few_fields", None, None, "1 field.", ["y"]),
        ]
    )
    assert rejects_text(stage, heading).splitlines() == [
        "date;diff;dry mass;line;reason;column",
        ";;g;;;",
        "x;a;9.5;5;date_unparseable:;date",
        "y;;;6;too_few_fields: 1 field.;",
        "2026-05-02;a;9.5;7;too_many_fields: 5 fields.;;more",
    ]
    connection.close()


def test_what_is_said_now_comes_before_what_was_kept_and_never_beside_it() -> None:
    """A field named now is not that of another heading too, and a unit said for all temperatures is that of all."""
    kept = Settings(
        date_order="dmy",
        temp_unit="F",
        columns={"mood": "ignore", "felt": "result_note", "who": "builder"},
        units={"track_temp_c": "°F", "oil_mass_g": "mg"},
        constants={"venue": "Mill Hall", "grip": "high"},
    )
    assert Settings().over_kept(kept) == kept
    now = Settings(
        temp_unit="C",
        columns={"notes": "result_note", "hall": "venue"},
        named_headings=("Notes", "Hall"),
        constants={"builder": "ana"},
    )
    assert now.over_kept(kept) == Settings(
        date_order="dmy",
        temp_unit="C",
        columns={"mood": "ignore", "notes": "result_note", "hall": "venue"},
        units={"oil_mass_g": "mg"},
        constants={"builder": "ana", "grip": "high"},
        named_headings=("Notes", "Hall"),
    )
