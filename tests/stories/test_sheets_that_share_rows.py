"""Rows that two sheets have, or that a later state of a sheet changed, are counted once and taken back whole.

All data are constructed.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from canonical import dumped
from conftest import Begin, Outcome

from bevelbook.notes.note_order import NoteOrder

Run = Callable[..., Outcome]
HEAD = "date,diff,dry_mass_g,oil_mass_g,fluid,runs,result_note\n"
GOOD = "2026-05-03,q1,12.4,1.8,house 5k,2,good\n"
MORE = GOOD.replace("good", "good more")
BARE = GOOD.replace("good", "")
NEXT = "2026-05-09,q1,,,,1,\n"


@pytest.fixture
def say(bevelbook: Run, begin: Begin, db: Path) -> Run:
    """Run a command; there is a diff."""

    def run(*words: object) -> Outcome:
        return bevelbook("--db", db, *words)

    begin(run, db, ("record", "diff", "label=q1"))
    return run


@pytest.fixture
def bring(say: Run, tmp_path: Path) -> Run:
    """Import a sheet given as its rows."""

    def run(name: str, rows: str, *options: str) -> Outcome:
        (tmp_path / name).write_text(HEAD + rows, encoding="utf-8")
        return say("import", name, *options)

    return run


def counts(db: Path) -> tuple[int, int]:
    """How many builds and runs there are; nothing points to a record or file that is gone."""
    with closing(sqlite3.connect(db)) as connection:
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        return connection.execute("SELECT (SELECT count(*) FROM builds), (SELECT count(*) FROM runs)").fetchone()


@pytest.mark.parametrize(("first", "second"), [("2", "3"), ("3", "2")])
def test_rows_of_two_sheets_are_gone_once_both_are_taken_back(
    say: Run, bring: Run, db: Path, first: str, second: str
) -> None:
    empty = dumped(db)
    bring("a.csv", GOOD)
    bring("b.csv", GOOD + NEXT)
    both = dumped(db)
    assert say("take-back", first).code == 0
    assert counts(db)[0] == 1
    assert say("take-back", second).code == 0
    assert dumped(db) == empty
    assert say("take-back", "5").code == 0
    assert say("take-back", "4").code == 0
    assert dumped(db) == both


def test_a_shared_row_that_was_changed_by_hand_since_keeps_its_sheet(say: Run, bring: Run, db: Path) -> None:
    bring("a.csv", GOOD)
    bring("b.csv", GOOD + NEXT)
    say("take-back", "2")
    assert say("record", "run", "2026-05-03/1", "laps=7").code == 0
    done = say("take-back", "3")
    assert done.code == 2
    assert "run 2026-05-03/1 was written since by entry 5" in done.err
    assert counts(db) == (1, 2)


def test_the_order_of_rows_of_a_file_that_is_gone_raises_nothing(db: Path, bring: Run) -> None:
    bring("a.csv", GOOD)
    with closing(sqlite3.connect(db)) as connection:
        order = NoteOrder(connection)
        file, line = connection.execute("SELECT note_file, note_line FROM builds").fetchone()
        assert order.of("gone", 2) < order.of(file, line)


@pytest.mark.parametrize("changed", [MORE, BARE])
def test_a_row_that_was_changed_is_known_when_it_comes_in_another_sheet(
    say: Run, bring: Run, db: Path, changed: str
) -> None:
    bring("b.csv", GOOD)
    assert bring("b.csv", changed, "--take-changes").code == 0
    before = dumped(db)
    done = bring("other.csv", changed + NEXT)
    assert "1 row new: 1 run; 1 known already" in done.out
    assert counts(db) == (1, 2)
    assert say("take-back").code == 0
    assert dumped(db) == before


def test_a_row_that_an_earlier_state_of_the_sheet_left_open_is_not_kept_as_its_row(
    say: Run, bring: Run, db: Path
) -> None:
    bring("b.csv", GOOD)
    first = dumped(db)
    assert bring("b.csv", MORE).code == 1
    left_open = dumped(db)
    assert bring("b.csv", MORE + NEXT, "--as-new").code == 0
    assert counts(db) == (2, 3)
    done = say("take-back")
    assert "kept" not in done.out
    assert dumped(db) == left_open
    assert say("take-back", "3").code == 0
    assert dumped(db) == first


def test_a_doubled_row_that_was_left_open_once_is_gone_when_taken_back(say: Run, bring: Run, db: Path) -> None:
    bring("b.csv", GOOD + NEXT)
    bring("b.csv", MORE)
    before = dumped(db)
    bring("b.csv", MORE + MORE)
    assert say("take-back").code == 0
    assert dumped(db) == before


def test_a_weighing_of_another_sheet_is_named_with_its_entry_and_taken_back_with_the_build(
    say: Run, bring: Run, db: Path, tmp_path: Path
) -> None:
    empty = dumped(db)
    bring("a.csv", GOOD)
    (tmp_path / "w.csv").write_text("date,diff,total_mass_g\n2026-05-12,q1,14.1\n", encoding="utf-8")
    say("import", "w.csv")
    done = say("take-back", "2")
    assert done.code == 2
    assert "build q1/1 is used by weighing q1/1#1, 2026-05-12, from entry 3 (import w.csv)" in done.err
    assert "Take back entry 3 first" in done.err
    assert say("take-back", "2", "--and-later", "--yes").code == 0
    assert dumped(db) == empty


def test_a_fluid_that_would_come_back_with_a_sheet_that_is_gone_names_the_sheet_and_the_entry(
    say: Run, bring: Run, db: Path
) -> None:
    bring("a.csv", GOOD)
    say("record", "fluid", "house 5k", "viscosity=5000")
    say("take-back", "3")
    say("record", "diff", "label=q2")
    say("record", "build", "diff=q2", "fluid=house 5k", "built_on=2026-05-20")
    assert say("take-back", "2").code == 0
    done = say("take-back", "4")
    assert done.code == 2
    said = " ".join(done.err.split())
    assert "fluid house 5k would come back with the file a.csv that was removed since by entry 7 (take-back 2)" in said
    assert "Take back entry 7 first" in said
    assert say("take-back", "4", "--and-later", "--yes").code == 0


def test_sheets_that_were_taken_back_one_by_one_come_back_together(say: Run, bring: Run, db: Path) -> None:
    bring("a.csv", GOOD)
    bring("b.csv", GOOD + NEXT)
    before = dumped(db)
    say("take-back", "2")
    say("take-back", "3")
    say("take-back", "4", "--and-later", "--yes")
    assert dumped(db) == before
