"""More than one table in a file: named with their lines, and read one at a time. Data constructed."""

from __future__ import annotations

import io
import json
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from bevelbook.notes.importing import import_notes
from bevelbook.notes.report import Report
from bevelbook.notes.reread import revise
from bevelbook.notes.settings import Settings

Read = Callable[..., Report]
Run = Callable[..., Any]
FIRST = ("date,diff,oil_mass_g", "2026-04-06,K-01,1.35", "2026-04-07,K-02,1.40")
SECOND = ("date,builder,diff,dry_mass_g,oil_mass_g,total_mass_g", "2026-05-04,ana,K-01,12.42,1.84,14.26")
STACKED = (*FIRST, "", *SECOND)


@pytest.fixture
def read(database: sqlite3.Connection, path: Path) -> Read:
    def act(*lines: str, data: bytes = b"", dry: bool = True, **said: object) -> Report:
        file = io.BytesIO(data or "\n".join(lines).encode())
        settings = Settings(today="2026-06-01", **said)  # type: ignore[arg-type]
        return import_notes(file, "notes.csv", database, path, settings, dry_run=dry, want_rows=True)

    return act


def refused(report: Report) -> list[str]:
    """The lines of the tables for which a file was refused."""
    assert (report.outcome, report.file_reason) == ("rejected", "header_changed")
    (question,) = report.questions
    assert question.option.value == "lines"
    ranges = [one.value for one in question.answers]
    assert f"--lines {ranges[0]}, or --lines {ranges[1]}" in str(report.message)
    return ranges


def test_a_table_with_more_columns_below_another_is_named_with_its_lines(read: Read) -> None:
    report = read(*STACKED)
    assert refused(report) == ["1-3", "5-6"]
    assert str(report.message).startswith("line 5: the file has 2 tables: lines 1 to 3 (date, diff, oil_mass_g); ")
    assert report.questions[0].answers[1].words == (
        "lines 5 to 6: date, builder, diff, dry_mass_g, oil_mass_g, total_mass_g"
    )


@pytest.mark.parametrize(
    ("lines", "ranges"),
    [
        (("date,builder,diff,runs", "2026-04-06,ana,K-01,2", "", "day,hall,car,laps", "2026-04-07,north,red,5"), 4),
        (("date,diff,runs", "2026-04-06,K-01,2", "bottle,left,viscosity,fluid", "a,120,5000,5k"), 3),
        (("date,diff,runs", "2026-04-06,K-01,2", ",,", ",,", "who,where,what,why", "7,8,9,x"), 5),
        (("date,diff,runs", "2026-04-06,K-01,2", "diff,date,runs"), 3),
    ],
)
def test_another_table_below_is_found_by_its_headings_or_by_words_among_numbers(
    read: Read, lines: tuple[str, ...], ranges: int
) -> None:
    assert refused(read(*lines)) == ["1-2", f"{ranges}-{len(lines)}"]


def test_another_table_above_is_found_and_a_title_is_not(read: Read) -> None:
    other = ("hall,car,laps", "north,red,5", "south,blue,7", "")
    assert refused(read(*other, *FIRST)) == ["1-3", "5-7"]
    assert refused(read("our log", "", "fluid,viscosity", "5k,5000", "", *FIRST)) == ["3-4", "6-8"]
    for title in (("our log, 2026", "typed by,ana", "car,7"), ("hall,car,who", "north,red,ana"), ("fluid,runs",)):
        assert read(*title, *FIRST).accepted == 2


def test_three_tables_are_all_named_and_one_that_begins_like_the_first_is_not_another(read: Read) -> None:
    report = read(*FIRST, FIRST[0], "2026-04-08,K-03,1.36", "", *SECOND, "", "diff,bottle,fluid", "K-01,4,5k")
    assert refused(report) == ["1-5", "7-8", "10-11"]
    again = read(*FIRST, FIRST[0], "2026-04-08,K-03,1.36")
    assert (again.accepted, again.left) == (3, {("skipped", "repeated_header"): 1})


