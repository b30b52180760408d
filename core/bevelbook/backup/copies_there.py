"""The copies of a book that can be found: dated ones, and those that were kept before a merge, a new version or a
copy that was brought back."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final, NamedTuple

from bevelbook.backup.copies_noted import CopiesNoted, NotedCopy, note_of
from bevelbook.backup.dated_copy import is_dated_name, only_read
from bevelbook.backup.held_content import refuse_unsound
from bevelbook.declare.errors import DatabaseError
from bevelbook.display.clock import local_time
from bevelbook.store.book_mark import known_mark
from bevelbook.store.opened_to_read import check_is_ours

BEFORE_BRING_BACK: Final = ".before-bring-back"
_SORTS: Final = (
    (r"\.before-merge(?:-\d+)?", "as it was before a merge"),
    (r"\.before-step-\d+(?:-\d+)?", "as it was before a new version"),
    (re.escape(BEFORE_BRING_BACK) + r"-\d{4}-\d\d-\d\d-\d{4}(?:-\d+)?", "as it was before a copy was brought back"),
)
_MOST_TRIED: Final = 12
"""Copies that are read through, at most, to name those that are sound."""


class CopyThere(NamedTuple):
    """A copy of a book: its file, of what sort it is, when it was made (UTC), and whether it counts as one that this
    computer made and nothing has written to since."""

    path: Path
    sort: str
    made_at: str
    byte_count: int
    is_counted: bool

    def as_dict(self) -> dict[str, Any]:
        """The copy for programs."""
        return {**self._asdict(), "path": str(self.path)}

    @property
    def at(self) -> str:
        """When it was made, by the clock on the wall."""
        found = local_time(self.made_at)
        return f"{found:%Y-%m-%d %H:%M}" if found else self.made_at


def copies_there(path: Path, book: str | None, settings: Path, further: Iterable[Path] = ()) -> list[CopyThere]:
    """The copies of a book beside it, in further folders and where this computer put some, the newest first.

    ``book`` is its mark, None where it has none or is too damaged to say; copies without a mark count as its own by
    their name. Raises DatabaseError where the list of
    copies cannot be read.
    """
    made_here = CopiesNoted(settings)
    noted = made_here.of_book(book) if book else made_here.of_database(path)
    folders = dict.fromkeys(one.resolve() for one in (path.parent, *further, *(Path(one.folder) for one in noted)))
    found = [one for folder in folders for one in _in_folder(folder, path, book, noted)]
    return sorted(found, key=lambda one: (one.made_at, one.path.name), reverse=True)


def _in_folder(folder: Path, path: Path, book: str | None, noted: Sequence[NotedCopy]) -> Iterator[CopyThere]:
    try:
        files = sorted(folder.iterdir())
    except OSError:
        return
    for file in files:
        sort = sort_of(file.name, path)
        if sort is None or not file.is_file() or not _may_be_of(file, book):
            continue
        own = note_of(file, noted)
        with suppress(OSError):
            state = file.stat()
            changed_at = datetime.fromtimestamp(state.st_mtime, UTC).isoformat(timespec="milliseconds")
            yield CopyThere(file, sort, own.made_at if own else changed_at, state.st_size, own is not None)


def sort_of(name: str, path: Path) -> str | None:
    """Of what sort a copy of a database is, by its name; None for a name that no copy gets."""
    if is_dated_name(name, path):
        return "dated"
    for pattern, sort in _SORTS:
        if re.fullmatch(f"{re.escape(path.stem)}{pattern}{re.escape(path.suffix)}", name):
            return sort
    return None


def _may_be_of(file: Path, book: str | None) -> bool:
    try:
        check_is_ours(file)
        with only_read(file) as connection:
            mark = known_mark(connection)
    except DatabaseError as fault:
        return fault.code == "database_newer"
    except sqlite3.Error as fault:
        return "no such table" in str(fault)  # older than marks; a damaged file says something else
    return mark is None or book is None or mark == book


def sound_copies(copies: Iterable[CopyThere], most: int) -> list[CopyThere]:
    """The first of these copies that SQLite finds whole."""
    found: list[CopyThere] = []
    for one in list(copies)[:_MOST_TRIED]:
        with suppress(DatabaseError, sqlite3.Error), only_read(one.path) as connection:
            refuse_unsound(connection, one.path, "")
            found.append(one)
        if len(found) == most:
            break
    return found
