"""Where a row of a text ends, and what its quotes mean. Quoting as in RFC 4180, section 2; what people and programs
write besides it is common practice, no source. All data are constructed.
"""

from __future__ import annotations

import csv
import io
import json
import random
import sqlite3
from pathlib import Path

import pytest

from bevelbook.notes.importing import import_notes
from bevelbook.notes.quotes import cells_as_written, looks_torn, only_reading
from bevelbook.notes.report import Report
from bevelbook.notes.settings import Settings
from bevelbook.notes.staging import empty_database
from bevelbook.notes.table import BrokenLine, RecordShape, TextTable

HEADING = "date,builder,diff,oil_mass_g,result_note\n"
ROW = "2024-03-01,ana,K-01,1.35,"


def imported(text: str) -> Report:
    settings = Settings(today="2026-05-04")
    file = io.BytesIO(text.encode())
    return import_notes(file, "n.csv", empty_database(), Path(), settings, dry_run=True, want_rows=True)


def rows_between(count: int) -> str:
    return "".join(f"2024-04-{day:02d},ana,K-{day:02d},1.35,ok\n" for day in range(1, count + 1))


def notes_of(report: Report) -> list[object]:
    return [dict(row["values"])["result_note"] for row in report.rows or [] if row["status"] == "accepted"]  # type: ignore[call-overload]


@pytest.mark.parametrize("end", ['2024-04-29,bo,K-02,1.40,ring 3"\n', '2024-04-29,bo,K-02,1.40,"fine, dry"\n', ""])
@pytest.mark.parametrize("between", [1, 2, 28])
@pytest.mark.parametrize("behind", ["", "2024-04-30,bo,K-02,1.40,ok\n"])
def test_a_quote_left_open_is_refused_where_it_opens_whatever_closes_it(end: str, between: int, behind: str) -> None:
    report = imported(f'{HEADING}{rows_between(1)}{ROW}"lid stripped\n{rows_between(between)}{end}{behind}')
    assert (report.outcome, report.file_reason, report.read) == ("rejected", "unterminated_quote", 0)
    assert "line 3: " in (report.message or "")
    assert "lid stripped" in (report.message or ""), "the text of that line is shown"


@pytest.mark.parametrize(
    "inside",
    [
        '2024-04-07,bo,K-02,1.40,ring 3"',
        '2024-04-07,,K-02,1.40"',
        '07/04/2024,bo,K-02,about 2 g,x"',
        ',bo,K-02,1.40,x"',
        "\n".join(("left side", '2024-04-07,bo,K-02,1.40,"')),
        HEADING.strip() + '"',
    ],
)
def test_a_line_inside_a_cell_that_is_a_row_of_the_table_shows_an_open_quote(inside: str) -> None:
    assert imported(f'{HEADING}{ROW}"lid stripped\n{inside}\n{rows_between(1)}').file_reason == "unterminated_quote"


@pytest.mark.parametrize(
    "note",
    [
        "felt ok, a bit lazy, then, leaked, left",
        "2024-03-02, ana says, it leaked",
        "2024, later, it, leaked, left",
        "1, 2, 3, 4, 5",
        "a, b, c, d, e, f, 7",
        ",,,,",
        "left side",
        "",
    ],
)
def test_a_remark_of_several_lines_may_have_commas_and_days(note: str) -> None:
    report = imported(f'{HEADING}{ROW}"felt ok\n{note}\nend"\n{rows_between(2)}')
    assert (report.accepted, report.rejected) == (3, 0)
    assert notes_of(report)[0] == f"felt ok\n{note}\nend"
    assert [row["line"] for row in report.rows or []] == [2, 5, 6]


