"""One value for a whole file, and cells that mean the cell above. Invented data."""

from __future__ import annotations

import csv
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

Command = Callable[..., Any]
HEADING = "date,builder,dry mass,oil mass,grip"


@pytest.fixture
def bring(bevelbook: Command, db: Path, tmp_path: Path) -> Callable[..., Any]:
    """Import a text with options."""

    def run(text: str, *options: str, name: str = "sheet.csv") -> Any:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return bevelbook("--db", db, "import", path, "--json", *options)

    return run


def shown(db: Path, *columns: str) -> list[tuple[Any, ...]]:
    with closing(sqlite3.connect(db)) as connection:
        return connection.execute(f"SELECT {', '.join(columns)} FROM imported_notes ORDER BY line").fetchall()


def test_one_value_for_the_whole_file(bring: Command, db: Path) -> None:
    text = f"{HEADING}\n2026-05-03,ana,9.52,1.5,high\n2026-05-04,bo,,,low\n"
    assert bring(text).json["file_reason"] == "missing_required"
    done = bring(text, "--set", "diff=K-01", "--set", "track temp=59 °F")
    assert (done.code, done.json["accepted"], done.json["warnings"]) == (0, 2, [])
    assert shown(db, "line", "diff", "track_temp_c", "builder") == [(2, "K-01", 15.0, "ana"), (3, "K-01", 15.0, "bo")]
    assert bring(text, "--set", "diff=K-01", "--set", "track temp=59 °F").json["added"] == 0


def test_a_value_for_the_whole_file_is_part_of_how_it_is_read_again(
    bring: Command, bevelbook: Command, db: Path
) -> None:
    bring(f"{HEADING}\n2026-05-03,ana,9.52,1.5,high\n", "--set", "diff=K-01")
    with closing(sqlite3.connect(db)) as connection:
        (options,) = connection.execute("SELECT options FROM note_files").fetchone()
    assert options == '{"constants": {"diff": "K-01"}}'
    again = bevelbook("--db", db, "import", "--again", "sheet.csv", "--set", "diff=K-02", "--yes")
    assert again.code == 0
    assert shown(db, "diff") == [("K-02",)]


