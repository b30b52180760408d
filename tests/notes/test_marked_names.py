"""Names that an earlier version kept with marks that nobody sees or in quotes. All names are invented."""

from __future__ import annotations

import io
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from released import all_rows, released

from bevelbook.notes import columns
from bevelbook.notes.decoding import unpacked
from bevelbook.notes.importing import import_notes
from bevelbook.notes.report import Report
from bevelbook.notes.reread import revise
from bevelbook.notes.settings import Settings
from bevelbook.reading import read_text
from bevelbook.records import BY_NAME
from bevelbook.store.lookup import find_id
from bevelbook.store.opening import open_for_writing

SHEET = """date,builder,diff,oil_mass_g,result_note
2026-04-06,ana,K-01\u200f,1.35,fine
2026-04-07,“bo”,"=""007\""",1.36,ok
2026-04-08,cy,K-02,1.37,
2026-04-09,cy,K-01\u200f,1.38,
"""
SETTINGS = Settings(today="2026-06-30")


def bring(database: sqlite3.Connection, path: Path, sheet: str) -> Report:
    return import_notes(io.BytesIO(sheet.encode()), "notes.csv", database, path, SETTINGS)


@pytest.fixture
def old(database: sqlite3.Connection, path: Path, monkeypatch: pytest.MonkeyPatch) -> sqlite3.Connection:
    """A database whose names were read like remarks, as version 0.1.0 did."""
    with monkeypatch.context() as patched:
        patched.setattr(columns, "read_label", lambda _field, text: read_text(text))
        assert bring(database, path, SHEET).added == 4
    labels = {row[0] for row in database.execute("SELECT label FROM diffs")}
    assert labels == {"K-01\u200f", '="007"', "K-02"}
    return database


def test_the_same_sheet_adds_nothing(old: sqlite3.Connection, path: Path) -> None:
    report = bring(old, path, SHEET)
    assert (report.added, report.known) == (0, 4)


def test_a_grown_sheet_adds_its_new_rows_to_the_diff_that_is_there(old: sqlite3.Connection, path: Path) -> None:
    report = bring(old, path, f"{SHEET}2026-04-10,cy,K-01,1.39,new\n")
    assert (report.added, report.known) == (1, 4)
    assert old.execute("SELECT count(*) FROM diffs").fetchone()[0] == 3
    found = old.execute("SELECT count(DISTINCT diff) FROM builds WHERE oil_mass_g IN (1.35, 1.38, 1.39)").fetchone()
    assert found[0] == 1


def test_reading_the_kept_sheet_again_changes_nothing(old: sqlite3.Connection, path: Path) -> None:
    assert revise(old, path, "notes.csv", SETTINGS, by=None).is_empty


def test_its_records_are_found_by_the_name_as_it_is_read_now(old: sqlite3.Connection) -> None:
    for typed, kept in (("K-01", "K-01\u200f"), ("007", '="007"'), ("“K-01”", "K-01\u200f"), ("k-02", "K-02")):
        assert find_id(old, BY_NAME["diff"], typed) == find_id(old, BY_NAME["diff"], kept)
    last = old.execute("SELECT id FROM builds WHERE oil_mass_g = 1.38").fetchone()[0]
    assert find_id(old, BY_NAME["build"], "K-01") == last
    assert find_id(old, BY_NAME["person"], "bo") == find_id(old, BY_NAME["person"], "“bo”")


def test_a_sheet_of_a_released_version_without_such_marks_gives_the_same_rows(tmp_path: Path) -> None:
    path = released(tmp_path / "team.db")
    with closing(open_for_writing(path)) as connection:
        [(name, packed)] = connection.execute(
            "SELECT f.name, b.packed FROM note_files f JOIN note_bytes b ON b.sha256 = f.sha256"
        ).fetchall()
    before = all_rows(path)
    with closing(open_for_writing(path)) as connection:
        sheet = io.BytesIO(unpacked(packed))
        report = import_notes(sheet, name, connection, path, Settings(today="2026-11-25"))
    assert report.accepted > 3
    assert (report.added, report.known) == (0, report.accepted)
    tables = ("builds", "weighings", "runs", "run_diffs", "diffs", "people", "fluids", "venues")
    assert {key: row for key, row in all_rows(path).items() if key[0] in tables} == {
        key: row for key, row in before.items() if key[0] in tables
    }
