"""A weekend sent as one file: by the commands, with and without the files that belong to it. All names are invented."""

from __future__ import annotations

import sqlite3
import zipfile
from contextlib import closing
from hashlib import sha256
from pathlib import Path

import pytest
from conftest import Begin, Outcome
from exported import Run, bytes_of
from photographed import picture

from bevelbook.interchange.export_words import size_in_words
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.web.pages.photo import photo_page_of

SHEET = """date,diff,oil,oil mass,runs
2026-05-02,rear-a,house 7k,2.31,3
not a date,rear-a,house 7k,2.35,2
"""
LONG_AGO = "2020-01-01"


@pytest.fixture
def bo(bevelbook: Run, begin: Begin, tmp_path: Path) -> Path:
    """Bo's database: a sheet that was brought in with a row that was rejected, and a photograph."""
    (tmp_path / "sheet.csv").write_text(SHEET, encoding="utf-8")
    (tmp_path / "groove.jpg").write_bytes(picture())
    by = ("--db", tmp_path / "bo.db", "--by", "bo")
    begin(bevelbook, tmp_path / "bo.db", ("--db", tmp_path / "bo.db", "new"))
    for words, code in (
        (("record", "person", "name=bo"), 0),
        (("import", "sheet.csv"), 1),
        (("record", "photo", "--file", "groove.jpg", "build=rear-a/1", "piece=outdrive"), 0),
    ):
        assert bevelbook(*by, *words).code == code
    return tmp_path / "bo.db"


@pytest.fixture
def anna(bevelbook: Run, tmp_path: Path) -> Path:
    """Anna's database, empty."""
    assert bevelbook("--db", tmp_path / "anna.db", "new").code == 0
    return tmp_path / "anna.db"


def sent(bevelbook: Run, db: Path, *more: object, since: str = LONG_AGO) -> Outcome:
    return bevelbook("--db", db, "export", "--since", since, *more, "weekend.zip")


def merged(bevelbook: Run, db: Path, other: object) -> Outcome:
    outcome = bevelbook("--db", db, "merge", other)
    assert outcome.code == 0, outcome.err
    return outcome


def test_what_goes_is_said_before_the_file_is_there_and_its_size_after(
    bevelbook: Run, bo: Path, tmp_path: Path
) -> None:
    outcome = sent(bevelbook, bo)
    size = size_in_words((tmp_path / "weekend.zip").stat().st_size)
    first, *_, last = outcome.out.splitlines()
    assert first.startswith("Since 1 Jan 2020: 1 build, 1 run, ")
    assert "1 photograph" in first
    assert "The names in it: bo." in outcome.out
    assert "1 photograph without its picture: a whole export brings it." in outcome.out
    assert "1 file of notes: what was read of it goes, not the file itself." in outcome.out
    assert f"Wrote weekend.zip, {size}: small enough for a chat." in " ".join(outcome.out.split())
    assert "bevelbook merge weekend.zip" in last
    refused = sent(bevelbook, bo)
    assert refused.code == 2
    assert "--replace" in refused.err
    before = (tmp_path / "weekend.zip").read_bytes()
    assert sent(bevelbook, bo, "--replace").code == 0
    assert (tmp_path / "weekend.zip").read_bytes() == before, "the same content gives the same bytes"


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("--since", "3/4/26", "weekend.zip"), "two readings are possible"),
        (("--since", "friday", "weekend.zip"), "not a date"),
        (("--since", "2099-01-01", "weekend.zip"), "later than today"),
        (("--since", "2026-05-01", "weekend"), "name it weekend.zip"),
        (("--since", "2026-05-01"), "--since takes one file"),
        (("--since", "2026-05-01", "--table", "runs", "weekend.zip"), "--since takes one file"),
        (("--with-files", "season"), "--with-files goes with --since"),
    ],
)
def test_what_cannot_be_meant_is_refused(bevelbook: Run, anna: Path, words: tuple[str, ...], why: str) -> None:
    outcome = bevelbook("--db", anna, "export", *words)
    assert outcome.code == 2
    assert why in outcome.err
    assert not (anna.parent / "weekend.zip").exists()


def test_where_nothing_was_touched_no_file_is_written(bevelbook: Run, bo: Path, tmp_path: Path) -> None:
    with closing(sqlite3.connect(bo)) as connection:
        connection.execute("UPDATE entries SET made_at = '2020' || substr(made_at, 5)")
        connection.execute("UPDATE history SET replaced_at = '2020' || substr(replaced_at, 5)")
        connection.commit()
    outcome = sent(bevelbook, bo, since="2024-01-01")
    assert outcome.code == 0
    assert "Nothing was written down since 1 Jan 2024." in outcome.out
    assert not (tmp_path / "weekend.zip").exists()


