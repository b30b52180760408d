"""Dry mass, oil and total of a row: what is refused, noted, and asked of the whole file. All data are constructed."""

from __future__ import annotations

import io
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from bevelbook.notes.importing import import_notes
from bevelbook.notes.report import Report
from bevelbook.notes.settings import Settings
from bevelbook.notes.staging import empty_database

HEADING = "date,diff,dry_mass_g,oil_mass_g,total_mass_g"


@pytest.fixture
def memory() -> Iterator[sqlite3.Connection]:
    connection = empty_database()
    yield connection
    connection.close()


def imported(memory: sqlite3.Connection, text: str) -> Report:
    settings = Settings(today="2026-05-04")
    file = io.BytesIO(text.encode())
    return import_notes(file, "notes.csv", memory, Path(), settings, dry_run=True, want_rows=True)


def one(memory: sqlite3.Connection, dry: str, oil: str, total: str, heading: str = HEADING) -> Report:
    return imported(memory, f"{heading}\n2026-05-03,a,{dry},{oil},{total}\n")


def outcome(report: Report) -> str:
    """What came of the one row: noted, fine, or the reason of its refusal."""
    if report.rejections:
        return report.rejections[0].reason
    return "noted" if any(one.startswith("mass_balance") for one in report.warnings) else "fine"


@pytest.mark.parametrize(
    ("total", "wanted"),
    [
        # 12.4000 g and 1.8600 g are 14.2600 g; up to 0.5 mg nothing is said, up to 0.15 g it is noted
        ("14.2600", "fine"),
        ("14.2604", "fine"),
        ("14.2596", "fine"),
        ("14.2610", "noted"),
        ("14.2590", "noted"),
        ("14.2650", "noted"),
        ("14.4100", "noted"),
        ("14.1100", "noted"),
        ("14.4101", "mass_mismatch"),
        ("14.1099", "mass_mismatch"),
        ("12.3999", "total_below_dry"),
        ("12.4000", "mass_mismatch"),
    ],
)
def test_a_gap_in_masses_read_to_a_tenth_of_a_milligram(memory: sqlite3.Connection, total: str, wanted: str) -> None:
    assert outcome(one(memory, "12.4000", "1.8600", total)) == wanted


@pytest.mark.parametrize(
    ("dry", "oil", "total", "wanted"),
    [
        # three readings to 0.01 g explain one and a half steps of it
        ("12.40", "1.86", "14.27", "fine"),
        ("12.40", "1.86", "14.25", "fine"),
        ("12.40", "1.86", "14.28", "noted"),
        ("12.40", "1.86", "14.24", "noted"),
        # to 0.1 g: the same of that
        ("12.4", "1.8", "14.3", "fine"),
        ("12.4", "1.8", "14.2", "fine"),
        # the finest of the three counts
        ("12.4", "1.86", "14.3", "noted"),
        # to a milligram
        ("12.400", "1.860", "14.261", "fine"),
        ("12.400", "1.860", "14.262", "noted"),
        ("12.400", "1.860", "14.258", "noted"),
    ],
)
def test_a_gap_that_the_digits_of_the_scale_explain_is_not_noted(
    memory: sqlite3.Connection, dry: str, oil: str, total: str, wanted: str
) -> None:
    assert outcome(one(memory, dry, oil, total)) == wanted


def test_the_step_of_a_scale_in_milligrams_is_one_milligram(memory: sqlite3.Connection) -> None:
    heading = "date,diff,dry mass (mg),oil mass (mg),total mass (mg)"
    assert outcome(one(memory, "12400", "1860", "14261", heading)) == "fine"
    assert outcome(one(memory, "12400", "1860", "14262", heading)) == "noted"