def test_rows_that_are_pasted_into_a_remark_are_read_as_the_refusal_says() -> None:
    pasted = f'{HEADING}{ROW}"copied:\n{HEADING}{ROW}old"\n{rows_between(1)}'
    report = imported(pasted)
    assert report.file_reason == "unterminated_quote"
    assert "put > before each of them but the first" in (report.message or "")
    report = imported(pasted.replace(f":\n{HEADING}", f":\n> {HEADING}> "))
    assert (report.accepted, notes_of(report)) == (2, [f"copied:\n> {HEADING}> {ROW}old", "ok"])


def test_wrong_quotes_behind_several_lines_are_a_quote_left_open() -> None:
    report = imported(f'{HEADING}{ROW}"felt ok\nsaid "never"\n{rows_between(1)}')
    assert report.file_reason == "unterminated_quote"
    assert "line 2: " in (report.message or "")


@pytest.mark.parametrize(
    ("line", "note"),
    [
        (r'2024-03-01,ana,K-01,1.35,"said \"never again\", twice"', 'said "never again", twice'),
        (r'2024-03-01,ana,K-01,1.35,"ring 3\""', 'ring 3"'),
        ('2024-03-01,ana,K-01,1.35, "leaked, left"', "leaked, left"),
        ('2024-03-01, "ana", "K-01", 1.35,  "leaked, left"', "leaked, left"),
        ("2024-03-01,ana,K-01,1.35,“leaked, left”", "leaked, left"),
        ('2024-03-01,ana,K-01,1.35,„leaked, 3" ring“', 'leaked, 3" ring'),
        ("2024-03-01,ana,K-01,1.35,«leaked, left»", "leaked, left"),
        ('"2024-03-01,ana,K-01,1.35,""leaked, left"""', "leaked, left"),
        ('"2024-03-01,ana,K-01,1.35,"leaked, left""', "leaked, left"),
        ('"2024-03-01,ana,K-01,1.35,leaked"', "leaked"),
        ('"2024-03-01,ana,K-01,1.35,said ""no"""', 'said "no"'),
        ('"2024-03-01,ana,K-01,1.35,""lid"" loose"', '"lid" loose'),
        ('"2024-03-01,ana,K-01,1.35,"lid" loose"', '"lid" loose'),
    ],
)
def test_other_ways_of_quoting_are_read_where_one_alone_fits(line: str, note: str) -> None:
    report = imported(f"{HEADING}{line}\n{rows_between(2)}")
    assert (report.accepted, report.rejected, report.skipped) == (3, 0, 0)
    assert notes_of(report) == [note, "ok", "ok"]
    assert [row["line"] for row in report.rows or []] == [2, 3, 4]


def test_an_escaped_quote_that_seems_to_open_a_cell_of_many_lines_is_read_and_the_lines_below_too() -> None:
    text = HEADING + r'2024-03-01,ana,K-01,1.35,"use 3\""' + "\n" + rows_between(3) * 1500 + f'{ROW}"fine, dry"\n'
    report = imported(text)
    assert (report.accepted, report.rejected) == (4_502, 0)
    assert notes_of(report)[0] == 'use 3"'
    assert [row["line"] for row in report.rows or []] == list(range(2, 4_504))


@pytest.mark.parametrize("note", ['said “never”, "no"', "“a”, “b”", "x “y", '"“a” and “b”"', '" “a"', "‘a, b’"])
def test_marks_inside_properly_quoted_or_single_cells_are_text(note: str) -> None:
    plain = note if note.startswith('"') else f'"{note.replace(chr(34), chr(34) * 2)}"'
    report = imported(f"{HEADING}{ROW}{plain}\n")
    expected = next(csv.reader([plain]))[0].strip()
    assert report.accepted == 1
    assert str(notes_of(report)[0]) in (expected, expected.strip("“”"))


def test_a_torn_row_that_fits_all_the_same_is_refused_not_shifted() -> None:
    heading = "date,builder,diff,result_note,venue,runs\n"
    for torn in ("“leaked, left”,", ' "leaked, left",', "„leaked, left“,"):
        report = imported(f"{heading}2024-03-01,ana,K-01,{torn}\n2024-03-02,ana,K-01,ok,hall,4\n")
        assert [(row["line"], row.get("reason")) for row in report.rows or []] == [(2, "malformed_quotes"), (3, None)]
        assert "closes in another" in (report.rejections[0].words or "")


