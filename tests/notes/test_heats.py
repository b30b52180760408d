"""The number of a run behind its day. All data are constructed."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]


def brought(bevelbook: Run, db: Path, folder: Path, *lines: str) -> dict[str, Any]:
    (folder / "notes.csv").write_text("\n".join([*lines, ""]), encoding="utf-8")
    found: dict[str, Any] = bevelbook("--db", db, "import", "notes.csv", "--json", "--rows", "--no-rejects").json
    return found


def places(report: dict[str, Any]) -> list[Any]:
    return [
        (row["values"]["date"], row["values"]["day_order"]) if row["status"] == "accepted" else row["reason"]
        for row in report["rows"]
    ]


@pytest.mark.parametrize(
    ("cell", "place"),
    [
        ("2024-04-06 run 2", ("2024-04-06", 2)),
        ("2024-04-06, run no. 3", ("2024-04-06", 3)),
        ("6 Apr 2024 (Run #4)", ("2024-04-06", 4)),
        ("06.04.2024 RUN 12", ("2024-04-06", 12)),
        ("2024-04-06", ("2024-04-06", None)),
        ("2024-04-06 run", "date_unparseable"),
        ("spring run 2", "date_unparseable"),
    ],
)
def test_the_number_goes_to_the_place_in_the_day(
    bevelbook: Run, db: Path, tmp_path: Path, cell: str, place: object
) -> None:
    report = brought(bevelbook, db, tmp_path, "date;diff;grip", "2024-04-05 run 1;K-01;high", f"{cell};K-01;low")
    assert places(report) == [("2024-04-05", 1), place]
    rows = 1 + (isinstance(place, tuple) and place[1] is not None)
    assert f"run_number_beside_day:run in {rows} rows" in report["warnings"]


def test_the_runs_of_a_day_are_in_the_order_of_their_numbers(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    lines = ("06/04/24 heat 2;K-01;high", "28/04/24 heat 1;K-01;low", "30/04/24 heat 1;K-01;low")
    report = brought(bevelbook, db, tmp_path, "date;diff;grip", *lines)
    assert places(report) == [("2024-04-06", 2), ("2024-04-28", 1), ("2024-04-30", 1)], (
        "the order of dates is found too"
    )
    connection = sqlite3.connect(db)
    found = connection.execute("SELECT run_on, day_order, grip FROM runs ORDER BY 1").fetchall()
    connection.close()
    assert found == [("2024-04-06", 2, "high"), ("2024-04-28", 1, "low"), ("2024-04-30", 1, "low")]
    again = bevelbook("--db", db, "import", "notes.csv", "--json")
    assert (again.json["added"], again.json["known"]) == (0, 3)


def test_a_column_of_its_own_may_hold_the_word(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    lines = ("2024-04-06;heat 2;K-01", "2024-04-06;3;K-01", "2024-04-07 heat 4;;K-01", "2024-04-08 heat 5;heat 6;K-01")
    report = brought(bevelbook, db, tmp_path, "date;run no;diff", *lines)
    assert places(report) == [("2024-04-06", 2), ("2024-04-06", 3), ("2024-04-07", 4), "date_unparseable"]


def test_two_words_in_the_first_rows_have_no_order_among_them(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    report = brought(bevelbook, db, tmp_path, "date;diff", "2024-04-06 session 1;K-01", "2024-04-06 heat 1;K-01")
    assert places(report) == ["date_unparseable"] * 2
    assert not [one for one in report["warnings"] if one.startswith("run_number")]


def test_another_word_behind_the_first_rows_is_refused(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    days = [f"2024-04-06 run {number % 9 + 1};K-{number:03}" for number in range(210)]
    report = brought(bevelbook, db, tmp_path, "date;diff", *days, "2024-04-07 heat 1;K-01")
    assert (report["accepted"], report["rejected_by_reason"]) == (210, {"date_unparseable": 1})


def test_other_words_in_days_and_labels_stay(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    report = brought(bevelbook, db, tmp_path, "date;diff;result_note", "2024-04-06;run 2;heat 3", "2024-04-06;heat 1;x")
    assert places(report) == [("2024-04-06", None)] * 2
