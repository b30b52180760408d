"""A copy made while others write, what it holds, and which copies go for it. All data are invented."""

from __future__ import annotations

import os
import shutil
import sqlite3
import stat
import threading
from contextlib import closing
from datetime import datetime
from pathlib import Path

import pytest
from conftest import empty_database

from bevelbook.backup import dated_copy
from bevelbook.backup.copies_noted import CopiesNoted
from bevelbook.backup.copy_due import copy_due
from bevelbook.backup.dated_copy import MadeCopy, make_copy
from bevelbook.backup.held_content import held_content
from bevelbook.declare.errors import DatabaseError
from bevelbook.records import BY_NAME
from bevelbook.store.book_mark import known_mark
from bevelbook.store.edition_mark import EDITION, edition_value
from bevelbook.store.ids import new_id
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

AT = datetime(2026, 5, 24, 18, 32)


@pytest.fixture
def settings(tmp_path: Path) -> Path:
    return tmp_path / "settings"


def wrote(path: Path, *ideas: str, run_on: str | None = None) -> None:
    with closing(open_for_writing(path)) as connection, transaction(connection, path):
        writer = Writer(connection, "ana")
        for text in ideas:
            writer.insert(BY_NAME["idea"], {"text": text})
        if run_on:
            writer.insert(BY_NAME["run"], {"label": f"{run_on} {new_id()}", "run_on": run_on})


def ideas_in(path: Path) -> list[str]:
    with closing(open_for_reading(path)) as connection:
        return [row[0] for row in connection.execute("SELECT text FROM main.ideas ORDER BY rowid")]


