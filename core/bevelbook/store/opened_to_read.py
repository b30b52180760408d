"""Opening a database for reading, without anything that only writing asks for."""

from __future__ import annotations

import os
import sqlite3
import stat
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Final

from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.declare.in_command import in_command
from bevelbook.facts.impossible import leave_out_impossible
from bevelbook.store.bounded_reading import bound_work, distrust
from bevelbook.store.closed_file import BESIDE, has_changes_beside, log_of
from bevelbook.store.last_step import LAST_STEP
from bevelbook.store.own_views import read_through_own_views
from bevelbook.store.schema import APPLICATION_ID
from bevelbook.store.sqlite_errors import explained, in_words
from bevelbook.store.text_not_utf8 import is_undecoded, undecoded
from bevelbook.store.turn import wait_until_readable

BUSY_SECONDS: Final = 15.0


def open_for_reading(path: Path, *, untouched: bool = False) -> sqlite3.Connection:
    """Open a bevelbook database for reading. An older one is refused with the command that migrates it.

    ``untouched`` leaves no file beside it, as reading a database in WAL mode otherwise does; an existing write-ahead
    log is read as well. In a folder that cannot be written no file is left either: one with a log is then read from a
    copy of both. Impossible numbers are left out of what is read from the records.
    """
    connection = open_as_it_is(path, untouched=untouched)
    with in_words(path), closed_on_fault(connection, path):
        bound_work(connection, path.stat().st_size)
        read_through_own_views(connection)
        leave_out_impossible(connection)
    return connection


def open_as_it_is(path: Path, *, untouched: bool = False) -> sqlite3.Connection:
    """The same without a limit, with the views of the file and with all that is in the tables, whatever it is: for
    whoever looks at the file itself."""
    check_is_ours(path)
    with in_words(path):
        connection = _read_somehow(path, untouched=untouched)
        with closed_on_fault(connection, path):
            refuse_other_log(connection, path)
            refuse_older(connection, path)
    return connection


def _read_somehow(path: Path, *, untouched: bool) -> sqlite3.Connection:
    """A connection to read with; where the folder cannot be written, of the file alone. Raises DatabaseError."""
    is_alone = not log_of(path).exists()
    try:
        return _reading(path, alone=untouched and is_alone)
    except sqlite3.OperationalError as fault:
        if explained(fault, path).code != "read_only":
            raise
        return _reading_without_writing(path)


def refuse_older(connection: sqlite3.Connection, path: Path) -> None:
    """Raise DatabaseError where the database is of an older version: reading never changes it."""
    version = connection.execute("PRAGMA user_version").fetchone()[0]
    if version < LAST_STEP:
        raise DatabaseError(
            f"this database was made by an older version (step {version} of {LAST_STEP})",
            code="database_older",
            place=Place(str(path)),
            remedy=f"Run 'bevelbook --db {in_command(str(path))} new --migrate' once; a backup copy is made first.",
        )


def refuse_other_log(connection: sqlite3.Connection, path: Path) -> None:
    """Raise DatabaseError where the file is a bevelbook database and is none any more with the changes beside it, which
    are then of another file or of an older state."""
    if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        raise DatabaseError(
            "the changes beside it (-wal) do not belong to this file",
            code="other_log",
            place=Place(str(log_of(path))),
            remedy="Move that file out of the folder and keep it: without it the database is as it was when a program "
            "last closed it. Nothing was changed.",
        )


@contextmanager
def looking_into(path: Path, *, while_written: bool = False) -> Iterator[sqlite3.Connection]:
    """A read-only connection to a bevelbook database of this or an older version; no file is left beside it.

    ``while_written`` is for one that others may write to meanwhile: it then takes part in SQLite's locks, unless the
    folder cannot be written. Raises DatabaseError.
    """
    check_is_ours(path)
    is_alone = not log_of(path).exists()
    with in_words(path):
        try:
            connection = _reading(path, alone=is_alone and not while_written)
        except sqlite3.OperationalError as fault:
            if not while_written or explained(fault, path).code != "read_only":
                raise
            connection = _reading_without_writing(path)
        with closing(connection):
            yield connection


