"""Taking back files that were read again, and kept results that follow. All data are constructed.

Seal swell: outside diameters of 8.00 mm new and 8.11 mm used, (8.11 / 8)^3 - 1 = 4.2 %, and 8.60 mm, 24 %, over the
15 % at which a seal on a shaft is not put back.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from asked import asked
from canonical import dumped
from conftest import Outcome
from released import released

from bevelbook.notes import held_rows
from bevelbook.records import BY_NAME
from bevelbook.store.entry_contents import EntryBook
from bevelbook.store.lookup import label_of
from bevelbook.store.opening import open_for_writing
from bevelbook.store.record_names import with_kind
from bevelbook.taking_back.words import named_by_content, record_words

Run = Callable[..., Outcome]
TEXT = "date,diff,dry_mass_g,oil_mass_g,viscosity_cst,grip\n03/02/2024,a,9.5,1.5,500,high\n2024-02-14,a,,,600,grippy\n"


@pytest.fixture
def say(bevelbook: Run, db: Path) -> Run:
    """Run a command as ana."""
    return lambda *words: bevelbook("--db", db, "--by", "ana", *words)


def test_a_file_read_again_is_as_it_was_read_before(say: Run, db: Path, tmp_path: Path) -> None:
    empty = dumped(db)
    (tmp_path / "notes.csv").write_text(TEXT, encoding="utf-8")
    (tmp_path / "ours.yaml").write_text(
        'words: {grip: {"grippy": "high"}}\noptions: {date_order: "dmy"}\n', encoding="utf-8"
    )
    assert say("import", "notes.csv", "--date-order", "mdy").code == 1
    before = dumped(db)
    assert say("import", "--again", "notes.csv", "--profile", "ours.yaml", "--yes").code == 0
    again = dumped(db)
    refused = say("take-back", "1")
    assert refused.code == 2
    assert "entry 2 of ana (import --again notes.csv" in refused.err
    taken = say("take-back")
    assert "put back the earlier reading of notes.csv" in taken.out
    assert dumped(db) == before
    assert say("take-back", "3").code == 0
    assert dumped(db) == again
    assert say("take-back", "4").code == 0
    assert say("take-back", "1").code == 0
    assert dumped(db) == empty


def test_the_same_file_imported_once_more_is_no_entry_and_the_first_is_taken_back(
    say: Run, db: Path, tmp_path: Path
) -> None:
    (tmp_path / "notes.csv").write_text(TEXT, encoding="utf-8")
    empty = dumped(db)
    say("import", "notes.csv", "--date-order", "mdy")
    before = dumped(db)
    say("import", "notes.csv", "--date-order", "mdy")
    assert dumped(db) == before
    assert say("take-back").code == 0
    assert dumped(db) == empty


def test_rows_that_another_imported_file_has_are_said_to_stay(say: Run, db: Path, tmp_path: Path) -> None:
    rows = "date,diff,dry mass\n2026-04-03,K-01,12.5\n"
    (tmp_path / "part.csv").write_text(rows, encoding="utf-8")
    (tmp_path / "whole.csv").write_text(f"{rows}2026-04-04,K-02,12.6\n", encoding="utf-8")
    say("import", "part.csv")
    say("import", "whole.csv")
    words = " ".join(say("take-back", "1", "--dry-run").out.split())
    assert "kept 1 record of these rows: another imported file has the same rows, and it has that file now" in words


def test_a_kept_file_with_settings_is_read_with_them_to_see_which_rows_it_holds(
    say: Run, db: Path, tmp_path: Path
) -> None:
    (tmp_path / "notes.csv").write_text(TEXT, encoding="utf-8")
    (tmp_path / "copy.csv").write_text(TEXT + "2024-03-20,a,9.6,1.5,500,low\n", encoding="utf-8")
    say("import", "notes.csv", "--date-order", "mdy")
    say("import", "copy.csv", "--date-order", "mdy")
    with closing(sqlite3.connect(db)) as connection:
        connection.row_factory = sqlite3.Row
        (first, last) = (row[0] for row in connection.execute("SELECT id FROM note_files ORDER BY read_at"))
        held = held_rows.held_by_others(connection, [first])
        own = {row[0] for row in connection.execute("SELECT id FROM builds WHERE note_file = ?", (first,))}
    assert {row_id for table, row_id in held if table == "builds"} >= own
    assert set(held.values()) == {(last, 2), (last, 4)}


@pytest.fixture
def fitted(say: Run) -> None:
    say("record", "diff", "label=rear-a")
    say("record", "seal", "label=shaft ring", "outside_diameter=8.00", "material=NBR")
    say("record", "build", "diff=rear-a", "built_on=2026-05-01")
    found = ("measured_outside_diameter=8.11", "place=case-side shaft", "condition=used")
    assert say("record", "seal-fitting", "build=rear-a/1", "seal=shaft ring", *found).code == 0


SWELL = "SELECT verdict FROM latest_calculations WHERE calculator = 'seal-swell'"


@pytest.mark.usefixtures("fitted")
def test_a_result_that_the_tool_keeps_up_goes_with_its_record_and_comes_back(say: Run, db: Path) -> None:
    assert asked(db, SWELL) == [("ok",)]
    before = dumped(db)
    assert say("take-back").code == 0
    assert asked(db, "SELECT count(*) FROM calculations") == [(0,)]
    assert say("take-back", "5").code == 0
    assert dumped(db) == before


@pytest.mark.usefixtures("fitted")
def test_a_result_that_a_later_entry_kept_up_follows_what_is_taken_back(say: Run, db: Path) -> None:
    """The ring measures 8.60 mm, and then something else about it is written, which keeps a result of its own."""
    assert say("record", "seal-fitting", "rear-a/1 case-side shaft", "measured_outside_diameter=8.60").code == 0
    assert asked(db, SWELL) == [("stop",)]
    assert say("record", "seal", "shaft ring", "hardness=70").code == 0
    assert say("take-back", "5").code == 0
    assert asked(db, SWELL) == [("ok",)]


def test_an_import_taken_back_and_forth_is_there_or_not(say: Run, db: Path, tmp_path: Path) -> None:
    without = dumped(db)
    (tmp_path / "notes.csv").write_text(TEXT, encoding="utf-8")
    say("import", "notes.csv", "--date-order", "mdy")
    there = dumped(db)
    for number, wanted in enumerate((without, there, without, there), start=1):
        assert say("take-back", number).code == 0
        assert dumped(db) == wanted


def test_an_entry_read_alone_is_as_in_the_book_of_all(say: Run, db: Path, tmp_path: Path) -> None:
    """An import and a record, taken back and forth: the same entries that wrote the same."""
    (tmp_path / "notes.csv").write_text(TEXT, encoding="utf-8")
    say("import", "notes.csv", "--date-order", "mdy")
    say("record", "venue", "name=Brickfield")
    for number in (2, 3, 4, 1):
        say("take-back", number)
    with closing(open_for_writing(db)) as connection:
        book = EntryBook(connection)
        assert [one.took_back is not None for one in book.all].count(True) >= 3
        for one in book.all:
            alone = EntryBook(connection)
            found = alone.alone(one.id)
            assert found == one._replace(number=0)
            assert found is not None
            assert alone.contents_of(found) == book.contents_of(one)
        assert book.alone("nobody") is None


def test_a_changed_row_that_was_taken_is_as_it_was_in_the_sheet_before(say: Run, db: Path, tmp_path: Path) -> None:
    rows = ["2024-03-01,a,9.5,1.5,500,high", "2024-03-08,a,9.6,1.5,600,low", "2024-03-15,a,9.7,1.5,700,low"]
    heading = TEXT.splitlines()[0]
    (tmp_path / "notes.csv").write_text("\n".join((heading, *rows, "")), encoding="utf-8")
    assert say("import", "notes.csv").code == 0
    before = dumped(db)
    rows[1] = "2024-03-08,a,9.6,1.6,600,medium"
    (tmp_path / "notes.csv").write_text("\n".join((heading, *rows, "")), encoding="utf-8")
    assert say("import", "notes.csv", "--take-changes").code == 0
    assert asked(db, "SELECT oil_mass_g FROM builds WHERE built_on = '2024-03-08'") == [(1.6,)]
    after = dumped(db)
    assert "entry 2 of ana (import notes.csv --take-changes)" in say("take-back", "1").err
    assert say("take-back").code == 0
    assert dumped(db) == before
    assert say("take-back", "3").code == 0
    assert dumped(db) == after


def test_a_twin_of_a_changed_row_taken_as_new_is_taken_back(say: Run, db: Path, tmp_path: Path) -> None:
    """The story of a row that came in twice since its remark was completed."""
    text = "date,diff,dry_mass_g,oil_mass_g,runs,result_note\n2024-03-01,a,9.5,1.5,2,new rings\n"
    (tmp_path / "notes.csv").write_text(text, encoding="utf-8")
    say("import", "notes.csv")
    before = dumped(db)
    (tmp_path / "notes.csv").write_text(text.replace("rings", "rings both sides"), encoding="utf-8")
    assert say("import", "notes.csv", "--as-new").code == 0
    assert asked(db, "SELECT count(*) FROM builds") == [(2,)]
    assert say("take-back").code == 0
    assert dumped(db) == before


def test_a_name_from_notes_that_a_later_record_uses_stays_without_the_file(say: Run, db: Path, tmp_path: Path) -> None:
    (tmp_path / "notes.csv").write_text(TEXT.replace("03/02", "2024-03-02,a,,,,\n03/02", 1), encoding="utf-8")
    say("import", "notes.csv", "--date-order", "mdy")
    assert say("record", "build", "diff=a", "built_on=2026-05-01", "dry_mass=9.4").code == 0
    before = dumped(db)
    assert say("take-back", "1").code == 0
    assert asked(db, "SELECT label, note_file, note_line FROM diffs") == [("a", None, None)]
    assert asked(db, "SELECT built_on FROM builds") == [("2026-05-01",)]
    assert asked(db, "SELECT count(*) FROM note_files") == [(0,)]
    assert say("take-back", "3").code == 0
    assert dumped(db) == before


def test_a_weighing_without_its_build_is_named_by_the_build_that_it_was_of(say: Run, db: Path) -> None:
    for words in (
        ("diff", "label=rear-a"),
        ("build", "diff=rear-a", "built_on=2026-05-01", "dry_mass=12.42", "oil_mass=1.86"),
        ("weighing", "build=rear-a", "weighed_on=2026-05-02", "mass=14.27"),
    ):
        assert say("record", *words).code == 0
    with closing(open_for_writing(db)) as connection:
        ((weighing,),) = connection.execute("SELECT id FROM weighings").fetchall()
        assert record_words(connection, BY_NAME["weighing"], weighing) == "weighing rear-a/1#1, 2026-05-02"
        connection.execute("PRAGMA foreign_keys = OFF")
        connection.execute("BEGIN")
        connection.execute("DELETE FROM builds")
        assert (
            with_kind(BY_NAME["weighing"], label_of(connection, BY_NAME["weighing"], weighing)).count("weighing") == 1
        )
        assert named_by_content(connection, BY_NAME["weighing"], weighing) == "weighing of rear-a/1 2026-05-02"
        connection.rollback()


def test_the_entry_of_an_upgrade_is_nobodys_to_take_back(bevelbook: Run, tmp_path: Path) -> None:
    old = released(tmp_path / "old.db")
    assert bevelbook("--db", old, "record", "diff", "label=z9").code == 0
    assert bevelbook("--db", old, "take-back").code == 0
    done = bevelbook("--db", old, "take-back")
    assert done.code == 2
    assert "there is nothing to take back" in done.err


def test_cells_beside_a_row_are_written_as_they_were(say: Run, db: Path, tmp_path: Path) -> None:
    head = "date,diff,dry_mass_g,oil_mass_g,fluid,runs,call,result_note\n"
    row = "2026-05-04,q1,,,house 7k,1,,\n"
    (tmp_path / "a.csv").write_text(head + "2026-05-03,q1,12.4,1.8,house 7k,1,,\n" + row, encoding="utf-8")
    (tmp_path / "b.csv").write_text(head + row, encoding="utf-8")
    say("import", "b.csv")
    first = dumped(db)
    say("import", "a.csv")
    assert any('{"fluid":"house 7k"}' in text for (text,) in asked(db, "SELECT cells FROM note_extras"))
    assert say("take-back").code == 0
    assert dumped(db) == first