@pytest.mark.parametrize(
    "row", ["soon,K-03,", "rest day,,cancelled", "checked by,ana", "total,,2.75", ",,", "date?,K-03,x", "-,-,-"]
)
def test_a_row_of_words_is_not_another_table(read: Read, row: str) -> None:
    report = read(*FIRST, row, "2026-04-08,K-03,1.36")
    assert (report.outcome, report.accepted) == ("accepted", 3)
    assert read(*FIRST, "", row).outcome == "accepted", "nor where nothing is below it"


@pytest.mark.parametrize("below", [("builder,builds", "ana,1", "bo,1"), ("place,points,,", "1,25,,", "2,18")])
def test_a_table_of_two_columns_below_a_blank_line_is_named_too(read: Read, below: tuple[str, ...]) -> None:
    table = ("date,builder,diff,oil_mass_g", "2026-04-06,ana,K-01,1.35", "")
    assert refused(read(*table, *below)) == ["1-2", "4-6"]
    report = read(*table, *below, lines="1-2")
    assert (report.accepted, report.rejected) == (1, 0)


@pytest.mark.parametrize(
    "below",
    [
        ("winter break,none", "2026-05-03,ana,K-01,1.40"),
        ("winter break,ana", "2026-05-03,ana"),
        ("spring,ana", "", "2026-05-03,ana,K-01,1.40"),
    ],
)
def test_a_line_of_words_with_rows_of_the_table_below_it_is_no_table(read: Read, below: tuple[str, ...]) -> None:
    report = read("date,builder,diff,oil_mass_g,", "2026-04-06,ana,K-01,1.35,", "", *below)
    assert (report.outcome, report.rejections[0].line) == ("accepted", 4)


# Some lines of a file


@pytest.mark.parametrize(
    ("lines", "accepted", "outside", "first"), [("1-3", 2, 3, 2), ("5-6", 1, 4, 6), ("4-90", 1, 3, 6), ("1–2", 1, 4, 2)]
)
def test_only_the_lines_that_are_named_are_read_and_all_are_counted(
    read: Read, lines: str, accepted: int, outside: int, first: int
) -> None:
    report = read(*STACKED, lines=lines)
    assert (report.accepted, report.left[("skipped", "outside_lines")]) == (accepted, outside)
    assert report.read == report.accepted + report.rejected + report.skipped
    assert report.rows is not None
    assert next(row["line"] for row in report.rows if row["status"] == "accepted") == first


def test_what_is_wrong_with_other_lines_does_not_matter_and_a_line_keeps_its_number(read: Read) -> None:
    lines = ('a,"never closed', *FIRST, "2026-04-08,,1.4", 'x,"y')
    report = read(*lines, lines="2-5", header_line=2)
    assert (report.accepted, [one.line for one in report.rejections]) == (2, [5])
    two = read(*STACKED, "date,,mass,,,", ",diff,dry,oil,,", "2026-05-05,K-01,12.4,1.8", lines="7-9")
    assert [row["line"] for row in two.rows or [] if row["status"] == "accepted"] == [9]


@pytest.mark.parametrize("is_workbook", [False, True])
@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ("90-99", "the file has 3 lines, so there is none from 90 to 99. The lines begin with that of the headings: "),
        ("2-3", "lines 2 to 3 have no row with known headings; the file has 3 lines. The headings have to be among "),
    ],
)
def test_lines_without_a_heading_among_them_are_refused_with_how_many_there_are(
    read: Read, lines: str, said: str, is_workbook: bool
) -> None:
    book = openpyxl.Workbook()
    for row in FIRST:
        book.active.append(row.split(","))
    file = io.BytesIO()
    book.save(file)
    report = read(data=file.getvalue(), lines=lines) if is_workbook else read(*FIRST, lines=lines)
    assert (report.file_reason, str(report.message)[: len(said)]) == ("no_heading", said)


