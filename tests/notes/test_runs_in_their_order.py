"""Runs of one day with their number in a column: they are placed in that order. Invented data."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

Command = Callable[..., Any]


@pytest.fixture
def placed(bevelbook: Command, db: Path, tmp_path: Path) -> Callable[..., list[tuple[Any, ...]]]:
    """Import rows; the number, the count and the build of each run."""

    def run(*rows: str) -> list[tuple[Any, ...]]:
        path = tmp_path / "sheet.csv"
        path.write_text("\n".join(["date,diff,run no,runs,fluid,oil mass", *rows]) + "\n", encoding="utf-8")
        assert bevelbook("--db", db, "import", path).code == 0
        with closing(sqlite3.connect(db)) as connection:
            return connection.execute(
                "SELECT r.day_order, b.fluid IS NOT NULL, r.runs, f.label FROM runs r JOIN run_diffs x ON x.run = r.id "
                "JOIN builds b ON b.id = x.build LEFT JOIN fluids f ON f.id = b.fluid ORDER BY r.day_order"
            ).fetchall()

    return run


def test_the_numbers_count_not_the_lines(placed: Command) -> None:
    """The oil was changed before the second run, which is written above the first."""
    rows = placed("2026-05-03,K-01,2,3,thin,", "2026-05-03,K-01,1,4,thick,", "2026-05-03,K-01,3,5,,")
    assert rows == [(1, 1, 4.0, "thick"), (2, 1, 3.0, "thin"), (3, 1, 5.0, "thin")]


def test_a_build_between_two_numbered_runs_stays_between_them(placed: Command) -> None:
    rows = placed("2026-05-03,K-01,1,4,thick,1.5", "2026-05-03,K-01,,,thin,1.6", "2026-05-03,K-01,2,3,,")
    assert rows == [(1, 1, 4.0, "thick"), (2, 1, 3.0, "thin")]


def test_a_build_above_the_first_run_comes_before_it(placed: Command) -> None:
    rows = placed("2026-05-03,K-01,,,thick,1.5", "2026-05-03,K-01,1,4,,", "2026-05-03,K-01,2,3,,")
    assert rows == [(1, 1, 4.0, "thick"), (2, 1, 3.0, "thick")]
