"""A database with changes beside it (-wal) in a folder that cannot be written: SQLite reads it nowhere but from a copy.

The copy lies in a folder of mode 0700 where the system has such, and goes with the connection.
"""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import Final

from bevelbook.store.folder_aside import folder_aside

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


def read_copied(path: Path, log: Path, read: Callable[[Path], sqlite3.Connection]) -> sqlite3.Connection | None:
    """A connection that ``read`` opens to a copy of both, a :class:`ConnectionToCopy`; None where they change all the
    time meanwhile. Raises OSError."""
    with ExitStack() as until_open:
        copy = until_open.enter_context(folder_aside()) / path.name
        if not _copied(path, log, copy):
            return None
        connection = read(copy)
        assert isinstance(connection, ConnectionToCopy)
        connection.aside = until_open.pop_all()
        return connection


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