def test_rows_of_a_workbook_are_named_by_their_lines_too(read: Read) -> None:
    book = openpyxl.Workbook()
    assert book.active is not None
    for line in STACKED:
        book.active.append(
            [float(cell) if cell[:1].isdigit() and "-" not in cell else cell for cell in line.split(",")]
        )
    file = io.BytesIO()
    book.save(file)
    assert refused(read(data=file.getvalue())) == ["1-3", "5-6"]
    report = read(data=file.getvalue(), lines="5-6")
    assert (report.accepted, report.left) == (1, {("skipped", "outside_lines"): 4})


def test_two_parts_of_a_file_are_two_kept_files_that_are_read_again_each_by_itself(
    read: Read, database: sqlite3.Connection, path: Path
) -> None:
    for lines in ("1-3", "5-6"):
        report = read(*STACKED, lines=lines, dry=False)
        assert (report.outcome, report.known) == ("accepted", 0)
    kept = database.execute("SELECT name, part, options, accepted FROM note_files ORDER BY accepted").fetchall()
    assert [(row[1], json.loads(row[2]), row[3]) for row in kept] == [
        ("lines 5-6", {"lines": "5-6"}, 1),
        ("lines 1-3", {"lines": "1-3"}, 2),
    ]
    assert read(*STACKED, lines="5-6", dry=False).known == 1
    again = revise(database, path, "notes.csv, lines 5-6", Settings(today="2026-06-01"), by=None)
    assert (again.report.accepted, again.is_empty) == (1, True)


@pytest.mark.parametrize("lines", ["6-5", "0-3", "3", "a-b", "1-2-3", "1.0-2"])
def test_lines_that_are_none_are_refused(bevelbook: Run, tmp_path: Path, lines: str) -> None:
    file = tmp_path / "notes.csv"
    file.write_text("\n".join(STACKED), encoding="utf-8")
    done = bevelbook("import", file, "--dry-run", "--lines", lines)
    assert (done.code, "--lines: these are not lines of a file" in done.err) == (2, True)
    profile = tmp_path / "team.yaml"
    profile.write_text(f'options: {{lines: "{lines}"}}', encoding="utf-8")
    assert "wanted A-B, such as 1-40" in bevelbook("import", file, "--dry-run", "--profile", profile).err


def test_a_profile_can_name_the_lines(bevelbook: Run, tmp_path: Path) -> None:
    file, profile = tmp_path / "notes.csv", tmp_path / "team.yaml"
    file.write_text("\n".join(STACKED), encoding="utf-8")
    profile.write_text('options: {lines: "5-6"}', encoding="utf-8")
    done = bevelbook("--db", tmp_path / "none.db", "import", file, "--dry-run", "--profile", profile, "--json")
    assert (done.json["accepted"], done.json["skipped_by_reason"]) == (1, {"outside_lines": 4})


def test_words_of_the_trade_with_several_meanings_count_as_headings(read: Read) -> None:
    lines = ("date,diff,oil_mass_g", "2026-04-06,K-01,1.35", "Day,Track,Laps", "2026-04-07,hall north,5")
    assert refused(read(*lines)) == ["1-2", "3-4"]


def test_a_heading_that_comes_again_may_bring_its_row_of_units(read: Read) -> None:
    table = ("date,diff,dry,track temp", ",,g,°F", "2026-04-06,K-01,12.4,59")
    report = read(*table, *table[:2], "2026-04-07,K-02,12.4,50")
    assert (report.accepted, report.rejected) == (2, 0)
    assert report.left == {("skipped", "units_row"): 2, ("skipped", "repeated_header"): 1}
    other = read(*table, ",,mg,°F")
    assert (other.outcome, other.file_reason) == ("rejected", "units_unclear"), "other units are not the same row again"
