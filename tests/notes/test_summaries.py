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
BARE = Settings()


@pytest.fixture
def read(database: sqlite3.Connection, path: Path) -> Read:
    def act(*lines: str, said: Settings = BARE) -> Report:
        file = io.BytesIO("\n".join(lines).encode())
        settings = said._replace(today="2026-06-01")
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


@pytest.mark.parametrize(
    "word",
    [
        *("Summe", "Gesamt", "Mittelwert", "Moyenne", "total général", "Somme", "Suma", "Promedio", "Totale", "Media"),
        *("合計", "平均", "小計", "Ø", "Σ", "tot.", "ＴＯＴＡＬ"),
    ],
)
def test_words_and_signs_of_sums_are_known_in_the_languages_of_the_profiles(read: Read, word: str) -> None:
    """Everyday words of those languages: common practice, no source."""
    heading, build = "date,builder,diff,oil_mass_g", "2026-04-06,ana,K-01,1.86"
    assert outcomes(read(heading, build, f"2026-04-06,,{word},1.86"))[1] == (3, "rejected", "summary_row")
    assert outcomes(read(heading, build, f"{word},,,1.86"))[1] == (3, "skipped", "summary_row")
    assert outcomes(read(heading, build, f"2026-04-06,ana,{word},1.86"))[1] == (3, "accepted", None)


@pytest.mark.parametrize("above", [("date",), ("date", "builder"), ("date", "builder", "diff")])
@pytest.mark.parametrize("word", ["max", "total"])
def test_a_sum_below_a_day_that_counts_on_is_judged_with_that_day(
    read: Read, word: str, above: tuple[str, ...]
) -> None:
    report = read(
        *("date,builder,diff,oil_mass_g", "2026-04-06,ana,K-01,1.35", f",,{word},1.36", ",,K-02,1.37"),
        said=Settings(as_above=above),
    )
    assert outcomes(report) == [(2, "accepted", None), (3, "rejected", "summary_row"), (4, "accepted", None)]
    without = read(
        *("date,diff,oil_mass_g", "2026-04-06,K-01,1.35", f",{word},1.36", ",K-02,1.37"),
        said=Settings(as_above=("date",)),
    )
    assert outcomes(without) == outcomes(report)


def test_a_builder_given_for_the_whole_file_is_not_the_builder_of_a_sum(read: Read) -> None:
    lines = ("date,diff,oil_mass_g", "2026-04-06,K-01,1.35", "2026-04-06,total,1.36", "total,,2.71")
    report = read(*lines, said=Settings(constants={"builder": "ana"}))
    assert outcomes(report) == [
        (2, "accepted", None),
        (3, "rejected", "summary_row"),
        (4, "skipped", "summary_row"),
    ]


def test_a_word_that_may_be_a_label_is_in_doubt_where_only_the_day_is_missing(read: Read) -> None:
    assert outcomes(read("diff,date,oil_mass_g", "max,,1.35", "K-01,2026-04-06,1.36", "total,,2.71")) == [
        (2, "rejected", "summary_row"),
        (3, "accepted", None),
        (4, "skipped", "summary_row"),
    ]


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
