"""Rows of notes that are rejected, corrected, rejected once more in the file of corrected rows, and taken at last: a
row is closed in all its files, or in none. All data are constructed."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from asked import asked
from clashing import copy_of
from conftest import Outcome

from bevelbook.reports.questions import rejected_rows

Run = Callable[..., Outcome]
Bring = Callable[..., Outcome]

HEAD = "date,diff,dry_mass_g,oil_mass_g,viscosity_cst,grip\n"
FIRST = "2026-03-01,q1,12.41,1.86,5000,high\n"
WRONG = "2026-03-,q1,12.40,1.86,many,high\n"
NOTES = HEAD + FIRST + WRONG
CLOSED = "  1 rejected row is closed by another file.\n"
NOTHING_LEFT = "nothing is left to correct there.\n"


@pytest.fixture
def bring(bevelbook: Run, db: Path, tmp_path: Path) -> Bring:
    """Import a sheet given as its text."""

    def run(name: str, text: str, *options: str, into: Path = db) -> Outcome:
        (tmp_path / name).write_text(text, encoding="utf-8")
        return bevelbook("--db", into, "import", name, *options)

    return run


@pytest.fixture
def mend(bring: Bring, tmp_path: Path) -> Bring:
    """Correct the file of the rejected rows of a file, and import it under another name."""

    def run(of: str, name: str, *changes: tuple[str, str], into: Path | None = None) -> Outcome:
        text = (tmp_path / of.replace(".csv", ".rejected.csv")).read_text(encoding="utf-8-sig")
        for wrong, right in changes:
            assert wrong in text
            text = text.replace(wrong, right)
        return bring(name, text, **({} if into is None else {"into": into}))

    return run


def waiting(db: Path) -> int:
    """How many rejected rows the check counts."""
    with closing(sqlite3.connect(db)) as connection:
        return rejected_rows(connection)


def said(bevelbook: Run, db: Path, name: str = "notes.csv") -> dict[str, Any]:
    """What an import of a file that is there already says of its rejected rows."""
    found: dict[str, Any] = json.loads(bevelbook("--db", db, "import", name, "--json").out)
    return {key: found[key] for key in ("rejected", "closed_since", "rejected_again")}


def open_in(file: str) -> dict[str, Any]:
    return {"rejected": 1, "closed_since": 0, "rejected_again": [{"rows": 1, "file": file}]}


ALL_CLOSED = {"rejected": 1, "closed_since": 1, "rejected_again": []}


@pytest.fixture
def twice(bring: Bring, mend: Bring) -> None:
    """The day is mended, and the viscosity too, but is still wrong: so the row has neither the day nor the cells that
    it had, and its file is called after nothing."""
    assert bring("notes.csv", NOTES).code == 1
    assert mend("notes.csv", "corrected.csv", ("2026-03-,", "2026-03-08,"), (",many,", ",much,")).code == 1


@pytest.mark.usefixtures("twice")
def test_a_row_rejected_once_more_is_open_there_and_closed_nowhere(bevelbook: Run, db: Path) -> None:
    assert waiting(db) == 1
    assert said(bevelbook, db) == open_in("corrected.csv")
    done = bevelbook("--db", db, "import", "notes.csv")
    assert "  1 row was rejected once more in corrected.csv: correct it there.\n" in done.out
    assert "closed" not in done.out
    assert NOTHING_LEFT in done.out
    assert waiting(db) == 1


@pytest.mark.usefixtures("twice")
def test_a_row_taken_at_last_is_closed_all_the_way_back(bevelbook: Run, mend: Bring, db: Path) -> None:
    done = mend("corrected.csv", "last.csv", (",much,", ",7000,"))
    assert (done.code, "  closes 1 rejected row of corrected.csv\n" in done.out) == (0, True)
    for name in ("notes.csv", "corrected.csv"):
        done = bevelbook("--db", db, "import", name)
        assert (CLOSED in done.out, NOTHING_LEFT in done.out) == (True, True), done.out
    assert waiting(db) == 0
    assert "rejected" not in bevelbook("--db", db, "check").out


@pytest.mark.usefixtures("twice")
def test_taking_the_last_file_back_opens_the_row_in_all(bevelbook: Run, mend: Bring, db: Path) -> None:
    mend("corrected.csv", "last.csv", (",much,", ",7000,"))
    assert said(bevelbook, db) == ALL_CLOSED
    assert bevelbook("--db", db, "take-back", "3").code == 0
    assert waiting(db) == 1
    assert said(bevelbook, db) == open_in("corrected.csv")
    assert "closed" not in bevelbook("--db", db, "import", "corrected.csv").out


@pytest.mark.usefixtures("twice")
def test_a_row_stays_closed_when_a_file_between_is_taken_back(bevelbook: Run, mend: Bring, db: Path) -> None:
    mend("corrected.csv", "last.csv", (",much,", ",7000,"))
    assert bevelbook("--db", db, "take-back", "2").code == 0
    assert waiting(db) == 0
    assert said(bevelbook, db) == ALL_CLOSED
    assert bevelbook("--db", db, "take-back", "4").code == 0
    assert said(bevelbook, db) == said(bevelbook, db, "corrected.csv") == ALL_CLOSED
    assert bevelbook("--db", db, "take-back", "3").code == 0
    assert waiting(db) == 1
    assert said(bevelbook, db) == open_in("corrected.csv")


@pytest.mark.usefixtures("twice")
def test_three_steps(bevelbook: Run, mend: Bring, db: Path) -> None:
    assert mend("corrected.csv", "third.csv", (",much,", ",lots,"), (",q1,", ",q2,")).code == 1
    assert waiting(db) == 1
    for name in ("notes.csv", "corrected.csv"):
        assert said(bevelbook, db, name) == open_in("third.csv")
    assert mend("third.csv", "last.csv", (",lots,", ",7000,")).code == 0
    assert waiting(db) == 0
    for name in ("notes.csv", "corrected.csv", "third.csv"):
        assert said(bevelbook, db, name) == ALL_CLOSED


@pytest.mark.usefixtures("twice")
def test_it_is_the_same_after_a_rebuild_and_where_two_books_meet(bevelbook: Run, mend: Bring, db: Path) -> None:
    bo, cy = copy_of(db, "bo"), copy_of(db, "cy")
    mend("corrected.csv", "last.csv", (",much,", ",7000,"), into=bo)
    bevelbook("--db", bo, "check", "--rebuild")
    assert said(bevelbook, bo) == ALL_CLOSED
    assert bevelbook("--db", db, "merge", bo).code == 0
    assert bevelbook("--db", bo, "merge", cy).code == 0
    for path in (db, bo):
        assert waiting(path) == 0
        assert said(bevelbook, path) == ALL_CLOSED
        assert said(bevelbook, path, "corrected.csv") == ALL_CLOSED
    assert bevelbook("--db", bo, "take-back", "3").code == 0
    assert bevelbook("--db", db, "merge", bo).code == 0
    for path in (db, bo):
        assert waiting(path) == 1
        assert said(bevelbook, path) == open_in("corrected.csv")


@pytest.mark.usefixtures("twice")
@pytest.mark.parametrize("how", ["in its file of rejected rows", "in the sheet itself"])
def test_a_row_mended_as_it_was_first_is_closed_where_it_was_rejected_once_more(
    bevelbook: Run, bring: Bring, mend: Bring, db: Path, how: str
) -> None:
    mended = (("2026-03-,", "2026-03-08,"), (",many,", ",7000,"))
    if how == "in the sheet itself":
        done = bring("notes.csv", NOTES.replace(*mended[0]).replace(*mended[1]))
    else:
        done = mend("notes.csv", "other.csv", *mended)
    assert (done.code, "  closes 1 rejected row of notes.csv\n" in done.out) == (0, True), done.out
    assert waiting(db) == 0
    assert said(bevelbook, db, "corrected.csv") == ALL_CLOSED


@pytest.mark.usefixtures("twice")
def test_a_row_that_the_sheet_still_has_as_it_was_waits_where_it_was_mended_most(
    bevelbook: Run, bring: Bring, mend: Bring, db: Path
) -> None:
    done = bring("notes.csv", NOTES + "2026-03-20,q1,,,,low\n")
    assert "  1 row was rejected once more in corrected.csv: correct it there.\n" in done.out
    assert waiting(db) == 1
    mend("corrected.csv", "last.csv", (",much,", ",7000,"))
    assert waiting(db) == 0
    assert CLOSED in bring("notes.csv", NOTES + "2026-03-20,q1,,,,low\n2026-03-21,q1,,,,low\n").out
    assert waiting(db) == 0


def test_a_row_that_its_sheet_has_right_when_it_is_read_again_is_closed_elsewhere_too(
    bevelbook: Run, bring: Bring, mend: Bring, db: Path
) -> None:
    """A profile settles the word in the sheet; in the file of rejected rows it was changed to another that is wrong."""
    notes = NOTES.replace(WRONG, "2026-03-08,q1,12.40,1.86,7000,sticky\n")
    assert bring("notes.csv", notes).code == 1
    assert mend("notes.csv", "corrected.csv", (",sticky,", ",gluey,")).code == 1
    (db.parent / "ours.yaml").write_text("words:\n  grip:\n    sticky: high\n", encoding="utf-8")
    done = bevelbook("--db", db, "import", "notes.csv", "--profile", "ours.yaml")
    assert (done.code, "  closes 1 rejected row of corrected.csv\n" in done.out) == (0, True), done.out
    assert waiting(db) == 0


def test_two_states_of_a_sheet_imported_in_turn_leave_its_row_open_once(bevelbook: Run, bring: Bring, db: Path) -> None:
    later = NOTES + "2026-03-20,q1,,,,low\n"
    for text in (NOTES, later, NOTES, later):
        bring("notes.csv", text)
        assert waiting(db) == 1


def test_a_row_known_by_its_reason_closes_the_one_that_is_most_alike(bring: Bring, mend: Bring, db: Path) -> None:
    """Two sheets have a row on that line with that fault; the one whose row was mended before stays closed alone."""
    bring("notes.csv", NOTES)
    bring("other.csv", NOTES.replace("12.40", "13.50").replace("q1", "q9"))
    changes = (("2026-03-,", "2026-03-08,"), (",many,", ",7000,"))
    for name in ("mended.csv", "once more.csv"):
        mend("notes.csv", name, *changes, *([("high,3", "high ,3")] if name == "once more.csv" else []))
        open_files = "SELECT f.name FROM note_rejects r JOIN note_files f ON f.id = r.note_file WHERE closed_by IS NULL"
        assert asked(db, open_files) == [("other.csv",)]


def test_a_book_of_before_is_put_right_when_its_sheet_is_imported_again(
    bevelbook: Run, bring: Bring, mend: Bring, db: Path, twice: None
) -> None:
    """Versions before this one left the first row open under a name that says nothing of its sheet."""
    mend("corrected.csv", "last.csv", (",much,", ",7000,"))
    with closing(sqlite3.connect(db)) as connection, connection:
        connection.execute("UPDATE note_rejects SET closed_by = NULL, closed_line = NULL WHERE line = 3")
    assert waiting(db) == 1
    assert said(bevelbook, db) == ALL_CLOSED
    assert waiting(db) == 0


def test_a_sheet_read_again_with_an_answer_closes_its_row_in_the_other_file(
    bevelbook: Run, bring: Bring, mend: Bring, db: Path
) -> None:
    """Of two rejected rows one is mended in the file of them; the other, of two dates, is settled for the sheet."""
    bring("notes.csv", HEAD + "2026-03-01,q1,1241,1.86,5000,high\n03/04/2026,q1,12.41,1.84,5000,high\n")
    assert mend("notes.csv", "notes.rejected.csv", (",1241,", ",12.41,")).code == 1
    assert waiting(db) == 1
    done = bevelbook("--db", db, "import", "--again", "notes.csv", "--date-order", "dmy")
    assert "  closes 1 rejected row of notes.rejected.csv\n" in done.out
    assert waiting(db) == 0
    assert asked(db, "SELECT built_on FROM builds ORDER BY built_on") == [("2026-03-01",), ("2026-04-03",)]
    assert bevelbook("--db", db, "import", "notes.csv", "--json").json["added"] == 0
    assert waiting(db) == 0
