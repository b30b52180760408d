"""A kept file that reads otherwise, by other settings or by a version that understands more: it would come in twice."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from itertools import islice
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.display.begun import begun
from bevelbook.notes.bulk import LOOKED_UP_ROWS, Bulk
from bevelbook.notes.changed_rows import lines_elsewhere, look_for_changes
from bevelbook.notes.decoding import FileRejected, rejected
from bevelbook.notes.notes_of_stage import notes_of
from bevelbook.notes.staging import Stage
from bevelbook.notes.wording import WHERE_KEPT
from bevelbook.records.kept_file_names import called_file_sql

READ_OTHERWISE: Final = "read_otherwise"
"""The reason code of a file that is in the database already, and whose rows would read otherwise now."""
_LINES_HELD: Final = (
    "SELECT note_line FROM builds WHERE note_file = ?1 UNION SELECT note_line FROM weighings WHERE note_file = ?1 "
    "UNION SELECT note_line FROM run_diffs WHERE note_file = ?1"
)


class KeptAs(NamedTuple):
    """A file that is kept: its id, and the name that finds it among the kept files."""

    id: str
    name: str


def kept_as(connection: sqlite3.Connection, note_file: str) -> KeptAs | None:
    """How the file with this id is kept; None if it is not."""
    row = connection.execute(
        f"SELECT {called_file_sql('f')}, f.sha256, (SELECT count(*) FROM note_files o WHERE o.name = f.name "
        f"OR {called_file_sql('o')} = {called_file_sql('f')}), f.part FROM note_files f WHERE f.id = ?",
        (note_file,),
    ).fetchone()
    if row is None:
        return None
    called, sha256, namesakes, part = row
    return KeptAs(note_file, called if namesakes == 1 or part else sha256[:12])


def refuse_other_reading(stage: Stage, bulk: Bulk, kept: KeptAs) -> None:
    """Refuse a kept file if a row that came in reads otherwise than it did: with these settings, or by this version.

    Raises FileRejected with the reason :data:`READ_OTHERWISE`.
    """
    other = _lines_read_otherwise(stage, bulk)
    if other:
        raise _refusal(kept, other)


def _lines_read_otherwise(stage: Stage, bulk: Bulk) -> list[int]:
    """The lines with records of the file that are now another row, or none."""
    held = {line for (line,) in bulk.connection.execute(_LINES_HELD, (bulk.note_file,))}
    held -= lines_elsewhere(bulk).keys()
    held.difference_update(_known_lines(stage, bulk))
    if held:
        held -= look_for_changes(stage, bulk, "").same.keys()
    return sorted(held)


def _known_lines(stage: Stage, bulk: Bulk) -> Iterator[int]:
    rows = notes_of(stage)
    while some := list(islice(rows, LOOKED_UP_ROWS)):
        owners = bulk.owners_of([row.note for row in some])
        yield from (row.line for row, owner in zip(some, owners, strict=True) if owner is not None)


def _refusal(kept: KeptAs, lines: list[int]) -> FileRejected:
    return rejected(
        "read_otherwise",
        f"this file is in the database already, and as it is read now {counted(len(lines), 'row')} of it would come "
        "in once more, read otherwise",
        line=lines[0],
        remedy=f"{begun(WHERE_KEPT)}.",
    )
