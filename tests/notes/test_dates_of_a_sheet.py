"""Dates of a sheet from the file to the database: profiles with months, a year that is said, what is asked. The sheets
are invented."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

from bevelbook.notes.settings import Settings

Run = Callable[..., Any]


def sheet(folder: Path, *cells: str) -> str:
    rows = (f"{cell};K-0{place};1.{30 + place}" for place, cell in enumerate(cells))
    (folder / "notes.csv").write_text("\n".join(("Datum;diff;oil_mass_g", *rows, "")), encoding="utf-8")
    return "notes.csv"


def days(rows: list[dict[str, Any]]) -> list[str]:
    return [row["values"]["date"] if row["status"] == "accepted" else row["reason"] for row in rows]


def test_months_of_a_profile_are_read_beside_the_english_ones(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    """Long and medium forms of de, fr, es and it in CLDR 45 (from memory): "14. Februar 2024", "14 févr. 2024",
    "14 de febrero de 2024", "14 feb 2024"."""
    (tmp_path / "ours.yaml").write_text(
        'columns: {"Datum": "date"}\nmonths: {"Februar": 2, "Févr.": 2, "febrero": 2, "Mär.": 3, "feb": 2}\n',
        encoding="utf-8",
    )
    cells = ("14. Februar 2024", "14 févr. 2024", "14 de febrero de 2024", "14 feb 2024", "3. Mär. 2024", "14 mai 2024")
    file = sheet(tmp_path, *cells)
    done = bevelbook("--db", db, "import", file, "--profile", "ours.yaml", "--json", "--rows")
    assert days(done.json["rows"]) == ["2024-02-14"] * 4 + ["2024-03-03", "date_unparseable"]
    fresh = tmp_path / "fresh.db"
    refused = bevelbook("--db", fresh, "import", file, "--map", "Datum=date", "--json", "--rows", "--dry-run")
    assert days(refused.json["rows"]).count("date_unparseable") == 5, "English alone without a profile"


def test_a_year_that_is_said_is_kept_with_the_file_and_can_be_in_a_profile(
    bevelbook: Run, db: Path, tmp_path: Path
) -> None:
    file = sheet(tmp_path, "14.02.", "30 Nov", "3/4", "14/2")
    asked = bevelbook("--db", db, "import", file, "--map", "Datum=date", "--json", "--rows", "--dry-run")
    assert days(asked.json["rows"]) == ["date_incomplete"] * 4
    (question,) = asked.json["questions"]
    assert (question["option"], question["samples"]) == ("year", ["14.02.", "30 Nov", "3/4"])
    words = bevelbook("--db", db, "import", file, "--map", "Datum=date", "--dry-run").out
    assert "--year YEAR" in words
    done = bevelbook("--db", db, "import", file, "--map", "Datum=date", "--year", "2024", "--json", "--rows")
    assert days(done.json["rows"]) == ["2024-02-14", "2024-11-30", "2024-04-03", "2024-02-14"]
    with sqlite3.connect(db) as connection:
        ((kept,),) = connection.execute("SELECT options FROM note_files")
    connection.close()
    assert json.loads(kept)["year"] == 2024
    assert Settings(**json.loads(kept)).reading_options().year == 2024
    (tmp_path / "ours.yaml").write_text('columns: {"Datum": "date"}\noptions: {year: 2023}\n', encoding="utf-8")
    fresh = tmp_path / "fresh.db"
    done = bevelbook("--db", fresh, "import", file, "--profile", "ours.yaml", "--json", "--rows", "--dry-run")
    assert days(done.json["rows"])[0] == "2023-02-14"


def test_what_is_said_of_months_and_the_year_is_written_into_a_profile(
    bevelbook: Run, db: Path, tmp_path: Path
) -> None:
    (tmp_path / "ours.yaml").write_text(
        'columns: {"Datum": "date"}\nmonths: {"Februar": 2}\noptions: {year: 2023}\n', encoding="utf-8"
    )
    file = sheet(tmp_path, "14. Februar")
    assert bevelbook("--db", db, "import", file, "--profile", "ours.yaml", "--write-profile", "new.yaml").code == 0
    done = bevelbook("--db", db, "import", file, "--profile", "new.yaml", "--json", "--rows")
    assert days(done.json["rows"]) == ["2023-02-14"]


def test_an_ambiguous_column_asks_in_the_report_for_programs(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    file = sheet(tmp_path, "03/02/2024", "04/03/2024")
    done = bevelbook("--db", db, "import", file, "--map", "Datum=date", "--json", "--dry-run")
    (question,) = done.json["questions"]
    assert question == {
        "option": "date_order",
        "words": "What is first in the dates of Datum: the day or the month?",
        "answers": [
            {"value": "dmy", "words": "the day: 03/02/2024 is 2024-02-03"},
            {"value": "mdy", "words": "the month: 03/02/2024 is 2024-03-02"},
        ],
        "about": "Datum",
        "samples": ["03/02/2024", "04/03/2024"],
        "is_needed": True,
        "may_be_none": False,
    }
