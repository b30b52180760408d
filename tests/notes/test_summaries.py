"""Totals and averages in a sheet: skipped where certain, rejected in doubt, never a person's name. Data constructed."""

from __future__ import annotations

import io
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from bevelbook.notes.importing import import_notes
from bevelbook.notes.report import Report
from bevelbook.notes.settings import Settings
from bevelbook.notes.summaries import sums_up

Read = Callable[..., Report]


@pytest.fixture
def read(database: sqlite3.Connection, path: Path) -> Read:
    def act(*lines: str) -> Report:
        file = io.BytesIO("\n".join(lines).encode())
        settings = Settings(today="2026-06-01")
        return import_notes(file, "notes.csv", database, path, settings, dry_run=True, want_rows=True)

    return act


def outcomes(report: Report) -> list[tuple[object, object, object]]:
    assert report.rows is not None
    assert report.read == report.accepted + report.rejected + report.skipped == len(report.rows)
    return [(row["line"], row["status"], row.get("reason")) for row in report.rows]


@pytest.mark.parametrize(
    "name",
    ["Max", "Min", "Count", "Sum", "Total"],
)
def test_a_builder_may_be_called_what_sums_are_called(read: Read, name: str) -> None:
    report = read(
        "builder,date,diff,oil_mass_g",
        f"{name},2026-04-06,K-01,1.35",
        f"{name},spring 24,K-01,1.36",
        f"{name},,K-01,1.37",
        f"{name},2026-04-09,,1.38",
    )
    assert outcomes(report) == [
        (2, "accepted", None),
        (3, "rejected", "date_unparseable"),
        (4, "rejected", "missing_required"),
        (5, "rejected", "missing_required"),
    ]


@pytest.mark.parametrize("word", ["total", "Total:", "day total", "Sum", "average", "Subtotal", "mean of 3", "Max"])
def test_a_word_that_sums_up_in_place_of_the_diff_is_rejected_beside_a_day(read: Read, word: str) -> None:
    report = read(
        "date,builder,diff,dry_mass_g,oil_mass_g",
        "2026-04-06,ana,K-01,12.42,1.86",
        f"2026-04-06,,{word},24.82,3.70",
        f"2026-04-07,ana,{word},12.42,1.85",
    )
    assert outcomes(report) == [(2, "accepted", None), (3, "rejected", "summary_row"), (4, "accepted", None)]
    assert (report.rejections[0].column, report.rejections[0].value) == ("diff", word)


@pytest.mark.parametrize(
    ("row", "status"),
    [
        ("total,,,42.70,2.75", "skipped"),
        ("Average:,,,=AVERAGE(D2:D9),~1.4", "skipped"),
        (",,total,42.70,2.75", "skipped"),
        (",,,total,2.75", "skipped"),
        ("day total,,,,", "skipped"),
        ("total,,checked,42.70,", "rejected"),
        ("total,,K-01,12.42,1.86", "rejected"),
        ("2026-13-01,,total,12.42,1.86", "rejected"),
    ],
)
def test_a_sum_is_skipped_only_where_the_row_holds_nothing_but_numbers(read: Read, row: str, status: str) -> None:
    report = read("date,builder,diff,dry_mass_g,oil_mass_g", "2026-04-06,ana,K-01,12.42,1.86", row)
    assert outcomes(report) == [(2, "accepted", None), (3, status, "summary_row")]


def test_a_label_that_only_holds_such_a_word_is_a_label(read: Read) -> None:
    assert not any(map(sums_up, ("Max Berg", "summary", "K-total", "totaled in the second heat", "minimum play", "")))
    report = read("date,diff,oil_mass_g", "2026-04-06,Max 2,1.35")
    assert outcomes(report) == [(2, "accepted", None)]


@pytest.mark.parametrize(
    ("tail", "outcome"),
    [
        ("\x1a", ("skipped", "end_mark")),
        ("\0\0\0\0", ("rejected", "control_character")),
        ("fin", ("skipped", "footer")),
    ],
)
def test_a_file_may_end_with_a_mark_a_text_or_bytes_that_were_never_written(
    read: Read, tail: str, outcome: tuple[str, str]
) -> None:
    assert outcomes(read("date,diff,oil_mass_g", "2026-04-06,K-01,1.35", tail))[1:] == [(3, *outcome)]


@pytest.mark.parametrize(
    ("cell", "reason"),
    [
        ("#7000", "number_unparseable"),
        ("#40", "number_unparseable"),
        ("#N/A", "spreadsheet_error"),
        ("#DIV/0!", "spreadsheet_error"),
        ("#WERT!", "spreadsheet_error"),
        ("####", "spreadsheet_error"),
    ],
)
def test_a_number_after_a_hash_is_not_an_error_of_a_spreadsheet(read: Read, cell: str, reason: str) -> None:
    assert outcomes(read("date,diff,viscosity_cst", f"2026-04-06,K-01,{cell}")) == [(2, "rejected", reason)]