def test_with_its_files_a_weekend_is_all_that_there_is(bevelbook: Run, bo: Path, anna: Path, tmp_path: Path) -> None:
    sent(bevelbook, bo, "--with-files")
    merged(bevelbook, anna, "weekend.zip")
    checked = bevelbook("--db", anna, "check", "--json").json
    assert (checked["faults"], checked["elsewhere"]) == ([], [])
    for db in (bo, anna):
        assert bevelbook("--db", db, "export", tmp_path / f"of-{db.stem}").code == 0
    assert bytes_of(tmp_path / "of-bo") == bytes_of(tmp_path / "of-anna")


def test_without_its_files_all_else_is_there_and_they_come_later(
    bevelbook: Run, bo: Path, anna: Path, tmp_path: Path
) -> None:
    """Nothing that needs the file itself breaks; what it would need is said, and with whom it is."""
    sent(bevelbook, bo)
    with zipfile.ZipFile(tmp_path / "weekend.zip") as archive:
        assert not [one for one in archive.namelist() if one.startswith(("files/", "pictures/"))]
    merged(bevelbook, anna, "weekend.zip")
    checked = bevelbook("--db", anna, "check", "--json").json
    assert checked["faults"] == []
    assert [one.partition(". ")[0] for one in checked["elsewhere"]] == [
        "1 photograph (rear-a/1 outdrive) has its picture with bo, not here",
        "1 file of notes (sheet.csv) is with bo; what was read is here",
    ]
    assert "Not here" in bevelbook("--db", anna, "check").out
    again = bevelbook("--db", anna, "import", "--again", "sheet.csv", "--dry-run", "--json")
    assert (again.code, again.json["code"]) == (2, "file_not_here")
    assert "it is with bo" in again.err
    saved = bevelbook("--db", anna, "record", "photo", "rear-a/1 outdrive", "--save-as", "out.jpg", "--json")
    assert saved.json["code"] == "file_not_here"
    with closing(open_for_reading(anna)) as connection:
        ((photo,),) = connection.execute("SELECT id FROM photos").fetchall()
        assert photo_page_of(connection, photo).photo.with_whom == "bo"

    (tmp_path / "other.csv").write_text(SHEET.replace("2026-05-02", "2026-05-09"), encoding="utf-8")
    assert bevelbook("--db", anna, "--by", "anna", "import", "other.csv").code == 1
    assert bevelbook("--db", anna, "--by", "anna", "take-back").code == 0

    assert bevelbook("--db", anna, "export", tmp_path / "without").code == 0
    kept = sha256((tmp_path / "other.csv").read_bytes()).hexdigest()
    assert [one for one in bytes_of(tmp_path / "without") if "/" in one] == [f"files/{kept}"]
    assert bevelbook("--db", tmp_path / "cy.db", "new").code == 0
    merged(bevelbook, tmp_path / "cy.db", tmp_path / "without")
    assert bevelbook("--db", tmp_path / "cy.db", "check", "--json").json["faults"] == []

    assert bevelbook("--db", bo, "export", tmp_path / "whole").code == 0
    for db in (anna, tmp_path / "cy.db"):
        merged(bevelbook, db, tmp_path / "whole")
        checked = bevelbook("--db", db, "check", "--json").json
        assert (checked["faults"], checked["elsewhere"]) == ([], [])
    assert bevelbook("--db", anna, "import", "--again", "sheet.csv", "--dry-run").code in (0, 1)


def test_bytes_that_another_program_removed_are_still_a_fault(bevelbook: Run, bo: Path) -> None:
    with closing(sqlite3.connect(bo)) as connection:
        connection.execute("DELETE FROM note_bytes")
        connection.execute("DELETE FROM picture_bytes")
        connection.commit()
    checked = bevelbook("--db", bo, "check", "--json").json
    assert checked["elsewhere"] == []
    assert any("the file of notes sheet.csv is not kept any more" in one for one in checked["faults"])
    assert any("shows a picture that another program changed or removed" in one for one in checked["faults"])


def test_whether_rows_are_also_in_a_file_that_is_not_here_is_not_guessed(
    bevelbook: Run, bo: Path, anna: Path, tmp_path: Path
) -> None:
    """Bo's file had a row more than came of it: it may be a row of another file as well."""
    sent(bevelbook, bo)
    merged(bevelbook, anna, "weekend.zip")
    (tmp_path / "other.csv").write_text(SHEET.replace("2026-05-02", "2026-05-09"), encoding="utf-8")
    assert bevelbook("--db", anna, "--by", "anna", "import", "other.csv").code == 1
    with closing(sqlite3.connect(anna)) as connection:
        connection.execute("UPDATE note_files SET accepted = accepted + 1 WHERE name = 'sheet.csv'")
        connection.commit()
    refused = bevelbook("--db", anna, "--by", "anna", "take-back", "--json")
    assert (refused.code, refused.json["code"]) == (2, "file_not_here")
    assert "it is with bo" in refused.err
