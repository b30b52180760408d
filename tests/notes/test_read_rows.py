"""Rows of a file one after the other: what is listed of those left out. Constructed data."""

from __future__ import annotations

import io
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from bevelbook.notes.importing import import_notes
from bevelbook.notes.note_columns import NAMES
from bevelbook.notes.report import Report
from bevelbook.notes.settings import Settings
from bevelbook.notes.staging import empty_database

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


def test_progress_is_in_rows_while_columns_are_looked_through_and_in_bytes_while_rows_are_read(
    memory: sqlite3.Connection,
) -> None:
    """The first number has two readings, so that all of its column is looked through first."""
    text = 'date,diff,viscosity_cst\n2026-05-03,a,"7.000"\n2026-05-03,a,"6.500,5"\n2026-05-03,b\n'
    said: list[tuple[str, int, int]] = []
    file = io.BytesIO(text.encode())
    report = import_notes(
        file,
        "notes.csv",
        memory,
        Path(),
        Settings(today="2026-06-30"),
        dry_run=True,
        progress=lambda *given: said.append(given),
    )
    assert (report.accepted, report.rejected) == (2, 1)
    assert [one for one in said if one[0] == "looking"] == [("looking", 3, 0)]
    assert [one for one in said if one[0] == "reading"][-1] == ("reading", len(text), len(text))
