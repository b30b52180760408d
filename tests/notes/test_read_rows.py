"""Rows of a file one after the other: what is listed of those left out, and when progress is said. Constructed data."""

from __future__ import annotations

import io
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from bevelbook.notes.bulk import Bulk
from bevelbook.notes.file_warnings import fluid_warnings, lid_warning
from bevelbook.notes.importing import import_notes
from bevelbook.notes.note_columns import NAMES
from bevelbook.notes.placing import Placing
from bevelbook.notes.report import Report
from bevelbook.notes.settings import Settings
from bevelbook.notes.staging import Stage, empty_database

HEADING = "date,diff,runs,call"


@pytest.fixture
def memory() -> Iterator[sqlite3.Connection]:
    connection = empty_database()
    yield connection
    connection.close()


def imported(memory: sqlite3.Connection, *lines: str, **more: Any) -> Report:
    file = io.BytesIO("\n".join([*lines, ""]).encode())
    settings = Settings(today="2026-06-30", **more)
    return import_notes(file, "notes.csv", memory, Path(), settings, dry_run=True, want_rows=True)


# Rejected rows


def test_twenty_rejected_rows_of_each_reason_are_listed_in_the_order_of_lines(memory: sqlite3.Connection) -> None:
    lines = [HEADING]
    for _ in range(22):
        lines += ["2026-05-03,a,4,often", "2026-05-03,a,many,keep"]
    report = imported(memory, *lines)
    assert report.rejected == 44
    listed = {
        reason: [one.line for one in report.rejections if one.reason == reason]
        for reason in ("call_unknown", "number_unparseable")
    }
    assert listed == {"call_unknown": list(range(2, 42, 2)), "number_unparseable": list(range(3, 43, 2))}
    assert [one.line for one in report.rejections] == list(range(2, 42))


def test_every_row_left_out_has_its_line_reason_column_and_value(memory: sqlite3.Connection) -> None:
    report = imported(memory, HEADING, "2026-05-03,a,4,often", "", "2026-05-03,a,2,keep")
    assert [(row["line"], row["status"]) for row in report.rows or []] == [
        (2, "rejected"),
        (3, "skipped"),
        (4, "accepted"),
    ]
    rejected, skipped, accepted = report.rows or []
    assert (rejected["reason"], rejected["column"], rejected["value"]) == ("call_unknown", "call", "often")
    assert (skipped["reason"], skipped["column"], skipped["value"]) == ("blank", None, None)
    assert accepted["values"] == dict.fromkeys(NAMES) | {
        "date": "2026-05-03",
        "diff": "a",
        "runs": 2.0,
        "call": "keep",
    }
    assert (report.read, report.accepted, report.rejected, report.skipped) == (3, 1, 1, 1)


# Progress


def test_progress_is_said_every_ten_thousand_rows_placed(memory: sqlite3.Connection) -> None:
    stage = Stage(memory, NAMES, ["date", "diff", "runs"])
    count = 20_001
    columns = {"date": ["2026-05-03"] * count, "diff": ["a"] * count, "runs": [*map(float, range(count))]}
    stage.add_rows(range(2, count + 2), columns)
    bulk = Bulk(memory, note_file="x", stamp="2026-06-30T10:00:00.000Z", by=None, dry=True)
    placing, said = Placing(stage, bulk), []
    placing.run(said.append)
    assert said == [10_000, 20_000]
    assert (placing.added, placing.made["runs"]) == (count, count)


# What is odd about a file


def lid(memory: sqlite3.Connection, step_g: float, *gaps_g: float, accepted: int = 5) -> list[str]:
    stage = Stage(memory, NAMES, ["date", "diff"])
    for line, gap_g in enumerate(gaps_g, start=2):
        stage.add_finding(line, "mass_balance", gap_g)
    stage.accepted = accepted
    report = Report("notes.csv")
    lid_warning(stage, step_g, report)
    return report.warnings


def test_a_gap_two_steps_or_a_twentieth_from_the_middle_one_is_like_it(memory: sqlite3.Connection) -> None:
    """Numbers that binary holds to the last bit, so that the bounds themselves are met."""
    assert lid(memory, 0.25, 2.0, 2.0, 2.0, 2.0, 2.5) == ["lid_on_scale:about 2.00 g in 5 rows"]
    assert lid(memory, 0.25, 2.0, 2.0, 2.0, 2.0, 1.5) == ["lid_on_scale:about 2.00 g in 5 rows"]
    assert lid(memory, 0.25, 2.0, 2.0, 2.0, 2.0, 2.5625) == ["lid_on_scale:about 2.00 g in 4 rows"]
    assert lid(memory, 0.0625, *[20.0] * 4, 21.0) == ["lid_on_scale:about 20.00 g in 5 rows"]
    assert lid(memory, 0.0625, *[20.0] * 4, 21.25) == ["lid_on_scale:about 20.00 g in 4 rows"]


def test_a_lid_has_to_be_more_than_one_and_a_half_steps(memory: sqlite3.Connection) -> None:
    assert lid(memory, 0.25, *[0.375] * 5) == []
    assert lid(memory, 0.25, *[0.4375] * 5) == ["lid_on_scale:about 0.44 g in 5 rows"]


def test_gaps_that_are_nothing_or_below_are_not_counted_for_a_lid(memory: sqlite3.Connection) -> None:
    assert lid(memory, 0.25, *[2.0] * 5, 0.0, -2.0) == ["lid_on_scale:about 2.00 g in 5 rows"]
    assert lid(memory, 0.25, *[2.0] * 4, 0.0) == []


def test_a_lid_is_in_half_of_the_rows_at_least(memory: sqlite3.Connection) -> None:
    assert lid(memory, 0.25, *[2.0] * 5, accepted=10) == ["lid_on_scale:about 2.00 g in 5 rows"]
    assert lid(memory, 0.25, *[2.0] * 5, accepted=11) == []


def test_a_file_without_a_column_of_fluids_has_no_alike_names() -> None:
    assert fluid_warnings({}) == []
