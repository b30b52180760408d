"""Whether a book ran since its last copy: what is then said of it."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from bevelbook.backup.last_runs import LastRuns, last_runs
from bevelbook.display.clock import local_time
from bevelbook.store.book_mark import known_mark
from bevelbook.store.edition_mark import edition_of
from bevelbook.store.invented_mark import is_invented

if TYPE_CHECKING:
    from bevelbook.backup.copies_noted import NotedCopy


class CopyDue(NamedTuple):
    """A book that ran since its last copy: its last runs, and that copy; None for none that is known here."""

    runs: LastRuns
    last: NotedCopy | None

    @property
    def words(self) -> str:
        """That, in a sentence without its remedy."""
        if self.last is None:
            return "No backup of this book was made on this computer"
        at = local_time(self.last.made_at)
        day = f"{at:%Y-%m-%d}" if at else self.last.made_at
        return f"The last backup is of {day}, and runs of {self.runs.day} are not in it"

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        return {
            "words": self.words,
            "last_backup": self.last.made_at if self.last else None,
            "last_run_on": self.runs.day,
        }


def copy_due(connection: sqlite3.Connection, path: Path, settings: Path) -> CopyDue | None:
    """What is to be said of the copies of a database; None where its last one has its last runs, where it has no runs,
    and where all of it is invented or it is an edition.

    Raises sqlite3.Error, and DatabaseError where the list of copies cannot be read.
    """
    runs = last_runs(connection)
    if runs.day is None or is_invented(connection) or edition_of(connection) is not None:
        return None
    from bevelbook.backup.copies_noted import CopiesNoted, database_named

    book, database = known_mark(connection), database_named(path)
    noted = CopiesNoted(settings).of_book(book) if book else []
    last = next((one for one in noted if one.database == database and one.may_be_there), None)
    if (
        last is not None
        and last.runs.day is not None
        and (last.runs.day, last.runs.how_many) >= (runs.day, runs.how_many)
    ):
        return None
    return CopyDue(runs, last)