def _reading_without_writing(path: Path) -> sqlite3.Connection:
    """A connection to a file in a folder that cannot be written: to it alone, or with changes beside it to a copy of
    both, as SQLite reads a log only where it may lay an index of it. Raises DatabaseError."""
    if not has_changes_beside(path):
        return _reading(path, alone=True)
    from bevelbook.store.copied_to_read import ConnectionToCopy, copied_aside

    aside = copied_aside(path)
    with aside.kept as until_open:
        connection = _reading(aside.copy, alone=False, factory=ConnectionToCopy)
        assert isinstance(connection, ConnectionToCopy)
        connection.aside = until_open.pop_all()
    return connection


def _reading(path: Path, *, alone: bool, factory: type[sqlite3.Connection] = sqlite3.Connection) -> sqlite3.Connection:
    """A read-only connection; ``alone`` reads the file itself and ignores files beside it."""
    mode = "immutable=1" if alone else "mode=ro"
    connection = sqlite3.connect(f"{path.absolute().as_uri()}?{mode}", uri=True, timeout=BUSY_SECONDS, factory=factory)
    try:
        connection.row_factory = sqlite3.Row
        distrust(connection)
        wait_until_readable(connection)
    except BaseException:
        connection.close()
        raise
    return connection


def check_is_ours(path: Path) -> None:
    """Raise DatabaseError unless the file is a bevelbook database that this version can use."""
    place = Place(str(path))
    if path.is_dir():
        raise DatabaseError("this is a folder, not a database", code="is_folder", place=place, remedy="Name the file.")
    if not path.exists():
        raise DatabaseError(
            "no such database",
            code="no_database",
            place=place,
            remedy="Make one with 'bevelbook new', or name another: 'bevelbook --db FILE ...'.",
        )
    if not path.is_file():
        raise DatabaseError(
            "this is not a file on a disk",
            code="not_readable",
            place=place,
            remedy="Name a database, or put what comes from there into a file first.",
        )
    for end in BESIDE:
        _refuse_no_file_beside(path.with_name(f"{path.name}{end}"))
    try:
        with path.open("rb") as file:
            head = file.read(100)
    except OSError as fault:
        raise DatabaseError("cannot be read", code="not_readable", place=place, found=fault.strerror or "") from fault
    if head[:16] != b"SQLite format 3\0" or int.from_bytes(head[68:72], "big") != APPLICATION_ID:
        free = in_command(str(_free_name(path)))
        raise DatabaseError(
            "this is not a bevelbook database",
            code="not_ours",
            place=place,
            remedy=f"Look whether it is the right file. It stays as it is, so a new database needs another name: "
            f"'bevelbook --db {free} new'. Bring notes in there with 'bevelbook --db {free} import FILE'.",
        )
    version = int.from_bytes(head[60:64], "big")
    if version > LAST_STEP:
        raise DatabaseError(
            f"this database was made by a newer version (step {version}, this one knows {LAST_STEP})",
            code="database_newer",
            place=place,
            remedy="Update bevelbook.",
        )


def _free_name(path: Path) -> Path:
    """A name beside a file, after its own, that no file has."""
    number = 2
    free = path.with_suffix(".db")
    while os.path.lexists(free):
        free = path.with_name(f"{path.stem}-{number}.db")
        number += 1
    return free


def _refuse_no_file_beside(beside: Path) -> None:
    """Raise DatabaseError for anything but a file where SQLite keeps one beside the database."""
    try:
        mode = beside.lstat().st_mode
    except OSError:
        return
    if not stat.S_ISREG(mode):
        raise DatabaseError(
            "this is not a file, and SQLite keeps a file of that name beside a database",
            code="other_log",
            place=Place(str(beside)),
            remedy="Move it out of the folder. Nothing was changed.",
        )


@contextmanager
def closed_on_fault(connection: sqlite3.Connection, path: Path) -> Iterator[None]:
    try:
        yield
    except BaseException as fault:
        if is_undecoded(fault):
            with closing(connection):
                raise undecoded(connection, path) from fault
        connection.close()
        if isinstance(fault, DatabaseError) and fault.code == "schema_changed":
            fault.place = Place(str(path))
        if isinstance(fault, sqlite3.Error):
            raise explained(fault, path) from fault
        raise
