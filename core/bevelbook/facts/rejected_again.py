"""What became of rows of notes that were rejected: closed, or rejected once more in a later file and open there.

A rejected row has the file and line that it came in on next. Where that line was rejected too, the row goes on from
there: it is closed only where the last of these lines was taken.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.records.kept_file_names import called_file_sql

_LATER: Final = """
WITH RECURSIVE later (first, note_file, line) AS (
    SELECT id, closed_by, closed_line FROM note_rejects
    WHERE note_file = ?1 AND status = 'rejected' AND closed_by IS NOT NULL
    UNION
    SELECT l.first, r.closed_by, r.closed_line FROM later l
    JOIN note_rejects r ON r.note_file = l.note_file AND r.line = l.line AND r.status = 'rejected'
    WHERE r.closed_by IS NOT NULL
),
still_open (first, note_file) AS (
    SELECT DISTINCT l.first, r.note_file FROM later l
    JOIN note_rejects r ON r.note_file = l.note_file AND r.line = l.line AND r.status = 'rejected'
    WHERE r.closed_by IS NULL
)
"""
"""The lines that each rejected row of a file came in on later, and those files in which it is open."""
EVERY_FORM: Final = """
WITH RECURSIVE form (open_id, id) AS (
    SELECT id, id FROM note_rejects WHERE status = 'rejected' AND closed_by IS NULL
    UNION
    SELECT f.open_id, e.id FROM form f JOIN note_rejects r ON r.id = f.id
    JOIN note_rejects e ON e.closed_by = r.note_file AND e.closed_line = r.line AND e.status = 'rejected'
)
"""
"""Each open rejected row, by id, with the ids of it in all files that it was rejected in."""


class OpenElsewhere(NamedTuple):
    """How many rejected rows of a file were rejected once more in another one, what that is called, and are open
    there."""

    rows: int
    file: str


class RejectedSince(NamedTuple):
    """Of the rejected rows of a file: how many came in since, and where others were rejected once more."""

    closed: int = 0
    elsewhere: tuple[OpenElsewhere, ...] = ()

    def lines(self) -> Iterator[str]:
        """Where the others are open, for people."""
        for rows, file in self.elsewhere:
            verb, them = ("was", "it") if rows == 1 else ("were", "them")
            yield f"{counted(rows, 'row')} {verb} rejected once more in {file}: correct {them} there."


def rejected_since(connection: sqlite3.Connection, note_file: str) -> RejectedSince:
    """What became of the rejected rows of a kept file that are not open in it any more."""
    (closed,) = connection.execute(
        f"{_LATER} SELECT count(DISTINCT l.first) FROM later l WHERE l.first NOT IN (SELECT first FROM still_open) "
        "AND NOT EXISTS (SELECT 1 FROM note_rejects r WHERE r.note_file = l.note_file AND r.line = l.line "
        "AND r.status = 'rejected')",
        (note_file,),
    ).fetchone()
    elsewhere = connection.execute(
        f"{_LATER} SELECT count(DISTINCT s.first), {called_file_sql('f')} FROM still_open s "
        "JOIN note_files f ON f.id = s.note_file GROUP BY f.id ORDER BY f.read_at, f.id",
        (note_file,),
    )
    return RejectedSince(closed, tuple(OpenElsewhere(*row) for row in elsewhere))


def rejected_again(connection: sqlite3.Connection, note_file: str) -> dict[str, int]:
    """The open rejected rows of other files that were rejected in this one before, by id, with their line in it."""
    found = connection.execute(
        f"{EVERY_FORM} SELECT a.open_id, r.line FROM form a JOIN note_rejects r ON r.id = a.id "
        "WHERE r.note_file = ? AND a.id <> a.open_id ORDER BY r.line, a.open_id, r.id",
        (note_file,),
    )
    return dict(found.fetchall())
