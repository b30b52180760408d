"""What is to be said of how a database is kept: that it ran since its last copy, that others can read it. Nothing of it
is a fault, and no verdict depends on it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final, NamedTuple

from bevelbook.backup.copy_due import copy_due
from bevelbook.declare.errors import DatabaseError
from bevelbook.declare.in_command import in_command
from bevelbook.store.closed_file import open_to_others
from bevelbook.store.edition_mark import edition_of

MAKE_ONE: Final = "bevelbook backup"
"""The command that makes a copy."""


class KeepingNote(NamedTuple):
    """One remark: its code for programs, what it says, and the command that helps."""

    code: str
    words: str
    command: str

    @property
    def line(self) -> str:
        """The remark with its remedy, for people."""
        return f"{self.words}: '{self.command}'." if self.command else f"{self.words}."

    def as_dict(self) -> dict[str, Any]:
        """The remark for programs."""
        return self._asdict()


def keeping_notes(connection: sqlite3.Connection, path: Path, settings: Path) -> Iterator[KeepingNote]:
    """The remarks about a database that is open for reading; of an edition, which is for others to read, how to go on
    from it. Raises sqlite3.Error."""
    if edition_of(connection) is not None:
        words = "This is an edition, a copy to read: nothing is written into it. For a database of your own with it"
        yield KeepingNote("is_edition", words, f"bevelbook --db mine.db new --from {in_command(str(path))}")
        return
    try:
        due = copy_due(connection, path, settings)
    except DatabaseError as fault:
        yield KeepingNote(fault.code, str(fault).removesuffix("."), "")
    else:
        if due is not None:
            yield KeepingNote("backup_due", due.words, MAKE_ONE)
    if open_to_others(path):
        closed = f"chmod 600 {in_command(str(path))}"
        yield KeepingNote("open_to_others", f"Everybody who uses this computer can read {path.name}", closed)