def test_a_heading_with_a_blank_before_each_cell_says_it_for_the_file() -> None:
    text = 'date, builder, diff, oil_mass_g, result_note\n2024-03-01, ana, "K-01", 1.35, "felt ok\nleaked, left"\n'
    report = imported(text)
    assert (report.accepted, notes_of(report)) == (1, ["felt ok\nleaked, left"])
    quoted = imported(text.replace(" builder, diff", ' "builder", "diff"'))
    assert (quoted.accepted, notes_of(quoted)) == (1, ["felt ok\nleaked, left"])


def test_a_file_of_lines_quoted_as_a_whole_is_read() -> None:
    lines = [*f'{HEADING}{ROW}"leaked, left"\n{rows_between(1)}'.splitlines()]
    whole = "".join('"{}"\n'.format(line.replace('"', '""')) for line in lines)
    assert notes_of(imported(whole)) == ["leaked, left", "ok"]
    assert notes_of(imported(whole.replace(",", ";").replace("leaked;", "leaked,"))) == ["leaked, left", "ok"]


def test_a_quote_left_open_above_or_in_the_heading_is_named() -> None:
    for text, line in ((f'"{HEADING}{rows_between(3)}', 1), (f'log\n"season 2024\n{HEADING}{rows_between(3)}', 2)):
        report = imported(text)
        assert report.file_reason == "unterminated_quote"
        assert f"line {line}: " in (report.message or "")
    assert imported('"a season\nof notes"\nnothing,here\n').file_reason == "no_heading"


def test_a_broken_line_above_the_heading_takes_no_row_of_the_table_away() -> None:
    report = imported(f'"Season" 2024, spring\n{HEADING}{rows_between(3)}')
    assert (report.accepted, report.skipped) == (3, 1)
    assert [(row["line"], row["status"]) for row in report.rows or []][:2] == [(1, "skipped"), (3, "accepted")]


def test_a_broken_line_is_kept_with_its_text_and_can_be_corrected_in_the_file_of_rejected_rows(
    tmp_path: Path, path: Path, database: sqlite3.Connection
) -> None:
    line = '2024-03-01,ana,K-01,1.35,"leaked" left'
    text = f"{HEADING}{line}\n{rows_between(1)}"
    target = tmp_path / "n.rejected.csv"
    settings = Settings(today="2026-05-04")
    report = import_notes(io.BytesIO(text.encode()), "n.csv", database, path, settings, rejects=lambda _part: target)
    assert (report.accepted, report.rejected) == (1, 1)
    (raw,) = database.execute("SELECT raw FROM note_rejects").fetchone()
    assert ",".join(json.loads(raw)) == line
    rejected = target.read_text("utf-8-sig")
    _, cells = list(csv.reader(io.StringIO(rejected)))
    assert cells[:6] == ["2024-03-01", "ana", "K-01", "1.35", '"leaked" left', "2"]
    mended = rejected.replace('"""leaked"" left"', "leaked left")
    assert mended != rejected
    again = import_notes(io.BytesIO(mended.encode()), "n.rejected.csv", database, path, settings)
    assert (again.accepted, again.rejected, [one.rows for one in again.closed]) == (1, 0, [1])


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize(
    ("text", "note"),
    [
        (' "lid\nleft"', "lid\nleft"),
        (' "lid, say\n\n3 left"', "lid, say\n\n3 left"),
        (' "lid\n left" ', None),
        ("“lid\nleft”", "lid\nleft"),
        ("„lid,\nleft“ ", "lid,\nleft"),
    ],
)
def test_a_remark_of_several_lines_whose_quote_is_not_directly_around_it_is_read_whole_or_not(
    text: str, note: str | None, end: str
) -> None:
    report = imported(f"{HEADING}{ROW}{text}\n{rows_between(2)}".replace("\n", end))
    if note is None:
        assert (report.accepted, report.rejections[0].reason) == (2, "malformed_quotes")
        return
    assert (report.accepted, report.rejected) == (3, 0)
    assert notes_of(report) == [note.replace("\n", end), "ok", "ok"]
    assert [row["line"] for row in report.rows or []] == [2, *range(3 + note.count("\n"), 5 + note.count("\n"))]


