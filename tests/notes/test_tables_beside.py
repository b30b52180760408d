"""Columns behind an empty one, and tables with thousands of columns. Data constructed."""

from __future__ import annotations

import io
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from bevelbook.notes.file_warnings import NAMED_COLUMNS
from bevelbook.notes.headings import own_map
from bevelbook.notes.importing import import_notes
from bevelbook.notes.report import Report
from bevelbook.notes.settings import Settings

Read = Callable[..., Report]
BESIDE = ("date,diff,oil_mass_g,,fluid,drawer,left", "2026-04-06,K-01,1.35,,5k,a,120", "2026-04-07,K-02,1.36,,7k,b,80")


@pytest.fixture
def read(database: sqlite3.Connection, path: Path) -> Read:
    def act(*lines: str, maps: tuple[tuple[str, str], ...] = ()) -> Report:
        file = io.BytesIO("\n".join(lines).encode())
        settings = Settings(today="2026-06-01", columns=own_map(maps))
        return import_notes(file, "notes.csv", database, path, settings, dry_run=True, want_rows=True)

    return act


def test_columns_behind_an_empty_one_are_asked_about_where_they_may_be_another_table(read: Read) -> None:
    report = read(*BESIDE)
    assert (report.outcome, report.file_reason) == ("rejected", "table_beside")
    assert "columns 5 to 7 may be another table" in str(report.message)
    (question,) = report.questions
    assert (question.option.value, question.about, question.samples) == ("columns", "fluid", ("5k", "7k"))
    assert [one.value for one in question.answers] == ["fluid=fluid", "fluid=ignore"]


@pytest.mark.parametrize(("meaning", "fluids"), [("fluid", ["5k", "7k"]), ("ignore", [None, None])])
def test_each_answer_settles_it(read: Read, meaning: str, fluids: list[str | None]) -> None:
    report = read(*BESIDE, maps=(("fluid", meaning),))
    assert [row["values"]["fluid"] for row in report.rows or []] == fluids  # type: ignore[index]


def test_a_row_with_cells_on_one_side_alone_shows_two_tables(read: Read) -> None:
    heading, row = "date,diff,oil_mass_g,,grip,runs", "2026-04-06,K-01,1.35,,high,3"
    assert read(heading, row).accepted == 1
    report = read(heading, row, ",,,,low,4")
    assert report.file_reason == "table_beside"
    assert [one.about for one in report.questions] == ["grip", "runs"]
    left = read("drawer,fluid,,date,diff,oil_mass_g", "a,5k,,2026-04-06,K-01,1.35")
    assert (left.file_reason, "columns 1 to 2" in str(left.message)) == ("table_beside", True)


@pytest.mark.parametrize(
    "lines",
    [
        ("date,diff,oil_mass_g,,grip,colour", "2026-04-06,K-01,1.35,new ring,high,red"),
        ("date,diff,oil_mass_g,,grip", "2026-04-06,K-01,1.35,,high"),
        ("date,diff,oil_mass_g,,colour,number", "2026-04-06,K-01,1.35,,red,5"),
        (",date,diff,oil_mass_g,colour", ",2026-04-06,K-01,1.35,red"),
    ],
)
def test_an_empty_column_alone_is_not_the_edge_of_a_table(read: Read, lines: tuple[str, ...]) -> None:
    assert read(*lines).accepted == 1


def test_ten_thousand_columns_are_read_and_the_unknown_ones_counted(read: Read) -> None:
    more = ",".join(f"channel {number} bar" for number in range(10_000))
    report = read(f"date,diff,oil_mass_g,{more}", "2026-04-06,K-01,1.35" + ",1" * 10_000)
    assert (report.accepted, report.warnings[0]) == (1, "unknown_column:channel 0 bar")
    assert f"unknown_column:{10_000 - NAMED_COLUMNS} more columns" in report.warnings
    assert sum(one.startswith("unknown_column:") for one in report.warnings) == NAMED_COLUMNS + 1
    assert read(more, "1" + ",1" * 9_999).file_reason == "no_heading"
