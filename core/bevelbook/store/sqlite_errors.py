"""Errors of SQLite in plain words: which file, what is wrong with it, and what to do."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Final

from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.facts.views import VIEWS
from bevelbook.records import FACTS
from bevelbook.store import keeping
from bevelbook.store.closed_file import files_to_copy
from bevelbook.store.schema import ALL_KINDS, columns_of, search_table
from bevelbook.store.text_not_utf8 import is_undecoded, undecoded

REBUILT: Final = frozenset(
    {kind.table for kind in FACTS}
    | {search_table(kind) for kind in ALL_KINDS if kind.searched}
    | {view.name for view in VIEWS}
    | {"writing", "replacing", *keeping.HIDDEN}
)
"""Tables and views without data of their own: opening the file for writing recreates them."""
_NOT_TAKEN: Final = frozenset(
    {
        sqlite3.SQLITE_IOERR_WRITE,
        sqlite3.SQLITE_IOERR_FSYNC,
        sqlite3.SQLITE_IOERR_TRUNCATE,
        sqlite3.SQLITE_IOERR_SHMSIZE,
    }
)
"""How SQLite says that what it wrote was not taken, by a share of the disk that is used up as by a disk that fails: it
tells only a disk that is full from both (sqlite.org/rescode.html)."""
_SEARCH_NOT_MADE: Final = "fts5: error creating shadow table"
_BESIDE_BYTES: Final = 65_536
"""An index of the write-ahead log takes half of that (sqlite.org/walformat.html)."""
_MISSING: Final = late_pattern(r"no such (?:fts5 )?(?:table|view|column): (?:main\.|temp\.)?(\S+)")
_SAID_BY_SQLITE: Final = re.compile(rb"malformed |no such |near |unrecognized |error in |table |ambiguous |duplicate ")
_GO_BACK: Final = (
    "Go back to a backup copy, 'bevelbook backup --list', and keep the damaged file. Without a copy, 'bevelbook export "
    "--rescue FOLDER' saves what can still be read."
)


@contextmanager
def in_words(path: Path) -> Iterator[None]:
    """Turns every error of SQLite inside it into a DatabaseError that names the file."""
    try:
        yield
    except sqlite3.Error as fault:
        raise explained(fault, path) from fault
    except UnicodeDecodeError as fault:
        if not is_garbled(fault):
            raise
        raise _list_damaged(fault.object.decode(errors="backslashreplace"), path) from fault


def is_garbled(fault: UnicodeDecodeError) -> bool:
    """Whether it is a message of SQLite with a name from a damaged list of tables in it."""
    return _SAID_BY_SQLITE.match(fault.object) is not None


def explained(fault: sqlite3.Error, path: Path, *, written: Path | None = None) -> DatabaseError:
    """An error of SQLite in words, with a remedy. ``written`` is the file or folder that is written, where that is
    another than the one that is read."""
    said = str(fault)
    place = Place(str(path))
    full = without_room(fault, written or path)
    if full is not None:
        return full
    if is_undecoded(fault):
        return _undecoded(path)
    if said == "interrupted":
        return DatabaseError(
            "reading it goes on without end, as no sound database of its size does",
            code="endless",
            place=place,
            remedy=_GO_BACK,
        )
    if "locked" in said or "busy" in said:
        return DatabaseError(
            "database is locked by another program",
            code="locked",
            place=place,
            remedy="Close the other program or wait until it is done, then try again. Nothing was changed.",
        )
    if "readonly" in said or "unable to open" in said or "attempt to write" in said:
        return DatabaseError(
            "the database or its folder cannot be written",
            code="read_only",
            place=place,
            remedy=f"Copy {files_to_copy(path)} to your own folder. Nothing was changed.",
        )
    if "malformed database schema" in said:
        return _list_damaged(said, path)
    if "malformed JSON" in said:
        return DatabaseError(
            "a kept result holds text that is not JSON",
            code="not_json",
            place=place,
            found=said,
            remedy="Another program wrote it. Remove that row of the table calculations, and calculate it again.",
        )
    if "malformed" in said or "not a database" in said or "corrupt" in said:
        return DatabaseError("the file is damaged", code="damaged", place=place, remedy=_GO_BACK)
    if "disk I/O error" in said:
        return DatabaseError(
            "the disk cannot read or write the file",
            code="disk_fault",
            place=place,
            remedy=f"Copy {files_to_copy(path)} to another disk and use it there. If that fails, go back to a backup.",
        )
    missing = _MISSING.search(said)
    if missing:
        return _missing(missing[1], place)
    return DatabaseError(
        "the database refused this", code="refused_by_database", place=place, found=said, remedy="Nothing was changed."
    )


def without_room(fault: sqlite3.Error, written: Path) -> DatabaseError | None:
    """The fault where what is written to a file or into a folder found no room there; None for any other."""
    said = str(fault)
    is_fault = "disk I/O error" in said
    place = Place(str(written if written.name else written.absolute()))
    if "disk is full" in said or (is_fault and _is_full(written)):
        return DatabaseError(
            "the disk is full", code="disk_full", place=place, remedy="Make room and try again. Nothing was changed."
        )
    if getattr(fault, "sqlite_errorcode", None) not in _NOT_TAKEN and not (
        is_fault and said.startswith(_SEARCH_NOT_MADE)
    ):
        return None
    return DatabaseError(
        "there is no room to write it, or the disk fails",
        code="disk_full",
        place=place,
        remedy="Make room and try again: your share of the disk may be used up, or the largest file that is allowed. "
        "Nothing was changed. If there is room enough, the disk may be failing: use another one.",
    )


def lacking_column(path: Path) -> DatabaseError | None:
    """The fault for the first column that a table of the file lacks; None where none does or it cannot be read."""
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as connection:
            for kind in ALL_KINDS:
                held = {row[1] for row in connection.execute(f"PRAGMA main.table_info({kind.table})")}
                lacking = next((name for name in columns_of(kind) if name not in held), None)
                if lacking is not None:
                    return _missing(f"{kind.table}.{lacking}", Place(str(path)))
    except (sqlite3.Error, UnicodeDecodeError, ValueError):
        return None
    return None


def _list_damaged(said: str, path: Path) -> DatabaseError:
    return DatabaseError(
        "its list of tables is damaged", code="damaged", place=Place(str(path)), found=said, remedy=_GO_BACK
    )


def _undecoded(path: Path) -> DatabaseError:
    """The fault for a text that is not UTF-8, with the first of them where the file can be looked through."""
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as connection:
            return undecoded(connection, path)
    except (sqlite3.Error, ValueError):
        return DatabaseError(
            "a row of it has text that is not UTF-8", code="not_utf8", place=Place(str(path)), remedy=_GO_BACK
        )


def _is_full(path: Path) -> bool:
    """Whether there is no room for what SQLite puts beside a database: it calls that a fault of the disk."""
    from shutil import disk_usage

    there = path.absolute()
    try:
        return disk_usage(there if there.is_dir() else there.parent).free < _BESIDE_BYTES
    except OSError:
        return False


def unread_record(what: str) -> DatabaseError:
    """The fault for a record that was found by name or id but could not be read."""
    return DatabaseError(
        f"the {what} was found and then could not be read: the file is damaged, or another program removed it",
        code="damaged",
        remedy=f"Run 'bevelbook check --rebuild'. If that does not help: {_GO_BACK[0].lower()}{_GO_BACK[1:]}",
    )


def _missing(name: str, place: Place) -> DatabaseError:
    remedy = _GO_BACK
    if name in REBUILT:
        remedy = "It follows from the records: 'bevelbook check --rebuild' makes it again."
    return DatabaseError(
        "a table, view or column of it is missing", code="part_missing", place=place, found=name, remedy=remedy
    )
