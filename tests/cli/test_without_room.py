"""Commands where a disk takes no more, met with the largest size that a process may give a file (setrlimit(2): a write
beyond it fails with EFBIG), which SQLite reports as it does a share of a disk that is used up. The books are sound, so
no words may send anybody to a backup of theirs, or back to whoever sent one. All data are invented."""

from __future__ import annotations

import errno
import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path
from shutil import copyfile

import pytest

from bevelbook.store.closed_file import files_to_copy
from bevelbook.store.folder_aside import faults_of_folder
from bevelbook.store.sqlite_errors import explained

RUN = (
    "import resource, signal, sys\n"
    "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
    "most = int(sys.argv[1])\n"
    "resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))\n"
    "sys.argv = ['bevelbook', *sys.argv[2:]]\n"
    "from bevelbook.cli import main\n"
    "main()\n"
)
NOTES = "date,builder,diff,dry_mass_g,oil_mass_g\n" + "".join(f"2026-05-03,ana,d{n},9.5,1.5\n" for n in range(400))

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no largest size of files there")


@pytest.fixture
def book(db: Path) -> Path:
    with closing(sqlite3.connect(db)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
    return db


def said(book: Path, most_bytes: int, *words: object) -> tuple[int, str]:
    """How the command ends in the folder of the book, where no file may have more bytes, and what it says."""
    done = subprocess.run(
        [sys.executable, "-B", "-c", RUN, str(most_bytes), "--db", book.name, *map(str, words)],
        cwd=book.parent,
        env={**os.environ, "TMPDIR": str(book.parent), "HOME": str(book.parent)},
        capture_output=True,
        text=True,
        timeout=100,
    )
    words_said = " ".join(done.stderr.split())
    assert "go back to a backup" not in words_said and "Traceback" not in words_said
    return done.returncode, words_said


@pytest.mark.parametrize("elsewhere", [False, True])
def test_a_backup_names_the_folder_that_has_no_room_and_another_way(elsewhere: bool, book: Path) -> None:
    (book.parent / "other").mkdir()
    code, words = said(book, book.stat().st_size // 2, "backup", *(["--to", "other"] if elsewhere else []))
    folder = "other" if elsewhere else str(book.parent)
    assert (code, words.startswith(f"bevelbook: {folder}: there is no room")) == (2, True), words
    assert "Make room, or choose another place: 'bevelbook" in words and "backup --to FOLDER'" in words
    assert [one.name for one in book.parent.glob("**/*.db")] == [book.name]


@pytest.mark.parametrize("most_bytes", [100_000, 600_000])
def test_an_import_without_room_says_so_of_the_book_and_stores_nothing(most_bytes: int, book: Path) -> None:
    (book.parent / "n.csv").write_text(NOTES, encoding="utf-8")
    code, words = said(book, most_bytes, "--by", "ana", "import", "n.csv", "--yes")
    assert (code, words.startswith(f"bevelbook: {book.name}: there is no room to write it")) == (2, True), words
    assert "Make room and try again" in words and "Nothing was changed." in words
    with closing(sqlite3.connect(book)) as connection:
        assert connection.execute("SELECT count(*) FROM builds").fetchone() == (0,)


@pytest.mark.parametrize("most_bytes", [100_000, 500_000])
def test_an_edition_without_room_names_the_folder_where_it_was_made(most_bytes: int, book: Path) -> None:
    assert most_bytes < book.stat().st_size
    code, words = said(book, most_bytes, "edition", "ED", "--yes")
    assert (code, words.startswith(f"bevelbook: {book.parent}: there is no room to write it")) == (2, True), words
    assert not (book.parent / "ED").exists()


@pytest.mark.parametrize("command", [("merge", "sent.db"), ("new", "--from", "sent.db")])
def test_what_was_sent_is_not_blamed_where_there_is_no_room_to_look_at_it(command: tuple[str, ...], book: Path) -> None:
    copyfile(book, book.with_name("sent.db"))
    named = book if command[0] == "merge" else book.with_name("made.db")
    code, words = said(named, book.stat().st_size // 2, *command)
    assert (code, "has no room for a copy of it to look at" in words) == (2, True), words
    assert words.startswith(f"bevelbook: {book.parent}: ") and "ask for it to be sent again" not in words


def test_a_new_book_without_room_says_so_wherever_sqlite_stops(book: Path) -> None:
    """In the midst of a table of the search SQLite says only that the disk fails (sqlite.org/fts5.html)."""
    stopped = sqlite3.OperationalError("fts5: error creating shadow table t_docsize: disk I/O error")
    assert explained(stopped, book).code == "disk_full"
    for share in (3, 6):
        code, words = said(book.with_name("new.db"), book.stat().st_size * share // 8, "new")
        assert (code, words.startswith("bevelbook: new.db: there is no room to write it")) == (2, True), words
        assert not book.with_name("new.db").exists()


def test_a_fault_of_sqlite_without_a_file_to_name_is_said_all_the_same() -> None:
    """As the pages do, which do not know which of the books they were asked of it was."""
    fault = sqlite3.OperationalError("attempt to write a readonly database")
    assert "Copy the file, with what lies beside it" in str(explained(fault, Path()))
    assert "-wal" in files_to_copy(Path())


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT, errno.EFBIG])
def test_a_folder_without_room_is_named_whole_where_it_is_the_one_of_the_command(number: int) -> None:
    with pytest.raises(Exception, match="there is no room for it") as caught, faults_of_folder(Path(), "Make room."):
        raise OSError(number, os.strerror(number))
    assert str(caught.value).startswith(f"{Path().absolute()}: ")
