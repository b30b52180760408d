"""A database with changes beside it (-wal) in a folder that cannot be written: SQLite reads it nowhere but from a copy.

The copy lies in a folder of mode 0700 where the system has such, and goes with whoever reads it.
"""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import ExitStack
from pathlib import Path
from typing import Final, NamedTuple

from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.store.closed_file import files_to_copy, log_of
from bevelbook.store.folder_aside import folder_aside
from bevelbook.store.ids import now_utc

_MOST_TRIES: Final = 20
_LOG_HEAD_BYTES: Final = 32
"""Of a log: it begins with numbers of its own, drawn again whenever it starts from its beginning."""
_State = tuple[int, int, bytes]


class ConnectionToCopy(sqlite3.Connection):
    """A connection to a copy that nobody else knows; closing it removes the copy."""

    aside: ExitStack | None = None

    def close(self) -> None:
        super().close()
        if self.aside is not None:
            self.aside.close()


class CopyAside(NamedTuple):
    """A copy that nobody else knows, when it was made (UTC), and what removes it when it is closed."""

    copy: Path
    made_at: str
    kept: ExitStack


def copied_aside(path: Path) -> CopyAside:
    """A copy of a file and of the changes beside it, as of one moment. Raises DatabaseError where there is no room for
    one, or they change all the time meanwhile."""
    with ExitStack() as until_copied:
        try:
            copy = until_copied.enter_context(folder_aside()) / path.name
            is_copied = _copied(path, log_of(path), copy)
        except (OSError, DatabaseError) as fault:
            raise _unread_log(path) from fault
        if not is_copied:
            raise _unread_log(path)
        return CopyAside(copy, now_utc(), until_copied.pop_all())


def _copied(path: Path, log: Path, copy: Path) -> bool:
    """Copy the file, then its log, as of one moment: what is added to the log meanwhile does no harm, but the file may
    not take anything from it."""
    for _ in range(_MOST_TRIES):
        before = _state(path, log)
        shutil.copyfile(path, copy)
        shutil.copyfile(log, copy.with_name(f"{copy.name}-wal"))
        if _state(path, log) == before:
            return True
    return False


def _state(path: Path, log: Path) -> _State:
    found = path.stat()
    with log.open("rb") as file:
        return found.st_mtime_ns, found.st_size, file.read(_LOG_HEAD_BYTES)


def _unread_log(path: Path) -> DatabaseError:
    return DatabaseError(
        "the folder cannot be written, and rows that are not in the file yet are beside it (-wal), which could not be "
        "copied to where they can be read",
        code="log_unread",
        place=Place(str(path)),
        remedy=f"Close the program that writes to it, or copy {files_to_copy(path)} to your own folder.",
    )
