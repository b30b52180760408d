"""A file with the headings of a kept one is read as that was, as far as that may hold for it. Names are invented."""

from __future__ import annotations

import io
import sqlite3
from pathlib import Path

import pytest

from bevelbook.notes.bundled_profiles import language_profile
from bevelbook.notes.importing import import_notes
from bevelbook.notes.last_time import last_time
from bevelbook.notes.settings import Settings

TEXT = "date;diff;dry mass;track temp;Zeug\n03/04/2026;K-01;12,5;40;x\n"
SAID = Settings(
    decimal=",",
    date_order="dmy",
    units={"track_temp_c": "°F"},
    columns={"zeug": "ignore", "elsewhere": "result_note"},
    allow_out_of_range=True,
)


def keep(database: sqlite3.Connection, path: Path, text: str, settings: Settings, name: str = "april.csv") -> None:
    report = import_notes(io.BytesIO(text.encode()), name, database, path, settings)
    assert report.outcome == "accepted", report.message


def test_what_was_said_of_the_headings_holds_for_the_next_file(database: sqlite3.Connection, path: Path) -> None:
    keep(database, path, TEXT, SAID)
    found = last_time(database, io.BytesIO(TEXT.replace("03/04", "05/06").encode()), "may.csv")
    assert found is not None
    assert found.called == "april.csv"
    assert (found.settings.decimal, found.settings.date_order) == (",", "dmy")
    assert not found.settings.allow_out_of_range, "said of the values of one file"
    assert found.words() == [
        "the decimal mark is the comma",
        "in a date the day comes first",
        '"zeug" is left out',
        "the track temp is in °F",
        "its columns: date, diff, dry mass, track temp",
    ]


@pytest.mark.parametrize(
    ("text", "name"),
    [
        (TEXT.replace("Zeug", "Kram"), "may.csv"),
        (TEXT.replace(";Zeug", "").replace(";x", ""), "may.csv"),
        (TEXT, "april.rejected.csv"),
        ("nothing\n", "may.csv"),
        ("\0\1\2", "may.csv"),
    ],
)
def test_other_headings_and_rejected_rows_are_read_by_themselves(
    database: sqlite3.Connection, path: Path, text: str, name: str
) -> None:
    keep(database, path, TEXT, SAID)
    assert last_time(database, io.BytesIO(text.encode()), name) is None


@pytest.mark.parametrize(
    "settings",
    [Settings(constants={"venue": "Tannery Hall"}), Settings(lines="1-2"), Settings(encoding="utf-8"), Settings()],
)
def test_what_was_said_of_one_file_alone_is_not_offered(
    database: sqlite3.Connection, path: Path, settings: Settings
) -> None:
    text = "date,diff,dry mass,oil mass\n2026-04-03,K-01,12.5,2.1\n"
    keep(database, path, text, settings)
    assert last_time(database, io.BytesIO(text.encode()), "may.csv") is None


def test_the_newest_of_several_counts(database: sqlite3.Connection, path: Path) -> None:
    text = "date,diff,dry mass,track temp\n2026-04-03,K-01,12.5,40\n"
    keep(database, path, text, Settings(temp_unit="F"))
    keep(database, path, text.replace("04-03", "05-03"), Settings(temp_unit="C"), "may.csv")
    found = last_time(database, io.BytesIO(text.encode()), "june.csv")
    assert found is not None
    said = ["temperatures are in °C", "its columns: date, diff, dry mass, track temp"]
    assert (found.called, found.words()) == ("may.csv", said)


def test_of_a_language_its_name_is_said_and_not_all_of_its_words(database: sqlite3.Connection, path: Path) -> None:
    """The words are those of the bundled German profile, and one of the team's own."""
    german = language_profile("de")
    words = {**german.words, "grip": {"klebt": "high", "naja": "medium", "glatt": "low", "wie eis": "low"}}
    own = Settings(date_order="dmy", columns={"kram": "ignore"}).over(german)._replace(words=words)
    text = "Datum;Differential;Leergewicht;Ölmenge;Grip;Kram\n03.04.2026;K-01;12,5;2,1;klebt;x\n"
    keep(database, path, text, own)
    found = last_time(database, io.BytesIO(text.replace("03.04", "05.04").encode()), "may.csv")
    assert found is not None
    assert found.words() == [
        "the headings are German",
        "the decimal mark is the comma",
        "in a date the day comes first",
        '"kram" is left out',
        'in the grip "klebt" is high, "naja" is medium, "glatt" is low and 1 more',
        "its columns: date, diff, dry mass, oil mass, grip",
    ]