@pytest.mark.parametrize(
    ("dry", "oil", "total", "wanted"),
    [
        ("12.40", "", "12.40", "fine"),
        ("12.40", "", "12.39", "total_below_dry"),
        ("", "1.86", "9.00", "fine"),
        ("12.40", "1.86", "", "fine"),
        ("12.40", "1.86", "12.39", "total_below_dry"),
    ],
)
def test_masses_that_are_missing_are_not_balanced(
    memory: sqlite3.Connection, dry: str, oil: str, total: str, wanted: str
) -> None:
    assert outcome(one(memory, dry, oil, total)) == wanted


def test_only_the_rows_that_do_not_agree_are_refused_each_with_its_line(memory: sqlite3.Connection) -> None:
    rows = [
        "2026-05-03,a,12.40,1.86,14.26",
        "2026-05-03,b,12.40,1.86,15.26",
        "x,c,12.40,1.86,14.36",
        "2026-05-03,d,12.40,1.86,14.36",
        "2026-05-03,e,12.40,,12.00",
    ]
    report = imported(memory, "\n".join([HEADING, *rows]) + "\n")
    assert sorted((one.line, one.reason, one.value) for one in report.rejections) == [
        (3, "mass_mismatch", "15.26"),
        (4, "date_unparseable", "x"),
        (6, "total_below_dry", "12"),
    ]
    assert report.warnings == ["mass_balance:line 5"]
    assert [row["line"] for row in report.rows or [] if row["status"] == "accepted"] == [2, 5]


# Did the lid lie on the scale? At least five such rows, four in five of them alike, and half of all rows.


def lid(memory: sqlite3.Connection, *gaps_g: float, others: int = 0) -> bool:
    rows = [f"2026-05-{1 + n % 3:02},a{n},12.40,1.86,{14.26 + gap:.2f}" for n, gap in enumerate(gaps_g)]
    rows += [f"2026-05-03,b{n},12.40,1.86,14.26" for n in range(others)]
    report = imported(memory, "\n".join([HEADING, *rows]) + "\n")
    assert (report.accepted, report.rejected) == (len(rows), 0)
    return any(one.startswith("lid_on_scale") for one in report.warnings)


def test_the_lid_is_asked_for_from_five_rows_on(memory: sqlite3.Connection) -> None:
    assert lid(memory, *[0.12] * 5)
    assert not lid(memory, *[0.12] * 4)


def test_the_lid_is_asked_for_where_half_of_all_rows_have_it(memory: sqlite3.Connection) -> None:
    assert lid(memory, *[0.12] * 5, others=5)
    assert not lid(memory, *[0.12] * 5, others=6)


def test_the_lid_is_asked_for_where_four_in_five_gaps_are_alike(memory: sqlite3.Connection) -> None:
    assert lid(memory, *[0.12] * 4, 0.05)
    assert not lid(memory, *[0.12] * 7, 0.05, 0.05)


def test_gaps_within_two_steps_of_the_middle_one_are_alike(memory: sqlite3.Connection) -> None:
    assert lid(memory, 0.10, 0.11, 0.12, 0.13, 0.13)
    assert not lid(memory, 0.06, 0.08, 0.11, 0.14, 0.15)


def test_a_lid_that_the_digits_explain_or_that_makes_it_lighter_is_not_asked_for(memory: sqlite3.Connection) -> None:
    assert not lid(memory, *[0.01] * 5)
    assert lid(memory, *[0.02] * 5)
    assert not lid(memory, *[-0.12] * 6)


def test_a_gap_in_the_typed_cells_of_a_workbook_is_noted(memory: sqlite3.Connection) -> None:
    """12.40 g and 1.86 g are 14.26 g; a scale with steps of 0.01 g explains 14.27 g and not 14.36 g."""
    from openpyxl import Workbook

    for total_g, wanted in ((14.27, "fine"), (14.36, "noted")):
        book = Workbook()
        sheet = book.active
        assert sheet is not None
        sheet.append(HEADING.split(","))
        sheet.append(["2026-05-03", "a", 12.4, 1.86, total_g])
        file = io.BytesIO()
        book.save(file)
        report = import_notes(file, "notes.xlsx", memory, Path(), Settings(today="2026-05-04"), dry_run=True)
        assert outcome(report) == wanted
