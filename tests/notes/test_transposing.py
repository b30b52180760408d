"""A sheet with one column a race day, read column by column. Invented data."""

from __future__ import annotations

import csv
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from bevelbook.notes import transposing

Command = Callable[..., Any]
SHEET = """date;2026-05-03;2026-05-10;2026-05-17
diff;K-01;K-01;K-02
dry mass;19,4;;19,x
oil mass;1,5;;1,5
runs;3;4;
result note;calm;"loose
on entry";
"""


@pytest.fixture
def bring(bevelbook: Command, db: Path, tmp_path: Path) -> Callable[..., Any]:
    def run(text: str, *options: str, name: str = "days.csv") -> Any:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return bevelbook("--db", db, "import", path, "--json", *options)

    return run


def shown(db: Path) -> list[tuple[Any, ...]]:
    with closing(sqlite3.connect(db)) as connection:
        return connection.execute(
            "SELECT line, date, diff, dry_mass_g, runs, result_note FROM imported_notes ORDER BY line"
        ).fetchall()


def test_columns_are_read_as_rows(bring: Command, bevelbook: Command, db: Path, tmp_path: Path) -> None:
    assert bring(SHEET).code == 2
    done = bring(SHEET, "--transpose")
    assert (done.code, done.json["read"], done.json["accepted"], done.json["rejected"]) == (1, 3, 2, 1)
    assert [(one["line"], one["column"], one["value"]) for one in done.json["rejects"]] == [(4, "dry_mass_g", "19,x")]
    held = [(2, "2026-05-03", "K-01", 19.4, 3.0, "calm"), (3, "2026-05-10", "K-01", None, 4.0, "loose on entry")]
    assert shown(db) == held
    assert bring(SHEET, "--transpose").json["added"] == 0
    assert "No record changes" in bevelbook("--db", db, "import", "--again", "days.csv", "--transpose").out
    with (tmp_path / "days.rejected.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file))
    assert rows[1][:4] == ["2026-05-17", "K-02", "19,x", "1,5"]
    corrected = (tmp_path / "days.rejected.csv").read_text(encoding="utf-8-sig").replace("19,x", "19,3", 1)
    assert bring(corrected, name="days.rejected.csv").json["accepted"] == 1


def test_a_profile_may_say_it(bring: Command, db: Path, tmp_path: Path) -> None:
    profile = tmp_path / "team.yaml"
    profile.write_text("options:\n  transpose: true\nset:\n  diff: K-07\n", encoding="utf-8")
    done = bring("date\t2026-05-03\t2026-05-10\noil mass\t1.5\t1.6\n", "--profile", str(profile))
    assert (done.code, [row[:3] for row in shown(db)]) == (0, [(2, "2026-05-03", "K-07"), (3, "2026-05-10", "K-07")])


@pytest.mark.parametrize(
    ("text", "options", "reason"),
    [
        (SHEET, ("--transpose", "--lines", "1-3"), "option_misfit"),
        ("one\ntwo\n", ("--transpose",), "no_heading"),
        ('date;"2026-05-03\ndiff;K-01\n', ("--transpose",), "unterminated_quote"),
    ],
)
def test_what_cannot_be_read_so_is_refused(bring: Command, text: str, options: tuple[str, ...], reason: str) -> None:
    done = bring(text, *options)
    assert (done.code, done.json["file_reason"]) == (2, reason)


def test_a_long_cell_is_read_column_by_column_too(bring: Command, db: Path) -> None:
    done = bring(SHEET.replace("calm", "c" * 200_000), "--transpose")
    assert done.json["accepted"] == 2
    assert len(shown(db)[0][-1]) == 200_000


def test_a_long_file_is_refused(bring: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(transposing, "LARGEST_BYTES", 50)
    assert bring(SHEET, "--transpose").json["file_reason"] == "option_misfit"