def mode_of(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def beside(path: Path) -> set[str]:
    return {one.name for one in path.parent.iterdir()} - {f"{path.name}-wal", f"{path.name}-shm", "settings"}


def test_a_copy_is_dated_whole_and_closed_to_others_and_the_book_keeps_its_bytes(db: Path, settings: Path) -> None:
    wrote(db, "thicker in the rear")
    make_copy(db, settings, now=AT.replace(hour=9))  # gives the book its mark
    before = db.read_bytes()
    old = os.umask(0)
    try:
        made = make_copy(db, settings, now=AT)
    finally:
        os.umask(old)
    assert (made.path, mode_of(made.path)) == (db.with_name("team-2026-05-24-1832.db"), 0o600)
    assert mode_of(CopiesNoted(settings).path) == 0o600
    assert ideas_in(made.path) == ["thicker in the rear"]
    assert db.read_bytes() == before
    assert made.content.rows["ideas"] == 1
    assert make_copy(db, settings, now=AT).path.name == "team-2026-05-24-1832-2.db"


def test_it_is_of_one_moment_while_others_write(db: Path, settings: Path) -> None:
    """A writer adds two ideas in each entry, without a pause: no copy has one of them alone, and none stops it."""
    stopped, faults = threading.Event(), list[BaseException]()

    def write() -> None:
        number = 0
        try:
            while not stopped.is_set():
                wrote(db, f"{number} a", f"{number} b")
                number += 1
        except BaseException as fault:
            faults.append(fault)

    wrote(db, "first", "second")
    writing = threading.Thread(target=write)
    writing.start()
    try:
        copies = [make_copy(db, settings, now=AT) for _ in range(4)]
    finally:
        stopped.set()
        writing.join()
    counts = [one.content.rows["ideas"] for one in copies]
    assert faults == []
    assert counts == sorted(counts)
    assert counts[-1] > 2, "somebody wrote meanwhile"
    for one in copies:
        held = ideas_in(one.path)
        assert [text[:-2] for text in held[2::2]] == [text[:-2] for text in held[3::2]]


def test_a_copy_that_is_not_what_the_book_holds_is_not_kept(
    db: Path, settings: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    wrote(db, "thicker in the rear")
    copied = dated_copy._copy

    def copied_badly(source: sqlite3.Connection, whole: Path) -> None:
        copied(source, whole)
        with closing(sqlite3.connect(whole, isolation_level=None)) as copy:
            copy.execute("UPDATE about SET value = 'x' WHERE name = 'facts'")

    monkeypatch.setattr(dated_copy, "_copy", copied_badly)
    with pytest.raises(DatabaseError) as caught:
        make_copy(db, settings)
    assert caught.value.code == "backup_differs"
    assert beside(db) == {"team.db"}


def test_a_damaged_book_gives_no_copy(db: Path, settings: Path) -> None:
    wrote(db, *(f"idea {number} {'long ' * 400}" for number in range(40)))
    whole = bytearray(db.read_bytes())
    with closing(sqlite3.connect(db)) as connection:
        root = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'ideas'").fetchone()[0]
        size = connection.execute("PRAGMA page_size").fetchone()[0]
    whole[(root - 1) * size : (root - 1) * size + 200] = b"\xff" * 200
    db.write_bytes(whole)
    with pytest.raises(DatabaseError) as caught:
        make_copy(db, settings)
    assert caught.value.code == "damaged"
    assert beside(db) == {"team.db"}


def test_a_book_that_is_held_is_waited_for_and_then_said(
    db: Path, settings: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    make_copy(db, settings, now=AT)
    monkeypatch.setattr("bevelbook.store.opened_to_read.BUSY_SECONDS", 0.05)
    monkeypatch.setattr(dated_copy, "BUSY_SECONDS", 0.05)
    with closing(sqlite3.connect(db, isolation_level=None)) as holding:
        holding.execute("PRAGMA locking_mode = EXCLUSIVE")
        holding.execute("PRAGMA journal_mode = DELETE")
        holding.execute("BEGIN EXCLUSIVE")
        with pytest.raises(DatabaseError) as caught:
            make_copy(db, settings, now=AT)
    assert caught.value.code == "locked"
    assert beside(db) == {"team.db", "team-2026-05-24-1832.db"}


@pytest.mark.parametrize("code", ["no_folder", "not_writable"])
def test_where_no_copy_can_go_it_is_said(db: Path, settings: Path, tmp_path: Path, code: str) -> None:
    there = tmp_path / "stick"
    if code == "not_writable":
        if os.geteuid() == 0:
            there = Path("/proc")
        else:
            there.mkdir(mode=0o500)
    with pytest.raises(DatabaseError) as caught:
        make_copy(db, settings, folder=there)
    assert caught.value.code == code


def test_only_its_own_copies_go_and_the_newest_stay(db: Path, settings: Path, tmp_path: Path) -> None:
    """What looks like one stays: of another book, made by hand, or written to since."""
    stick = tmp_path / "stick"
    stick.mkdir()

    def made(hour: int, keep: int | None = None, of: Path = db) -> MadeCopy:
        return make_copy(of, settings, folder=stick, keep=keep, now=AT.replace(hour=hour))

    copies = [made(hour) for hour in (8, 9, 10, 11)]
    wrote(copies[1].path, "noted in the copy itself")
    by_hand = stick / "team-2026-05-01-0700.db"
    by_hand.write_bytes(copies[0].path.read_bytes())
    (tmp_path / "other").mkdir()
    other = made(7, of=empty_database(tmp_path / "other" / "team.db"))
    kept = made(12, keep=2)
    assert [one.name for one in kept.removed] == [copies[2].path.name, copies[0].path.name]
    left = sorted(one.name for one in stick.glob("*.db"))
    assert left == sorted(one.name for one in (by_hand, other.path, copies[1].path, copies[3].path, kept.path))
    assert made(13, keep=1).removed == (kept.path, copies[3].path)


@pytest.mark.parametrize("keep", [1, 2])
def test_in_each_folder_the_last_stay_though_all_are_of_one_minute(
    db: Path, settings: Path, tmp_path: Path, keep: int
) -> None:
    """A name in one folder says nothing of the same name in another, and the highest number is the last made."""
    folders = [tmp_path, tmp_path / "stick", tmp_path / "other"]
    names: dict[Path, list[str]] = {folder: [] for folder in folders}
    for folder in folders:
        folder.mkdir(exist_ok=True)
    for _ in range(4):
        for folder in folders:
            made = make_copy(db, settings, folder=folder, keep=keep, now=AT)
            names[folder].append(made.path.name)
            assert made.path not in made.removed
            assert {one.name for one in folder.glob("team-*.db")} == set(names[folder][-keep:])
    expected = ["team-2026-05-24-1832.db", *(f"team-2026-05-24-1832-{number}.db" for number in (2, 3, 4))]
    assert list(names.values()) == [expected] * 3


def test_a_clock_that_went_back_takes_no_new_copy(
    db: Path, settings: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = make_copy(db, settings, now=AT)
    monkeypatch.setattr(dated_copy, "now_utc", lambda: "2001-01-01T00:00:00.000Z")
    second = make_copy(db, settings, keep=1, now=AT.replace(year=2001))
    assert (second.removed, second.path.exists()) == ((first.path,), True)


def test_what_was_copied_or_moved_by_hand_stays(db: Path, settings: Path, tmp_path: Path) -> None:
    archive, stick = tmp_path / "archive", tmp_path / "stick"
    archive.mkdir()
    stick.mkdir()
    beside_it, on_stick = make_copy(db, settings, now=AT), make_copy(db, settings, folder=stick, now=AT.replace(hour=9))
    kept = [Path(shutil.copy(one.path, archive)) for one in (beside_it, on_stick)]
    for one in kept:
        os.utime(one, (one.stat().st_mtime + 60,) * 2)
    stick.rename(tmp_path / "stick that is out")
    made = make_copy(db, settings, folder=archive, keep=1, now=AT.replace(hour=20))
    assert made.removed == ()
    assert set(archive.glob("*.db")) == {*kept, made.path}


def test_a_stick_that_has_another_place_is_known(db: Path, settings: Path, tmp_path: Path) -> None:
    stick = tmp_path / "stick"
    stick.mkdir()
    old = [make_copy(db, settings, folder=stick, now=AT.replace(hour=hour)).path.name for hour in (8, 9, 10)]
    there = stick.rename(tmp_path / "stick1")
    made = make_copy(db, settings, folder=there, keep=2, now=AT)
    assert {one.name for one in made.removed} == set(old[:2])
    assert {one.name for one in there.glob("*.db")} == {old[2], made.path.name}


def test_another_file_of_the_same_book_keeps_its_copies(db: Path, settings: Path, tmp_path: Path) -> None:
    stick, elsewhere = tmp_path / "stick", tmp_path / "elsewhere"
    stick.mkdir()
    elsewhere.mkdir()
    first = make_copy(db, settings, folder=stick, now=AT)
    second = Path(shutil.copy(first.path, elsewhere / "team.db"))
    wrote(second, "only in the other file")
    other = make_copy(second, settings, folder=stick, keep=1, now=AT)
    assert (other.removed, first.path.exists()) == ((), True)
    second.unlink()
    assert make_copy(db, settings, folder=stick, keep=1, now=AT).removed == (other.path, first.path), (
        "nobody else's now"
    )


def test_a_copy_that_another_program_makes_meanwhile_stays(db: Path, settings: Path, tmp_path: Path) -> None:
    """It is newer: what was made later than one's own is not older, however few are kept."""
    first = make_copy(db, settings, now=AT)
    noted = CopiesNoted(settings)
    (note,) = noted.of_book(known_book(db))
    later = make_copy(db, settings, now=AT)
    assert dated_copy._older_that_go(noted.of_book(note.book), db, db.parent, note, 1) == {}
    assert first.path.exists()
    assert later.path.exists()


def known_book(path: Path) -> str:
    with closing(open_for_reading(path)) as connection:
        return known_mark(connection) or ""


def test_on_a_stick_without_links_no_other_file_is_overwritten(
    db: Path, settings: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another program takes the name between the look and the move."""
    theirs = db.with_name("team-2026-05-24-1832.db")

    def no_links(source: Path, target: Path) -> None:
        theirs.write_text("of another program")
        raise PermissionError(1, "no links here")

    monkeypatch.setattr(os, "link", no_links)
    made = make_copy(db, settings, now=AT)
    assert (made.path.name, theirs.read_text()) == ("team-2026-05-24-1832-2.db", "of another program")
    assert mode_of(made.path) == 0o600


def test_what_was_left_beside_a_copy_that_is_gone_meets_no_new_one(db: Path, settings: Path) -> None:
    db.with_name("team-2026-05-24-1832-6.db-wal").write_bytes(b"left over")
    assert make_copy(db, settings, now=AT).path.name == "team-2026-05-24-1832-7.db"


def test_an_older_copy_that_cannot_go_is_said(db: Path, settings: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = make_copy(db, settings, now=AT)
    monkeypatch.setattr(dated_copy, "_is_removed", lambda file: False)
    made = make_copy(db, settings, keep=1, now=AT)
    assert (made.removed, made.not_removed) == ((), (first.path,))
    monkeypatch.undo()
    assert make_copy(db, settings, keep=1, now=AT).removed == (made.path, first.path), "it is known still"


def test_it_is_due_when_the_book_ran_since(db: Path, settings: Path, tmp_path: Path) -> None:
    def due(path: Path = db) -> str | None:
        with closing(open_for_reading(path)) as connection:
            found = copy_due(connection, path, settings)
            return found.words if found else None

    assert due() is None, "without a run there is nothing to keep"
    wrote(db, run_on="2026-05-23")
    assert due() == "No backup of this book was made on this computer"
    made = make_copy(db, settings, now=AT)
    assert due() is None
    wrote(db, run_on="2026-05-23")
    assert due() is not None, "the day went on"
    again = make_copy(db, settings, now=AT)
    wrote(db, "no run")
    assert due() is None
    elsewhere = tmp_path / "copied.db"
    elsewhere.write_bytes(db.read_bytes())
    assert due(elsewhere) == "No backup of this book was made on this computer", "a copied book claims no copy"
    again.path.unlink()
    assert due() is not None, "a copy that is gone is none"
    made.path.unlink()
    assert due() == "No backup of this book was made on this computer"
    with closing(sqlite3.connect(db)) as connection, connection:
        connection.execute("INSERT INTO about VALUES (?, ?)", (EDITION, edition_value(frozenset())))
    assert due() is None, "nobody writes to an edition"


def test_a_book_gets_its_mark_once(db: Path, settings: Path) -> None:
    first, second = make_copy(db, settings, now=AT), make_copy(db, settings, now=AT)
    with closing(open_for_reading(first.path)) as one, closing(open_for_reading(second.path)) as other:
        assert known_mark(one) == known_mark(other) is not None


def test_the_content_is_that_of_every_row_and_value(db: Path) -> None:
    wrote(db, "a", "b")
    with closing(sqlite3.connect(db)) as connection:
        before = held_content(connection)
        connection.execute("UPDATE ideas SET text = 'c' WHERE text = 'b'")
        assert held_content(connection).digest != before.digest
        assert held_content(connection).rows["ideas"] == before.rows["ideas"]
