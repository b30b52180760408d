"""A copy of a database, made while others write to it, and read back before it stands under its name."""

from __future__ import annotations

import os
import re
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from pathlib import Path
from typing import Final, NamedTuple

from bevelbook.backup.copies_noted import CopiesNoted, NotedCopy, database_named, head_of, note_of, seconds_of
from bevelbook.backup.held_content import FaultsHeld, HeldContent, faults_held, held_content, refuse_unsound
from bevelbook.backup.last_runs import last_runs
from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.store.book_mark import known_mark, mark_of
from bevelbook.store.closed_file import BESIDE, make_closed
from bevelbook.store.edition_mark import edition_of
from bevelbook.store.folder_aside import faults_of_folder, folder_aside
from bevelbook.store.ids import now_utc
from bevelbook.store.invented_mark import is_invented
from bevelbook.store.opened_to_read import looking_into
from bevelbook.store.opening import open_for_writing
from bevelbook.store.sqlite_errors import explained, in_words

BUSY_SECONDS: Final = 15.0
"""How long a program that holds the database is waited for."""
_ROOM_FOR_COPY: Final = "No copy was made. Make room, or choose another place: 'bevelbook backup --to FOLDER'."
_DATED: Final = r"-\d{4}-\d\d-\d\d-\d{4}(?:-\d+)?"
_STAMP: Final = "%Y-%m-%d-%H%M"


class MadeCopy(NamedTuple):
    """A copy that was made: its file, what it holds, what of it was noted, and the older copies that went for it."""

    path: Path
    byte_count: int
    made_at: str
    content: HeldContent
    faults: FaultsHeld
    is_invented: bool
    removed: tuple[Path, ...] = ()
    not_removed: tuple[Path, ...] = ()
    """Older ones that should have gone, and which the system did not let go."""
    not_noted: str | None = None
    """Why it is not in the list of copies of this computer, where it is not."""


def stamped(path: Path, at: datetime, said: str = "") -> str:
    """The name of a copy of a database made at a moment by the clock on the wall.

    >>> stamped(Path("season/book.db"), datetime(2026, 5, 24, 18, 32))
    'book-2026-05-24-1832.db'
    """
    return f"{path.stem}{said}-{at.strftime(_STAMP)}{path.suffix}"


def is_dated_name(name: str, path: Path) -> bool:
    """Whether a name is one that a copy of that database gets.

    >>> is_dated_name("book-2026-05-24-1832-2.db", Path("book.db")), is_dated_name("book-2.db", Path("book.db"))
    (True, False)
    """
    return re.fullmatch(f"{re.escape(path.stem)}{_DATED}{re.escape(path.suffix)}", name) is not None


def free_name(folder: Path, name: str) -> Path:
    """That name in a folder; with a number where it is taken, higher than all that are there, so that in one minute the
    last one has the highest. What SQLite left beside a file that is gone takes a name too: it must not meet another.
    """
    stem, suffix = Path(name).stem, Path(name).suffix
    form = re.compile(rf"{re.escape(stem)}(?:-(\d+))?{re.escape(suffix)}(?:{'|'.join(BESIDE)})?", re.IGNORECASE)
    found = [form.fullmatch(one.name) for one in folder.iterdir()]
    number = max((int(one[1] or 1) for one in found if one), default=0) + 1
    while os.path.lexists(free := folder / (name if number == 1 else f"{stem}-{number}{suffix}")):
        number += 1  # where the system writes the letters of a name in another way than is asked for
    return free


def taken_name(folder: Path, name: str) -> Path:
    """A free name in a folder, held by an empty file, so that nobody else takes it meanwhile. Raises OSError."""
    while True:
        free = free_name(folder, name)
        with suppress(FileExistsError):
            make_closed(free)
            return free


def make_copy(
    path: Path, settings: Path, *, folder: Path | None = None, keep: int | None = None, now: datetime | None = None
) -> MadeCopy:
    """Copy a database as it is at one moment into its own folder or another, and read the copy back.

    It is noted in the ``settings`` folder. ``keep`` is how many of the dated copies in that folder stay, this one and
    those made last before it: only those go that are noted for that folder, were made of this database and were not
    written to since, and none where anything is wrong with what this one holds. Others may read and write the
    database meanwhile. Raises DatabaseError: it is held by another program all the time, damaged, the disk is full, the
    folder is missing or cannot be written, or the copy is not equal; then nothing of it is left.
    """
    folder = path.parent if folder is None else folder
    if not folder.is_dir():
        raise DatabaseError("no such folder", code="no_folder", place=Place(str(folder)), remedy="Make it first.")
    book = _book_of(path)
    at = now or datetime.now()
    with aside_in(folder) as aside:
        whole = aside / path.name
        with looking_into(path, while_written=True) as source:
            source.execute(f"PRAGMA busy_timeout = {BUSY_SECONDS * 1000:.0f}")
            source.execute("BEGIN")
            runs, invented = last_runs(source), is_invented(source)  # from here on the source stays as it is for us
            try:
                _copy(source, whole)
            except sqlite3.Error as fault:
                said = explained(fault, path, written=folder)
                if said.code == "disk_full":
                    said.remedy = _ROOM_FOR_COPY
                raise said from fault
            content, faults = _read_back(path, whole, source)
        made_at = now_utc()
        with suppress(OSError):  # where the time cannot be set, the copy is known in this folder alone
            os.utime(whole, (seconds_of(made_at), seconds_of(made_at)))
        made = _put(whole, folder, stamped(path, at))
    size = made.stat().st_size
    copy = NotedCopy(
        book or "", database_named(path), database_named(folder), made.name, made_at, size, head_of(made), runs
    )
    done = MadeCopy(made, size, made_at, content, faults, invented)
    if book is None:
        return done._replace(not_noted="the book has no mark yet, and this file cannot be given one")
    try:
        noted = CopiesNoted(settings)
        copy = copy._replace(number=noted.add(copy))
        of_book = noted.of_book(book) if keep and not faults.are_any else []  # a good copy never goes for another
        older = _older_that_go(of_book, path, folder, copy, keep) if keep else {}
    except DatabaseError as fault:
        return done._replace(not_noted=str(fault))
    removed = [one for one in older.values() if _is_removed(one)]
    done = done._replace(
        removed=tuple(removed), not_removed=tuple(one for one in older.values() if os.path.lexists(one))
    )
    with suppress(DatabaseError):  # a note of what is gone does no harm
        noted.forget([one for one, file in older.items() if not os.path.lexists(file)])
    return done


