"""That there is no room for a copy that is only looked at: what it is a copy of may be sound."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.declare.no_room import is_without_room
from bevelbook.store.sqlite_errors import without_room


def no_room_for_copy(folder: Path) -> DatabaseError:
    """The fault where a folder has no room for a copy."""
    return DatabaseError(
        "the disk has no room for a copy of it to look at",
        code="disk_full",
        place=Place(str(folder)),
        remedy="Make room there, or name a folder with more of it in TMPDIR, and try again. A largest size of files or "
        "a share of the disk may be set for you. Nothing was changed.",
    )


@contextmanager
def room_for_copy(folder: Path) -> Iterator[None]:
    """For the duration, that a disk takes no more is a DatabaseError about this folder, whatever was read meanwhile."""
    try:
        yield
    except OSError as fault:
        if not is_without_room(fault):
            raise
        raise no_room_for_copy(folder) from fault
    except sqlite3.Error as fault:
        if without_room(fault, folder) is None:
            raise
        raise no_room_for_copy(folder) from fault
