"""A copy put into the place of a database, which is kept beside it under another name.

Both are moved whole: what SQLite keeps beside a database (-wal, -shm, -journal) never meets another file than its own,
and nothing moves while any program has the database open.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from pathlib import Path
from typing import Final, NamedTuple

from bevelbook.backup.copies_there import BEFORE_BRING_BACK, copies_there, sort_of, sound_copies
from bevelbook.backup.dated_copy import BUSY_SECONDS, aside_in, only_read, stamped, taken_name
from bevelbook.backup.held_content import FaultsHeld, faults_held, refuse_unsound
from bevelbook.declare.errors import DatabaseError, InputError, Place
from bevelbook.store.book_mark import known_mark
from bevelbook.store.closed_file import BESIDE, make_closed
from bevelbook.store.opened_to_read import check_is_ours, looking_into
from bevelbook.store.opening import refuse_taken_name
from bevelbook.store.sqlite_errors import explained, in_words

_NAMED: Final = 3
DAMAGED: Final = frozenset({"damaged", "not_ours"})
"""The codes of a file that cannot be read as a database, whatever it once was."""


class BroughtBack(NamedTuple):
    """What came of it: where the database as it was is kept; None where there was none."""

    kept: Path | None
    was_damaged: bool
    faults: FaultsHeld = FaultsHeld()
    """What is wrong with what the copy holds, though it is whole."""


def bring_back(
    path: Path, copy: Path, settings: Path, *, other_book: bool = False, now: datetime | None = None
) -> BroughtBack:
    """Put a copy into the place of a database. The copy itself stays where it is.

    ``other_book`` allows one of another book. Raises InputError where the copy is the database itself or of another
    book; DatabaseError where it is damaged, newer, no bevelbook database, or where any program has the database open.
    Nothing is changed then.
    """
    if not path.parent.is_dir():
        refuse_taken_name(path)
    if path.exists() and copy.exists() and path.samefile(copy):
        raise InputError(
            "this is the database itself",
            code="same_file",
            place=Place(str(copy)),
            remedy="Name a copy of it: 'bevelbook backup --list' lists them.",
        )
    _refuse_no_copy(copy, path, settings)
    with aside_in(path.parent) as aside:
        whole = aside / path.name
        try:
            with in_words(path.parent):
                _copied(copy, whole)
        except DatabaseError as fault:
            raise _damaged(copy, path, settings) if fault.code in DAMAGED else fault from fault
        try:
            with only_read(whole) as connection:
                faults = faults_held(connection, refuse_unsound(connection, copy, ""))
                there = _book_in(connection)
        except (DatabaseError, sqlite3.Error) as fault:
            raise _damaged(copy, path, settings) from fault
        present = _present(path)
        if not other_book:
            _refuse_other_book(copy, there, present)
        with in_words(path.parent), closing(sqlite3.connect(whole, isolation_level=None)) as connection:
            connection.execute("PRAGMA journal_mode = WAL")
        if present.is_there:
            shutil.copymode(path, whole)
        with whole.open("rb") as file:
            os.fsync(file.fileno())
        with _alone(path, present):
            return BroughtBack(_exchange(path, whole, now or datetime.now()), present.is_damaged, faults)


def _refuse_no_copy(copy: Path, path: Path, settings: Path) -> None:
    """Raise DatabaseError unless a file begins as a bevelbook database does; one that has the name of a copy of this
    database was one."""
    if not copy.exists():
        raise DatabaseError(
            "there is no such copy",
            code="no_database",
            place=Place(str(copy)),
            remedy="Nothing was changed. 'bevelbook backup --list' lists the copies of the database.",
        )
    try:
        check_is_ours(copy)
    except DatabaseError as fault:
        if fault.code == "not_ours" and sort_of(copy.name, path) is not None:
            raise _damaged(copy, path, settings) from fault
        raise


class _Present(NamedTuple):
    """The database that is there now, as far as it can be read."""

    is_there: bool = False
    is_damaged: bool = False
    book: _Book | None = None


class _Book(NamedTuple):
    mark: str | None
    first_entry: str | None


def _copied(copy: Path, whole: Path) -> None:
    make_closed(whole)
    with (
        looking_into(copy, while_written=True) as source,
        closing(sqlite3.connect(whole, isolation_level=None)) as target,
    ):
        source.execute(f"PRAGMA busy_timeout = {BUSY_SECONDS * 1000:.0f}")
        source.execute("BEGIN")
        source.execute("SELECT count(*) FROM main.sqlite_master").fetchone()
        source.backup(target)
        target.execute("PRAGMA journal_mode = DELETE")


def _book_in(connection: sqlite3.Connection) -> _Book:
    """By what a book is known: its mark, and its first entry for one that has none. Raises sqlite3.Error."""
    try:
        mark = known_mark(connection)
        first = connection.execute("SELECT id FROM main.entries ORDER BY rowid LIMIT 1").fetchone()
    except sqlite3.OperationalError as fault:
        if "no such table" not in str(fault):
            raise
        return _Book(None, None)
    return _Book(mark, str(first[0]) if first else None)


def _present(path: Path) -> _Present:
    if not path.exists():
        return _Present()
    try:
        with looking_into(path, while_written=True) as connection:
            return _Present(True, False, _book_in(connection))
    except DatabaseError as fault:
        if fault.code == "database_newer":
            return _Present(True)
        if fault.code not in DAMAGED:
            raise
        return _Present(True, True)


def _refuse_other_book(copy: Path, there: _Book, present: _Present) -> None:
    """Raise InputError unless both are of one book, or of what is there now nothing can be known."""
    here = present.book
    if here is None or there.mark == here.mark is not None:
        return
    if None in (there.mark, here.mark) and (here.first_entry is None or there.first_entry == here.first_entry):
        return
    raise InputError(
        "this is a copy of another book",
        code="other_book",
        place=Place(str(copy)),
        remedy="Nothing was changed. To bring in what it holds beside your own, 'bevelbook merge FILE'; to have it in "
        "the place of this one all the same, 'bevelbook backup --bring-back FILE --other-book'.",
    )


def _damaged(copy: Path, path: Path, settings: Path) -> DatabaseError:
    """The fault for a copy that is damaged; it names copies that are not."""
    book: str | None = None
    with suppress(DatabaseError, sqlite3.Error), only_read(path) as connection:
        book = known_mark(connection)
    listed = [one for one in copies_there(path, book, settings, [copy.parent]) if one.path != copy.resolve()]
    good = "; ".join(f"{one.path} of {one.at}" for one in sound_copies(listed, _NAMED))
    return DatabaseError(
        "this copy is damaged",
        code="copy_damaged",
        place=Place(str(copy)),
        remedy=f"Nothing was changed. {f'Whole copies are: {good}.' if good else 'No other copy was found.'}",
    )


@contextmanager
def _alone(path: Path, present: _Present) -> Iterator[None]:
    """Hold the database so that no other program has it open. Raises DatabaseError ("open_elsewhere").

    SQLite leaves WAL mode only where nobody else has the file open; then all that was beside it is in it.
    """
    if not present.is_there or present.is_damaged:
        yield
        return
    with closing(sqlite3.connect(path, isolation_level=None, timeout=1.0)) as connection:
        try:
            connection.execute("PRAGMA journal_mode = DELETE")
            connection.execute("PRAGMA locking_mode = EXCLUSIVE")
            connection.execute("BEGIN EXCLUSIVE")
        except sqlite3.Error as fault:
            if "locked" not in str(fault) and "busy" not in str(fault):
                raise explained(fault, path) from fault
            raise DatabaseError(
                "a program has the database open",
                code="open_elsewhere",
                place=Place(str(path)),
                remedy="Nothing was changed. Stop 'bevelbook enter', 'bevelbook serve' and whatever else has it open, "
                "with Ctrl+C in its window, then try again.",
            ) from fault
        if os.name == "nt":  # where an open file cannot be moved
            connection.close()
        yield


def _exchange(path: Path, whole: Path, at: datetime) -> Path | None:
    """Move the database to a name of its own, with all beside it, and the copy into its place. Raises OSError.

    Where the file system has links, there is a database under the name at every moment: what is beside it goes first,
    the database gets its second name, and the copy takes the first one in one step.
    """
    kept = taken_name(path.parent, stamped(path, at, BEFORE_BRING_BACK))
    is_there = os.path.lexists(path)
    moved: list[tuple[Path, Path]] = []
    try:
        for end in BESIDE:
            old = path.with_name(f"{path.name}{end}")
            if os.path.lexists(old):
                new = kept.with_name(f"{kept.name}{end}")
                old.replace(new)
                moved.append((old, new))
        if is_there and not _has_second_name(path, kept, whole.with_name("second name")):
            path.replace(kept)
            moved.append((path, kept))
        whole.replace(path)
    except BaseException:
        for old, new in reversed(moved):
            new.rename(old)
        kept.unlink(missing_ok=True)
        raise
    if is_there:
        return kept
    kept.unlink()
    return None


def _has_second_name(path: Path, kept: Path, linked: Path) -> bool:
    """Have a file be under the name of an empty one too; not where the file system has no links, or it is a link
    itself. On the way it is under a third one, ``linked``."""
    if path.is_symlink():
        return False
    try:
        os.link(path, linked)
    except OSError:
        return False
    linked.replace(kept)
    return True