def _book_of(path: Path) -> str | None:
    """The mark of the book; a book that never had one gets it now, unless the file cannot be written, is older or an
    edition."""
    with looking_into(path, while_written=True) as connection:
        try:
            found = known_mark(connection)
        except sqlite3.OperationalError as fault:
            if "no such table" not in str(fault):
                raise
            return None
        from bevelbook.store.last_step import LAST_STEP

        is_older = connection.execute("PRAGMA user_version").fetchone()[0] < LAST_STEP
        if found is not None or is_older or edition_of(connection) is not None:
            return found
    try:
        with closing(open_for_writing(path)) as writing, in_words(path):
            return mark_of(writing)
    except DatabaseError as fault:
        if fault.code != "read_only":
            raise
        return None


@contextmanager
def aside_in(folder: Path) -> Iterator[Path]:
    """A folder in that folder, for a copy that is not whole yet. Raises DatabaseError."""
    with faults_of_folder(folder, _ROOM_FOR_COPY), folder_aside(folder) as aside:
        yield aside


def _copy(source: sqlite3.Connection, whole: Path) -> None:
    make_closed(whole)
    with closing(sqlite3.connect(whole, isolation_level=None)) as copy:
        source.backup(copy)
        copy.execute("PRAGMA journal_mode = DELETE")


def _read_back(path: Path, whole: Path, source: sqlite3.Connection) -> tuple[HeldContent, FaultsHeld]:
    """What the copy holds, which is what the source holds, and what is wrong with that.

    Raises DatabaseError.
    """
    with in_words(path), only_read(whole) as copy:
        values = refuse_unsound(copy, path, "No copy was kept of it. 'bevelbook backup --list' lists the older ones.")
        content = held_content(copy)
        if content != held_content(source):
            raise DatabaseError(
                "the copy is not what the database holds",
                code="backup_differs",
                place=Place(str(path)),
                remedy="No copy was kept. The disk may be failing: make one elsewhere, 'bevelbook backup --to FOLDER'.",
            )
        return content, faults_held(copy, values)


@contextmanager
def only_read(path: Path) -> Iterator[sqlite3.Connection]:
    """A connection to a file that nobody writes to."""
    with closing(sqlite3.connect(f"{path.absolute().as_uri()}?immutable=1", uri=True)) as connection:
        yield connection


def _put(whole: Path, folder: Path, name: str) -> Path:
    """Give a whole file a free name in a folder, once it is on the disk. Raises OSError."""
    with whole.open("rb") as file:
        os.fsync(file.fileno())
    while True:
        free = free_name(folder, name)
        try:
            os.link(whole, free)
        except FileExistsError:
            continue
        except OSError:  # a file system that has no links, such as that of many sticks
            free = taken_name(folder, name)
            try:
                whole.replace(free)
            except BaseException:
                free.unlink()
                raise
        return free


def _older_that_go(
    noted: Sequence[NotedCopy], path: Path, folder: Path, made: NotedCopy, keep: int
) -> dict[NotedCopy, Path]:
    """The copies in that folder, with their notes, that were made before this one and are more than are kept.

    Of two files of one book each has its own copies; those of a file that is gone are of whichever there is now.
    """
    of_ours = [one for one in noted if one.database == made.database or not os.path.lexists(one.database)]
    there: dict[NotedCopy, Path] = {}
    for name in {one.name for one in of_ours if is_dated_name(one.name, path)}:
        own = note_of(folder / name, of_ours)
        if own is not None and _is_of(folder / name, made.book):
            there[own] = folder / name
    last_first = sorted(there, key=lambda one: one.number, reverse=True)
    newer = sum(1 for one in last_first if one.number >= made.number)
    return {one: there[one] for one in last_first[max(keep, newer) :]}


def _is_removed(file: Path) -> bool:
    try:
        file.unlink()
    except OSError:
        return False
    return True


def _is_of(path: Path, book: str) -> bool:
    try:
        with only_read(path) as connection:
            return known_mark(connection) == book
    except sqlite3.Error:
        return False