def test_a_quote_behind_a_blank_that_its_row_does_not_close_is_refused_with_its_text() -> None:
    report = imported(f'{HEADING}{ROW} "lid\n{rows_between(2)}left"\n')
    assert [(one.line, one.reason) for one in report.rejections] == [(2, "malformed_quotes"), (5, "too_few_fields")]
    assert (report.accepted, report.skipped) == (2, 0)
    assert imported(f"{HEADING}{ROW}“lid\n{rows_between(2)}").accepted == 3, "a curly mark alone is a sign of the text"


@pytest.mark.parametrize("place", ["last", "between"])
@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("2024-03-09\tbo\tK-02\t1.4\tok", "(tab)"),
        ("2024-03-09;bo;K-02;1.4;ok", "(semicolon)"),
        ("today|bo|K-B|-|ok", "(pipe)"),
        ("2024-03-09，bo，K-02，1.4，ok", "(full-width comma)"),
        ("2024-03-09 bo K-02 1.40 g ok", "take the line out if it is only a remark"),
        ("9 March, bo".replace(",", " -"), "take the line out if it is only a remark"),
        ("K-02 １.４ ok", "take the line out if it is only a remark"),
        ("Season 2025", "take the line out if it is only a remark"),
        ('left"', "take the line out"),
        ("left’", "take the line out"),
    ],
)
def test_a_single_text_that_may_be_a_row_is_never_a_footer(line: str, words: str, place: str) -> None:
    report = imported(f"{HEADING}{rows_between(1)}{line}\n{rows_between(1) if place == 'between' else ''}")
    assert (report.rejected, report.skipped) == (1, 0)
    assert (report.rejections[0].line, report.rejections[0].reason) == (3, "too_few_fields")
    assert words in (report.rejections[0].words or "")


def test_all_lines_quoted_as_a_whole_are_read_under_another_delimiter_too() -> None:
    rows = ('"2024-03-01;ana;K-01;1,35;""lid"" loose"', '"2024-03-02;bo;K-02;1,40;ring 3"""')
    heading = '"date;builder;diff;oil_mass_g;result_note"'
    report = imported("\n".join((heading, *rows)))
    assert (report.accepted, notes_of(report)) == (2, ['"lid" loose', 'ring 3"'])
    report = imported("\n".join((heading, '"2024-03-01;ana;K-01;1,35;""lid; loose"" x"')))
    assert (report.accepted, report.rejected) == (0, 1), "its quotes hold the delimiter and are not around a cell"


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("is_title", [True, False])
def test_a_text_of_several_lines_with_the_delimiter_in_it_is_a_title_or_a_footer(
    is_title: bool, delimiter: str, end: str
) -> None:
    words = f'"weighed dry{delimiter}\nQ team{delimiter} north"\n'
    table = f"{HEADING}{rows_between(2)}".replace(",", delimiter)
    report = imported((words + table if is_title else table + words).replace("\n", end))
    assert (report.accepted, report.rejected, report.skipped) == (2, 0, 1)
    assert report.left == {("skipped", "preamble" if is_title else "footer"): 1}


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_a_quote_before_a_whole_row_that_an_inch_mark_closes_below_is_a_quote_left_open(delimiter: str) -> None:
    text = f'{HEADING}"{ROW}x\n2024-03-02,bo,K-02,1.40,ring 3"\n{rows_between(1)}'.replace(",", delimiter)
    report = imported(text)
    assert (report.file_reason, report.read) == ("unterminated_quote", 0)
    assert "line 2: " in (report.message or "")


