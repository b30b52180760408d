"""The rejected rows of kept files that did not come in corrected since."""

from __future__ import annotations

import sqlite3
from typing import Final, NamedTuple

from bevelbook.facts.sql import rows
from bevelbook.notes.cells import kept_cells
from bevelbook.records.kept_file_names import called_file, called_file_sql

_OPEN: Final = "r.status = 'rejected' AND r.closed_by IS NULL"


class RejectedRow(NamedTuple):
    """A row of a kept file that was rejected, and did not come in corrected since; ``column`` is the name of the note
    column that is wrong, where it is one."""

    id: str
    line: int
    reason: str
    column: str | None
    value: str | None
    words: str
    cells: tuple[str, ...]


class FileWithRejects(NamedTuple):
    """A kept file with rows still to mend, and how many."""

    id: str
    called: str
    read_at: str
    waiting: int


def files_with_rejects(connection: sqlite3.Connection) -> list[FileWithRejects]:
    """The kept files with rows still to mend, the newest first."""
    found = rows(
        connection,
        f"SELECT f.id, {called_file_sql('f')} AS called, f.read_at, count(*) AS waiting FROM note_rejects r "
        f"JOIN note_files f ON f.id = r.note_file WHERE {_OPEN} GROUP BY f.id ORDER BY f.read_at DESC, f.id",
    )
    return [FileWithRejects(one["id"], one["called"], one["read_at"], one["waiting"]) for one in found]


def kept_file_called(connection: sqlite3.Connection, note_file: str) -> str | None:
    """What a kept file is called; None where it is not there."""
    found = connection.execute("SELECT name, part FROM note_files WHERE id = ?", (note_file,)).fetchone()
    return None if found is None else called_file(*found)


def open_rows(connection: sqlite3.Connection, note_file: str) -> list[RejectedRow]:
    """The rows of a kept file that are still to mend, by line."""
    found = connection.execute(
        f"SELECT r.id, r.line, r.reason, r.column_name, r.value, coalesce(r.words, ''), r.raw FROM note_rejects r "
        f"WHERE r.note_file = ? AND {_OPEN} ORDER BY r.line, r.id",
        (note_file,),
    )
    return [
        RejectedRow(row_id, line, reason, column, value, words, tuple(kept_cells(raw)))
        for row_id, line, reason, column, value, words, raw in found
    ]
