"""Copies of a book that can be read and holds something wrong: said, never in the place of a good copy in silence."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import datetime
from pathlib import Path

import pytest

from bevelbook.backup.bring_back import bring_back
from bevelbook.backup.dated_copy import make_copy
from bevelbook.declare.errors import DatabaseError
from bevelbook.records import BY_NAME
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

AT = datetime(2026, 5, 24, 18, 32)
ENDLESS = "UPDATE scales SET step_g = 9e999"
NO_HISTORY = "DELETE FROM history"
ORPHANS = "DELETE FROM people"


@pytest.fixture
def settings(tmp_path: Path) -> Path:
    return tmp_path / "settings"


@pytest.fixture
def book(db: Path) -> Path:
    """A person, a scale and an idea of that person, which was changed once."""
    with closing(open_for_writing(db)) as connection:
        with transaction(connection, db, by="ana"):
            writer = Writer(connection, "ana")
            ana = writer.insert(BY_NAME["person"], {"name": "ana"})
            writer.insert(BY_NAME["scale"], {"name": "bench", "step_g": 0.01})
            writer.insert(BY_NAME["idea"], {"text": "softer", "person": ana}, row_id="one")
        with transaction(connection, db, by="ana"):
            Writer(connection, "ana").update(BY_NAME["idea"], "one", {"text": "harder"})
    return db


def spoil(path: Path, sql: str) -> None:
    """As a program does that puts checks, references and triggers aside."""
    with closing(sqlite3.connect(path)) as connection, connection:
        for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            connection.execute(f'DROP TRIGGER "{name}"')
        connection.execute("PRAGMA ignore_check_constraints = ON")
        connection.execute(sql)


@pytest.mark.parametrize(
    ("sql", "faults", "said"),
    [
        (ENDLESS, (1, 0, 0), "1 value does not belong where it is"),
        (ORPHANS, (0, 1, 0), "1 row refers to something that is gone"),
        (NO_HISTORY, (0, 0, 1), "the past of 1 record does not hang together"),
    ],
)
def test_a_copy_of_it_says_so_and_takes_the_place_of_no_good_one(
    book: Path, settings: Path, sql: str, faults: tuple[int, int, int], said: str
) -> None:
    good = make_copy(book, settings, now=AT)
    assert not good.faults.are_any
    spoil(book, sql)
    made = make_copy(book, settings, keep=1, now=AT)
    assert tuple(made.faults) == faults
    assert said in list(made.faults.words())
    assert (made.removed, good.path.exists()) == ((), True)
    done = bring_back(book, made.path, settings, now=AT)
    assert tuple(done.faults) == faults
    assert done.kept is not None
    assert not bring_back(book, good.path, settings, now=AT).faults.are_any


def test_a_book_that_lacks_a_table_gives_no_copy_and_its_copy_never_comes_back(book: Path, settings: Path) -> None:
    good = make_copy(book, settings, now=AT)
    held = book.read_bytes()
    spoil(book, "DROP TABLE limits")
    with pytest.raises(DatabaseError, match="the table limits is missing"):
        make_copy(book, settings, keep=1, now=AT)
    spoilt = book.with_name("spoilt.db")
    book.rename(spoilt)
    book.write_bytes(held)
    with pytest.raises(DatabaseError, match="this copy is damaged"):
        bring_back(book, spoilt, settings, now=AT)
    assert book.read_bytes() == held
    assert good.path.exists()