def test_rows_are_reported_as_they_are_in_the_file(bring: Command, db: Path, tmp_path: Path) -> None:
    """A value for all rows hides no sum, no blank row and no repeated heading, and moves no cell of a rejected row."""
    lines = (
        *(HEADING, "2026-05-03,ana,9.52,1.5,high", "total,,9.52,1.5,", ",,,,", "", HEADING),
        *("2026-05-04,bo,x,1.5,", "2026-05-05,cy,9.5,1.5,low,and more", "2026-05-06,dee", "2026-05-07,ana,9.6,1.5,"),
    )
    done = bring("\n".join(lines) + "\n", "--set", "diff=K-01")
    assert (done.code, done.json["accepted"], done.json["rejected"], done.json["skipped"]) == (1, 2, 3, 4)
    found = {one["line"]: (one["reason"], one["words"] or "") for one in done.json["rejects"]}
    assert {line: reason for line, (reason, _) in found.items()} == {
        7: "number_unparseable",
        8: "too_many_fields",
        9: "too_few_fields",
    }
    assert found[8][1].startswith("6 fields, and the heading has 5.")
    assert found[9][1].startswith("2 fields, and the heading has 5.")
    with (tmp_path / "sheet.rejected.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file))
    assert rows[0] == [*HEADING.split(","), "diff", "line", "reason", "column"]
    assert rows[1][:7] == ["2026-05-04", "bo", "x", "1.5", "", "K-01", "7"]
    rows[1][2] = "9.5"
    corrected = "\n".join(",".join(row) for row in ([*rows[0]], [*rows[1][:7], "", ""]))
    assert bring(corrected + "\n", name="sheet.rejected.csv").json["accepted"] == 1


def test_a_column_that_the_file_has_is_not_given_once_more(bring: Command) -> None:
    done = bring("date,unit,oil mass\n2026-05-03,K-01,1.5\n", "--set", "diff=K-02")
    assert (done.code, done.json["file_reason"]) == (2, "option_misfit")
    assert "--set: the file has that column itself" in done.json["message"]
    done = bring("date,unit,oil mass\n2026-05-03,K-01,1.5\n", "--as-above", "builder")
    assert (done.code, done.json["file_reason"]) == (2, "option_misfit")


@pytest.mark.parametrize("words", ["diff", "diff=", "=K-01", "dif=K-01"])
def test_what_is_set_needs_a_column_and_a_value(bring: Command, words: str) -> None:
    done = bring("date,oil mass\n2026-05-03,1.5\n", "--set", words)
    assert done.code == 2
    assert "--set" in done.err


def test_blank_cells_and_ditto_marks_take_the_cell_above(bring: Command, db: Path) -> None:
    text = 'date,builder,diff,oil mass\n2026-05-03,ana,K-01,1.5\n,,K-02,1.6\n\'\',〃,K-03,1.7\n2026-05-10,,"""",1.8\n'
    refused = bring(text)
    assert refused.json["rejected"] == 3
    done = bring(text, "--as-above", "date,builder,diff", name="other.csv")
    assert (done.code, done.json["accepted"]) == (0, 4)
    assert "filled_from_above:date, builder, diff in 3 rows" in done.json["warnings"]
    assert shown(db, "date", "builder", "diff", "oil_mass_g")[1:] == [
        ("2026-05-03", "ana", "K-02", 1.6),
        ("2026-05-03", "ana", "K-03", 1.7),
        ("2026-05-10", "ana", "K-03", 1.8),
    ]


def test_nothing_is_taken_from_a_sum_or_over_a_repeated_heading(bring: Command, db: Path) -> None:
    heading = "date,builder,diff,oil mass"
    text = (
        f"{heading}\n2026-05-03,ana,K-01,1.5\ntotal,,,1.5\n,,K-02,1.6\n{heading}\n,,K-03,1.7\n2026-05-09,Max,K-04,1.8\n"
    )
    done = bring(text, "--as-above", "date,builder")
    assert [(one["line"], one["reason"]) for one in done.json["rejects"]] == [(6, "missing_required")]
    assert done.json["skipped"] == 2
    assert shown(db, "date", "builder", "diff") == [
        ("2026-05-03", "ana", "K-01"),
        ("2026-05-03", "ana", "K-02"),
        ("2026-05-09", "Max", "K-04"),
    ]


def test_a_profile_holds_both(bring: Command, bevelbook: Command, db: Path, tmp_path: Path) -> None:
    profile = tmp_path / "team.yaml"
    profile.write_text('set:\n  unit: "K-01"\noptions:\n  as_above: "date, builder"\n', encoding="utf-8")
    done = bring(f"{HEADING}\n2026-05-03,ana,9.52,1.5,\n,,9.50,1.5,\n", "--profile", str(profile))
    assert (done.code, done.json["accepted"]) == (0, 2)
    assert shown(db, "date", "builder", "diff")[1] == ("2026-05-03", "ana", "K-01")
    written = tmp_path / "written.yaml"
    given = ("--set", "diff=K-01", "--as-above", "date,builder", "--write-profile", written)
    assert bevelbook("--db", db, "import", tmp_path / "sheet.csv", *given).code == 0
    text = written.read_text(encoding="utf-8")
    assert '\nset:\n  diff: "K-01"\n' in text
    assert '\n  as_above: "date,builder"\n' in text
    assert '"diff": "diff"' not in text
    assert bring(f"{HEADING}\n2026-06-03,ana,9.52,1.5,\n", "--profile", str(written), name="next.csv").code == 0
    profile.write_text('set:\n  dif: "K-01"\n', encoding="utf-8")
    done = bring(f"{HEADING}\n2026-06-04,ana,9.52,1.5,\n", "--profile", str(profile))
    assert (done.code, "line 2" in done.err) == (2, True)
