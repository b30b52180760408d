"""Which copies of a book were made on this computer: a small file in the person's configuration folder.

It is not in the book itself, whose bytes no copy changes, and a book that was copied elsewhere does not claim copies
that were made of another file. It is a small SQLite file, so that two processes never spoil each other's changes.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import Final, NamedTuple

from bevelbook.backup.last_runs import LastRuns
from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.store.closed_file import BESIDE, make_closed, make_closed_folder

FILE_NAME: Final = "backups.db"
_WAIT_SECONDS: Final = 15.0
_SAME_TIME_S: Final = 2.0
"""How finely the file system of a stick may keep the time of a file."""
_HEAD_BYTES: Final = 100
"""The head of a SQLite file: it changes when anything writes to the file."""
_TABLE: Final = (
    "CREATE TABLE IF NOT EXISTS copies (id INTEGER PRIMARY KEY, book TEXT NOT NULL, database TEXT NOT NULL, "
    "folder TEXT NOT NULL, name TEXT NOT NULL, made_at TEXT NOT NULL, byte_count INTEGER NOT NULL, "
    "head TEXT NOT NULL, last_run_on TEXT, runs_on_it INTEGER NOT NULL) STRICT"
)
_COLUMNS: Final = "id, book, database, folder, name, made_at, byte_count, head, last_run_on, runs_on_it"


class NotedCopy(NamedTuple):
    """A copy that was made on this computer: of which book, which database file, where it went, and when (UTC)."""

    book: str
    database: str
    folder: str
    name: str
    made_at: str
    byte_count: int
    head: str
    """A hash of the head of its file, by which it is known that nothing has written to it since."""
    runs: LastRuns
    number: int = 0

    @property
    def path(self) -> Path:
        """Where it was put."""
        return Path(self.folder, self.name)

    def is_at(self, path: Path) -> bool:
        """Whether a file is as that copy was made, and nothing has it open for writing."""
        if path.is_symlink() or any(os.path.lexists(f"{path}{end}") for end in BESIDE):
            return False
        try:
            return path.stat().st_size == self.byte_count and head_of(path) == self.head
        except OSError:
            return False

    def has_moved_to(self, path: Path) -> bool:
        """Whether a file in another folder is that very copy: its own folder is not there, as with a stick that has
        another place now, and the file has the time at which the copy was made, which what somebody copies has not."""
        if not self.is_at(path):
            return False
        try:
            return (
                not Path(self.folder).is_dir() and abs(path.stat().st_mtime - seconds_of(self.made_at)) <= _SAME_TIME_S
            )
        except OSError:
            return False

    @property
    def may_be_there(self) -> bool:
        """Whether it still is where it was put, as far as that can be seen: a stick may be out."""
        try:
            return self.path.exists() or not Path(self.folder).is_dir()
        except OSError:  # nobody but another person may look there
            return True


def note_of(file: Path, noted: Iterable[NotedCopy]) -> NotedCopy | None:
    """The note by which a file is known as a copy that was made here, and has stayed as it was made; None without one.

    The same name in two folders is two copies: a note counts for its own folder alone, unless that has moved.
    """
    folder = database_named(file.parent)
    named = [one for one in noted if one.name == file.name]
    here = [one for one in named if one.folder == folder]
    if here:
        return next((one for one in here if one.is_at(file)), None)
    return next((one for one in named if one.has_moved_to(file)), None)


def seconds_of(moment: str) -> float:
    """A moment as the time of a file."""
    return datetime.fromisoformat(moment).timestamp()


def head_of(path: Path) -> str:
    """A hash of the head of a SQLite file. Raises OSError."""
    with path.open("rb") as file:
        return sha256(file.read(_HEAD_BYTES)).hexdigest()


class CopiesNoted:
    """The copies that are noted in a configuration folder. Where there is no such file, there are none."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / FILE_NAME

    def of_book(self, book: str) -> list[NotedCopy]:
        """Those of one book, the one made last first, whatever the clock said. Raises DatabaseError."""
        if not self.path.exists():
            return []
        with self._open() as connection:
            found = connection.execute(f"SELECT {_COLUMNS} FROM copies WHERE book = ? ORDER BY id DESC", (book,))
            return [_read(row) for row in found.fetchall()]

    def of_database(self, path: Path) -> list[NotedCopy]:
        """Those of the book that lies there, where it cannot say itself which it is. Raises DatabaseError."""
        if not self.path.exists():
            return []
        with self._open() as connection:
            found = connection.execute(
                f"SELECT {_COLUMNS} FROM copies WHERE database = ? ORDER BY id DESC", (database_named(path),)
            )
            return [_read(row) for row in found.fetchall()]

    def add(self, copy: NotedCopy) -> int:
        """Note one; gives its number, which is higher than all before. Raises DatabaseError."""
        try:
            make_closed_folder(self.path.parent)
            with suppress(FileExistsError):
                make_closed(self.path)
        except OSError as fault:
            raise self._unusable(fault.strerror or str(fault)) from fault
        with self._open() as connection:
            connection.execute(_TABLE)
            added = connection.execute(
                "INSERT INTO copies (book, database, folder, name, made_at, byte_count, head, last_run_on, runs_on_it) "
                "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id",
                (
                    copy.book,
                    copy.database,
                    copy.folder,
                    copy.name,
                    copy.made_at,
                    copy.byte_count,
                    copy.head,
                    copy.runs.day,
                    copy.runs.how_many,
                ),
            )
            return int(added.fetchone()[0])

    def forget(self, copies: list[NotedCopy]) -> None:
        """Note them no longer. Raises DatabaseError."""
        if copies:
            with self._open() as connection:
                connection.executemany("DELETE FROM copies WHERE id = ?", [(one.number,) for one in copies])

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        try:
            uri = f"{self.path.absolute().as_uri()}?mode=rw"
            with closing(sqlite3.connect(uri, uri=True, timeout=_WAIT_SECONDS, isolation_level=None)) as connection:
                yield connection
        except sqlite3.Error as fault:
            raise self._unusable(str(fault)) from fault

    def _unusable(self, why: str) -> DatabaseError:
        return DatabaseError(
            "the list of the copies that were made on this computer cannot be used",
            code="backups_file",
            place=Place(str(self.path)),
            found=why,
            remedy="Nothing of the book is in it. Make sure that you may read and write it; if it is damaged, rename "
            "it: a new one begins with the next copy.",
        )


def _read(row: tuple[object, ...]) -> NotedCopy:
    number, book, database, folder, name, made_at, byte_count, head, day, count = row
    runs = LastRuns(None if day is None else str(day), int(str(count)))
    return NotedCopy(
        str(book), str(database), str(folder), str(name), str(made_at), int(str(byte_count)), str(head), runs,
        int(str(number)),
    )  # fmt: skip


def database_named(path: Path) -> str:
    """How a database file is named in the list: by its whole path."""
    return os.path.realpath(path)
