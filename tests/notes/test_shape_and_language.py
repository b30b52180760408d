"""A refused sheet that may have its headings in the first column, or in another language. All cells are invented."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from conftest import empty_database

from bevelbook.notes.bundled_profiles import language_profile
from bevelbook.notes.importing import import_notes
from bevelbook.notes.report import Report
from bevelbook.notes.settings import Settings
from bevelbook.store.opening import open_for_writing

DAYS = "Date,2026-03-01,2026-03-08\nDiff,q1,q1\nWho,ana,ana\nDry (g),12.41,12.40\nWith oil (g),14.27,14.25\nPacks,3,2\n"
FRENCH = "Date,Différentiel,Masse à vide (g),Masse pleine (g),Adhérence\n2026-03-01,q1,12.41,14.27,haut\n"


def brought(path: Path, text: str, settings: Settings) -> Report:
    connection = open_for_writing(empty_database(path / "team.db"))
    try:
        return import_notes(io.BytesIO(text.encode()), "sheet.csv", connection, path / "team.db", settings)
    finally:
        connection.close()


def test_a_sheet_with_a_column_for_each_day_is_asked_about(tmp_path: Path) -> None:
    report = brought(tmp_path, DAYS, Settings())
    assert report.outcome == "rejected"
    assert "one column for each day: --transpose." in str(report.message)
    assert [(one.option.value, one.answers[0].value) for one in report.questions] == [("transpose", "true")]
    assert "\n".join(report.lines()).endswith("a row of notes?\n    --transpose")
    answered = Settings().answered(report.questions[0], "true")
    assert brought(tmp_path, DAYS, answered).accepted == 2


def test_a_refused_sheet_in_another_language_names_its_profile(tmp_path: Path) -> None:
    report = brought(tmp_path, FRENCH, Settings())
    assert report.outcome == "rejected"
    assert "The headings look French: --profile french." in str(report.message)
    assert brought(tmp_path, FRENCH, language_profile("fr")).accepted == 1


@pytest.mark.parametrize("text", ["date,dry,oil in\n2026-03-01,12.41,1.86\n", "date,name,dry\n2026-03-01,ana,12.4\n"])
def test_a_plain_refused_sheet_is_neither(tmp_path: Path, text: str) -> None:
    message = str(brought(tmp_path, text, Settings()).message)
    assert "--transpose" not in message
    assert "--profile" not in message


MIXED = (
    "Date;Diff;Dry;Total;Wer;Strecke;Sonst\n"
    "2026-03-01;q1;12.41;14.27;ana;Halle;blau\n"
    "2026-03-08;q1;12.41;14.2;bo;Feld;rot\n"
)


def test_a_heading_of_another_language_is_asked_with_the_field_that_it_means_there(tmp_path: Path) -> None:
    report = brought(tmp_path, MIXED, Settings())
    report.command = "bevelbook import sheet.csv"
    assert {one.about: [answer.value for answer in one.answers] for one in report.questions} == {
        "Wer": ["builder", "result_note", "ignore"],
        "Strecke": ["venue", "result_note", "ignore"],
        "Sonst": ["result_note", "ignore"],
    }
    lines = [line.strip() for line in report.lines()]
    assert "bevelbook import sheet.csv --map Wer=builder" in lines
    assert "bevelbook import sheet.csv --map Strecke=venue" in lines
    assert lines.count("What else a column may hold: 'bevelbook help import' lists all fields.") == 1
    who, where, _ = report.questions
    answered = brought(tmp_path, MIXED, Settings().answered(who, "builder").answered(where, "venue"))
    assert answered.not_understood == ("Sonst",)


def test_a_field_that_has_a_column_is_not_asked_about_in_another_language(tmp_path: Path) -> None:
    report = brought(tmp_path, MIXED.replace("Sonst", "Who"), Settings())
    assert {one.about: one.answers[0].value for one in report.questions} == {"Wer": "result_note", "Strecke": "venue"}
    assert "lists all fields" not in "\n".join(brought(tmp_path, DAYS, Settings()).lines())
