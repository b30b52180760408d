"""A copy in the place of a database: what is kept, and what is refused. All data are invented."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from datetime import datetime
from pathlib import Path

import pytest
from backup.test_dated_copy import beside, ideas_in, mode_of, wrote
from browser_team import site_over
from conftest import empty_database

from bevelbook.backup.bring_back import bring_back
from bevelbook.backup.dated_copy import make_copy
from bevelbook.declare.errors import BevelbookError
from bevelbook.plugin.registry import Registry
from bevelbook.store.last_step import LAST_STEP
from bevelbook.store.opening import back_up, open_for_writing

AT = datetime(2026, 5, 24, 18, 32)
KEPT = "team.before-bring-back-2026-05-24-1832.db"


@pytest.fixture
def settings(tmp_path: Path) -> Path:
    return tmp_path / "settings"


@pytest.fixture
def copy(db: Path, settings: Path) -> Path:
    """A copy with one idea, of a book that has two by now."""
    wrote(db, "in the copy")
    made = make_copy(db, settings, now=AT)
    wrote(db, "since")
    return made.path


def refused(db: Path, copy: Path, settings: Path) -> BevelbookError:
    before, files = db.read_bytes() if db.exists() else b"", beside(db)
    with pytest.raises(BevelbookError) as caught:
        bring_back(db, copy, settings, now=AT)
    assert (db.read_bytes() if db.exists() else b"", beside(db)) == (before, files), "nothing was changed"
    return caught.value


def test_the_copy_is_in_its_place_and_the_database_is_kept(db: Path, copy: Path, settings: Path) -> None:
    db.chmod(0o640)
    done = bring_back(db, copy, settings, now=AT)
    assert done.kept == db.with_name(KEPT)
    assert (ideas_in(db), ideas_in(done.kept), ideas_in(copy)) == (
        ["in the copy"],
        ["in the copy", "since"],
        ["in the copy"],
    )
    assert mode_of(db) == 0o640, "who shared the book with a group still does"
    wrote(db, "goes on")
    back = bring_back(db, done.kept, settings, now=AT)
    assert ideas_in(db) == ["in the copy", "since"]
    assert back.kept is not None
    assert back.kept.name == KEPT.replace("1832", "1832-2")


def test_what_was_not_in_the_file_yet_is_kept_with_it(db: Path, copy: Path, settings: Path) -> None:
    """A program was killed: what it wrote last is in the file beside (-wal)."""
    with closing(open_for_writing(db)) as connection:
        connection.execute("PRAGMA wal_autocheckpoint = 0")
        connection.execute("UPDATE ideas SET text = 'in the log' WHERE text = 'since'")
        held = {end: db.with_name(f"{db.name}{end}").read_bytes() for end in ("", "-wal")}
    for end, content in held.items():
        db.with_name(f"{db.name}{end}").write_bytes(content)
    assert held["-wal"]
    done = bring_back(db, copy, settings, now=AT)
    assert done.kept is not None
    assert ideas_in(done.kept) == ["in the copy", "in the log"]
    assert ideas_in(db) == ["in the copy"]


@pytest.mark.parametrize("damage", ["head", "page"])
def test_a_damaged_database_is_kept_as_it_is(db: Path, copy: Path, settings: Path, damage: str) -> None:
    whole = bytearray(db.read_bytes())
    whole[0 if damage == "head" else 100 : 300] = b"\xff" * (300 if damage == "head" else 200)
    for end in ("-wal", "-shm"):
        db.with_name(f"{db.name}{end}").unlink(missing_ok=True)
    db.write_bytes(whole)
    db.with_name(f"{db.name}-wal").write_bytes(b"left over")
    done = bring_back(db, copy, settings, now=AT)
    assert (done.was_damaged, ideas_in(db)) == (True, ["in the copy"])
    assert done.kept is not None
    assert done.kept.read_bytes() == bytes(whole)
    assert done.kept.with_name(f"{done.kept.name}-wal").read_bytes() == b"left over", "it never meets the new one"


def test_a_missing_database_comes_back(db: Path, copy: Path, settings: Path) -> None:
    for end in ("", "-wal", "-shm"):
        db.with_name(f"{db.name}{end}").unlink(missing_ok=True)
    assert bring_back(db, copy, settings).kept is None
    assert ideas_in(db) == ["in the copy"]


def test_a_copy_of_before_a_merge_comes_back_too(db: Path, copy: Path, settings: Path) -> None:
    with closing(open_for_writing(db)) as connection:
        before = back_up(connection, db.with_name("team.before-merge.db"))
    assert mode_of(before) == 0o600
    wrote(db, "after the merge")
    bring_back(db, before, settings)
    assert ideas_in(db) == ["in the copy", "since"]


def test_another_book_only_where_that_is_said(db: Path, copy: Path, settings: Path, tmp_path: Path) -> None:
    (tmp_path / "other").mkdir()
    other = empty_database(tmp_path / "other" / "team.db")
    wrote(other, "of others")
    theirs = make_copy(other, settings).path
    assert refused(db, theirs, settings).code == "other_book"
    bring_back(db, theirs, settings, other_book=True)
    assert ideas_in(db) == ["of others"]


def test_a_damaged_copy_is_refused_and_whole_ones_are_named(db: Path, copy: Path, settings: Path) -> None:
    wrote(db, *(f"idea {number} {'long ' * 400}" for number in range(20)))
    damaged = make_copy(db, settings, now=AT.replace(hour=20)).path
    whole = bytearray(damaged.read_bytes())
    whole[len(whole) // 2 : len(whole) // 2 + 20_000] = b"\xff" * 20_000
    damaged.write_bytes(whole)
    fault = refused(db, damaged, settings)
    assert (fault.code, copy.name in str(fault), f"{damaged.name} of" in str(fault)) == ("copy_damaged", True, False)


@pytest.mark.parametrize("damage", ["cut", "head", "list of tables"])
def test_a_copy_that_cannot_even_be_opened_names_a_whole_one(db: Path, copy: Path, settings: Path, damage: str) -> None:
    damaged = make_copy(db, settings, now=AT.replace(hour=20)).path
    content = damaged.read_bytes()
    damaged.write_bytes(
        {
            "cut": content[:40_000],
            "head": bytes(512) + content[512:],
            "list of tables": content[:112] + b"\xff" * 3000 + content[3112:],
        }[damage]
    )
    fault = refused(db, damaged, settings)
    assert (fault.code, copy.name in str(fault)) == ("copy_damaged", True)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_what_is_no_file_is_refused_at_once(db: Path, settings: Path) -> None:
    pipe = db.with_name("pipe.db")
    os.mkfifo(pipe)
    assert refused(db, pipe, settings).code == "not_readable"


def test_a_newer_copy_no_copy_and_the_database_itself_are_refused(db: Path, copy: Path, settings: Path) -> None:
    assert refused(db, db, settings).code == "same_file"
    assert refused(db, db.with_name("none.db"), settings).code == "no_database"
    with closing(sqlite3.connect(copy)) as connection:
        connection.execute(f"PRAGMA user_version = {LAST_STEP + 1}")
    assert refused(db, copy, settings).code == "database_newer"


def test_while_it_is_served_nothing_moves(db: Path, copy: Path, settings: Path, registry: Registry) -> None:
    with site_over(db, registry) as site:
        assert "since" in site.page("/team/ideas")
        assert refused(db, copy, settings).code == "open_elsewhere"
        db.rename(db.with_name("moved.db"))  # by hand, as a person may do all the same
        for end in ("-wal", "-shm"):
            db.with_name(f"{db.name}{end}").unlink()
        bring_back(db, copy, settings)
        page = site.page("/team/ideas")
        assert ("in the copy" in page, "since" in page) == (True, False), "the pages are of what is there now"
        wrote(db, "goes on")
        assert "goes on" in site.page("/team/ideas")
    assert ideas_in(db) == ["in the copy", "goes on"]


def test_while_somebody_writes_nothing_moves(db: Path, copy: Path, settings: Path) -> None:
    with closing(sqlite3.connect(db, isolation_level=None)) as writing:
        writing.execute("BEGIN IMMEDIATE")
        assert refused(db, copy, settings).code == "open_elsewhere"
        writing.execute("ROLLBACK")
