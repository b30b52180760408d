"""Kept files and pictures whose bytes another program spoiled, where books meet in which something was erased: nobody
erased them, so they go nowhere, and a book that has them whole puts them right. All data are constructed.

What was kept is known by its hash, SHA-256 (FIPS 180-4); the tests take it from Python's hashlib, of the file that they
wrote themselves.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path

import pytest
from asked import asked
from clashing import copy_of
from conftest import Begin, Outcome
from photographed import picture
from spoiled_by_others import spoil

Run = Callable[..., Outcome]

_WHOLE = b"date,diff,oil mass (g),note\n2026-05-03,rear-a,1.85,with Bertil\n2026-05-10,rear-a,1.90,\n"
_NAME = sha256(_WHOLE).hexdigest()
_SPOILED = {
    "not packed": b"\0",
    "another file": zlib.compress(b"day,who\n2026-05-03,Zed\n"),
    "end is gone": zlib.compress(_WHOLE)[:-6],
}


@pytest.fixture
def book(bevelbook: Run, begin: Begin, db: Path, tmp_path: Path) -> Path:
    """A book with a sheet of notes and a photograph, in which the name Zed was erased."""
    (tmp_path / "sheet.csv").write_bytes(_WHOLE)
    (tmp_path / "gear.jpg").write_bytes(picture())
    begin(
        bevelbook,
        db,
        ("--db", db, "import", tmp_path / "sheet.csv", "--yes", "--no-rejects"),
        ("--db", db, "record", "photo", "--file", tmp_path / "gear.jpg", "build=rear-a/1", "piece=outdrive"),
        ("--db", db, "record", "person", "name=Zed"),
        ("--db", db, "erase", "person", "Zed", "--yes"),
    )
    assert [row[0] for row in asked(db, "SELECT sha256 FROM note_bytes")] == [_NAME]
    return db


def _sheet(book: Path) -> list[bytes]:
    return [zlib.decompress(row[0]) for row in asked(book, "SELECT packed FROM note_bytes")]


@pytest.mark.parametrize("packed", _SPOILED.values(), ids=_SPOILED.keys())
def test_a_spoiled_file_is_put_right_and_erases_nothing(bevelbook: Run, book: Path, packed: bytes) -> None:
    sound, whole = copy_of(book, "sound"), copy_of(book, "whole")
    spoil(book, f"UPDATE note_bytes SET packed = x'{packed.hex()}'")
    marks = asked(whole, "SELECT * FROM erasures ORDER BY id")
    met = bevelbook("--db", book, "merge", sound)
    assert met.code == 0, met.err
    said = " ".join(met.out.split())
    assert "Put right by it, spoiled here and whole there: 1 kept file." in said
    assert "Erased by it" not in said and _sheet(book) == [_WHOLE]
    assert asked(book, "SELECT * FROM erasures ORDER BY id") == marks
    met = bevelbook("--db", sound, "merge", book)
    assert met.code == 0 and "Erased by it" not in met.out, met.err
    assert _sheet(sound) == [_WHOLE] and asked(sound, "SELECT * FROM erasures ORDER BY id") == marks
    for one in (book, sound):
        assert bevelbook("--db", one, "check", "--deep").code == 0


def test_a_spoiled_picture_is_put_right(bevelbook: Run, book: Path) -> None:
    sound = copy_of(book, "sound")
    spoil(book, "UPDATE picture_bytes SET jpeg = x'ffd8'")
    met = bevelbook("--db", book, "merge", sound)
    assert met.code == 0 and "Put right by it" in met.out, met.err
    assert [sha256(jpeg).hexdigest() for (jpeg,) in asked(book, "SELECT jpeg FROM picture_bytes")] == [
        name for (name,) in asked(sound, "SELECT sha256 FROM picture_bytes")
    ]


def test_a_spoiled_file_stays_where_nobody_has_it_whole_and_the_check_names_it(bevelbook: Run, book: Path) -> None:
    spoil(book, "UPDATE note_bytes SET packed = x'00'")
    bevelbook("--db", book, "record", "person", "name=Quill")
    erased = bevelbook("--db", book, "erase", "person", "Quill", "--yes")
    assert erased.code == 0, erased.err
    assert "The kept file sheet.csv is not what was kept" in " ".join(erased.out.split())
    assert asked(book, "SELECT packed FROM note_bytes") == [(b"\0",)]
    assert asked(book, "SELECT 1 FROM erasures WHERE what = 'file'") == []
    checked = bevelbook("--db", book, "check", "--deep")
    assert checked.code == 1 and f"the kept file {_NAME[:16]} is not what was kept" in " ".join(checked.out.split())


def test_a_name_that_stands_in_the_whole_file_goes_when_books_meet(bevelbook: Run, book: Path) -> None:
    sound = copy_of(book, "sound")
    spoil(book, "UPDATE note_bytes SET packed = x'00'")
    bevelbook("--db", book, "record", "person", "name=Bertil")
    assert bevelbook("--db", book, "erase", "person", "Bertil", "--yes").code == 0
    met = bevelbook("--db", book, "merge", sound)
    assert met.code == 0, met.err
    for one, other in ((book, sound), (sound, book)):
        assert bevelbook("--db", one, "merge", other).code == 0
        assert _sheet(one) == []
        assert asked(one, "SELECT row_id FROM erasures WHERE what = 'file'") == [(_NAME,)]
