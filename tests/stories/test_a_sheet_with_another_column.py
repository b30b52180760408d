"""A sheet that got a column, or a corrected heading, in all its rows: they are asked about, and never come in twice.

All cells are invented.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from asked import asked
from conftest import Outcome

Run = Callable[..., Outcome]
Rows = list[list[str]]
HEADINGS = ["Date", "Diff", "Oil", "Dry (g)", "w/ oil (g)", "Track", "Track temp (°C)", "Packs", "Best lap", "Notes"]
COUNTS = "SELECT (SELECT count(*) FROM builds), (SELECT count(*) FROM runs)"


def sheet() -> Rows:
    rows = [HEADINGS[:]]
    for week in range(12):
        filled = [f"{5 + week}k", f"12.{40 + week}", f"14.{20 + week}"] if week % 4 == 0 else ["", "", ""]
        day = f"2023-{3 + week // 4:02}-{1 + 7 * (week % 4):02}"
        rows.append([day, "z1", *filled, "Reed Hall", str(40 + week), "3", f"14.{10 + week}", f"note {week}"])
    return rows


def with_tyres() -> Rows:
    return [[*row, "Tyres" if row[0] == "Date" else "soft"] for row in sheet()]


def with_heading(place: int, heading: str) -> Rows:
    rows = sheet()
    rows[0][place] = heading
    return rows


def corrected_with_tyres() -> Rows:
    rows = with_tyres()
    rows[3][9], rows[5][3] = "pushy", "12.49"
    return rows


@pytest.fixture
def bring(bevelbook: Run, db: Path, tmp_path: Path) -> Callable[..., Outcome]:
    """Import rows as season.csv, or as a sheet with another name."""

    def run(rows: Rows, *options: str, name: str = "season.csv") -> Outcome:
        file = tmp_path / name
        file.write_text("".join(",".join(row) + "\n" for row in rows), encoding="utf-8")
        return bevelbook("--db", db, "import", file, "--no-rejects", *options)

    return run


@pytest.mark.parametrize(
    ("before", "after", "columns", "said"),
    [
        (sheet(), with_tyres(), {"tyres"}, "tyres"),
        (with_heading(6, "Track temp (°C)"), with_heading(6, "Track temp (°F)"), {"track_temp_c"}, "track_temp_c"),
        (with_heading(9, "Blah"), sheet(), {"result_note"}, "result_note"),
        (sheet(), corrected_with_tyres(), {"tyres", "result_note", "dry_mass_g"}, None),
    ],
    ids=["a new column", "another unit", "a heading that is known now", "a new column and two corrected cells"],
)
def test_rows_that_all_have_another_cell_are_asked_about_and_change_the_earlier_ones(
    bring: Callable[..., Outcome], db: Path, before: Rows, after: Rows, columns: set[str], said: str | None
) -> None:
    bring(before)
    ids = asked(db, "SELECT id FROM runs ORDER BY id")
    assert asked(db, COUNTS) == [(3, 12)]
    done = bring(after, "--json").json
    assert (done["added"], done["rejected_by_reason"]) == (0, {"looks_changed": 12})
    assert {one["column"] for row in done["looks_changed"] for one in row["differences"]} == columns
    assert [(row["line"], row["line_before"]) for row in done["looks_changed"]] == [(n, n) for n in range(2, 14)]
    text = bring(after).out
    once = f"12 rows have another {said}; they look like the rows of season.csv."
    assert (once in text) == (said is not None)
    assert asked(db, COUNTS) == [(3, 12)]
    assert bring(after, "--take-changes").code == 0
    assert asked(db, COUNTS) == [(3, 12)]
    assert asked(db, "SELECT id FROM runs ORDER BY id") == ids
    known = bring(after, "--json").json
    assert (known["added"], known["known"]) == (0, 12)


def test_a_column_in_all_rows_and_a_season_of_new_rows_behind_them(bring: Callable[..., Outcome], db: Path) -> None:
    bring(sheet())
    more = [[row[0].replace("2023", "2024"), *row[1:]] for row in with_tyres()[1:]]
    more += [[row[0].replace("2024", "2025"), *row[1:]] for row in more]
    done = bring([*with_tyres(), *more], "--json").json
    assert (done["added"], done["rejected_by_reason"]) == (24, {"looks_changed": 12})


def test_as_new_takes_such_rows_as_new_ones(bring: Callable[..., Outcome], db: Path) -> None:
    bring(sheet())
    assert bring(with_tyres(), "--as-new").code == 0
    assert asked(db, COUNTS) == [(6, 24)]


def test_another_sheet_with_the_name_of_an_earlier_one_comes_in_as_it_is(bring: Callable[..., Outcome]) -> None:
    """Only two of its rows look like rows of the earlier one."""
    bring(sheet())
    other = [[row[0], row[1] if n < 3 else "z2", *row[2:9], f"{row[9]} of z2"] for n, row in enumerate(sheet())]
    other[0] = HEADINGS
    done = bring(other, "--json").json
    assert (done["added"], done["rejected"]) == (12, 0)