@pytest.mark.parametrize("seed", range(20))
def test_any_quotes_and_line_breaks_in_few_cells_are_read_or_refused(seed: int) -> None:
    chance = random.Random(seed)
    rows = [HEADING.strip(), ROW + "ok", "Season 2024", "2024-03-02,bo,K-02,1.40,ring"]
    text = "".join(
        one + "".join(chance.choices(['"', "\n", "\r", ",", ";", "\t", " ", "a"], k=chance.randrange(6))) + "\n"
        for one in chance.choices(['"', ""], k=1) + chance.choices(rows, k=6)
    )
    for written in (text, text.replace(",", ";")):
        report = imported(written)
        assert report.read == report.accepted + report.rejected + report.skipped
        assert report.outcome == "rejected" or report.read


def test_the_fields_of_a_corrected_row_are_counted_as_its_sheet_has_them() -> None:
    heading = f"{HEADING.strip()},line,reason,column\n"
    report = imported(f"{heading}{ROW}bad,3,malformed_quotes: x,, and more\n2024-03-01,ana,K-01\n")
    assert [one.words for one in report.rejections] == [
        "6 fields, and the heading has 5. Put text with the delimiter in it in quotes.",
        "3 fields, and the heading has 5. Add the missing cells.",
    ]


# The parts


def test_a_line_cut_at_its_delimiters_is_the_line_again() -> None:
    for line in ('a;"b;c"x', "", ";;", 'a"'):
        assert ";".join(cells_as_written(f"{line}\r\n", ";")) == line


@pytest.mark.parametrize(
    ("row", "is_torn"),
    [
        ([" “a", "b” "], True),
        (["“a", "b", "c”"], True),
        (["„a", "b“"], True),
        (["«a", "b"], False),
        (["a", "b”"], False),
        (["“a”", "“b”"], False),
        ([' "a', 'b"'], True),
        (['"a', 'b"'], False),
        ([' "a"', 'b"'], False),
        ([' "', 'b"'], True),
        (["“a", ""], False),
        (["", " "], False),
    ],
)
def test_a_cell_in_pieces_opens_in_one_and_closes_in_a_later_one(row: list[str], is_torn: bool) -> None:
    assert looks_torn(row) == is_torn


def test_a_line_with_two_other_readings_has_none() -> None:
    line = r'"a,b\",c"'
    assert only_reading(line, ",", lambda row: len(row) == 1) == ['a,b",c']
    assert only_reading(line, ",", lambda row: len(row) == 3) == ["a", r"b\"", "c"]
    assert only_reading(line, ",", lambda row: len(row) in (1, 3)) is None
    assert only_reading('a, "b, c",“d, e”', ",", lambda row: True) is None, "either way the other cell is torn"
    assert only_reading(r'a,"b\\"c"', ",", lambda row: True) is None, "a backslash goes before the backslash"


def test_lines_go_on_behind_each_line_that_is_read_again() -> None:
    shape = RecordShape(0, 2, 2, lambda row: row[0] in "xy" and len(row) == 2)
    text = "".join(("a,b\n", r'x,"1\""' + "\n", "x,2\n", r'y,"3\""' + "\n", "y,4\n", 'x,"5"6\n', "y,7\n"))
    (block,) = TextTable(io.BytesIO(text.encode()), "utf-8", ",", shape).blocks()
    assert list(zip(block.lines, block.rows, strict=True)) == [
        (1, ["a", "b"]),
        (2, ["x", '1"']),
        (3, ["x", "2"]),
        (4, ["y", '3"']),
        (5, ["y", "4"]),
        (7, ["y", "7"]),
    ]
    assert [(one.line, one.cells) for one in block.broken] == [(6, ["x", '"5"6'])]
    assert isinstance(block.broken[0], BrokenLine)
