"""Which records from notes other kept files hold too, found by reading those files again."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from bevelbook.declare.errors import InputError
from bevelbook.kept_json import object_in, object_text
from bevelbook.notes.bulk import BUILD, RUN, RUN_DIFF, WEIGHING, Bulk, extra_id
from bevelbook.notes.changed_rows import LOOKS_CHANGED, same_rows
from bevelbook.notes.decoding import FileRejected, unpacked
from bevelbook.notes.kept_file_read import kept_file_read
from bevelbook.notes.note_columns import LOOSE
from bevelbook.notes.notes_of_stage import notes_of
from bevelbook.notes.staging import Stage
from bevelbook.records import BY_NAME
from bevelbook.records.kept_file_names import called_file_sql
from bevelbook.store.files_elsewhere import ERASED_FILES, with_whom
from bevelbook.store.kept_past import keep_past_of

_TABLES: Final = {"builds": BUILD, "weighings": WEIGHING, "runs": RUN, "run_diffs": RUN_DIFF}


def held_by_others(connection: sqlite3.Connection, note_files: Sequence[str]) -> dict[tuple[str, str], tuple[str, int]]:
    """The records that a row of another kept file than these makes as well: the file and line of the oldest such file.

    By table and id; whether there are such records now is not asked. A file that can no longer be read holds none. A
    row that looked changed and was not taken is not held; one that was recognised under another id is held under that.
    Raises InputError where a file that is not here may hold some; one that was erased holds none.
    """
    _refuse_untold(connection, note_files)
    found: dict[tuple[str, str], tuple[str, int]] = {}
    others = connection.execute(
        "SELECT f.id, f.name, f.options, b.packed FROM note_files f JOIN note_bytes b ON b.sha256 = f.sha256 "
        "WHERE f.id NOT IN (SELECT value FROM json_each(?)) ORDER BY f.read_at, f.id",
        (json.dumps([*note_files]),),
    ).fetchall()
    these = {
        one: row[0] if row else ""
        for one in note_files
        for row in [connection.execute("SELECT name FROM note_files WHERE id = ?", (one,)).fetchone()]
    }
    bulk = Bulk(connection, note_file="", stamp="", by=None, dry=True)
    for file_id, name, options, packed in others:
        not_taken = connection.execute(
            "SELECT line FROM note_rejects WHERE note_file = ? AND reason = ?", (file_id, LOOKS_CHANGED)
        )
        lines = [row[0] for row in not_taken]
        for line, note in _notes_in(name, options, packed, lines, bulk, these):
            for table, digit in _TABLES.items():
                found.setdefault((table, note + digit), (file_id, line))
    return found


def _refuse_untold(connection: sqlite3.Connection, note_files: Sequence[str]) -> None:
    """Raise InputError where another file is not here and has more rows than came of it: others may have these too."""
    lines = " UNION ".join(f"SELECT note_line FROM {table} WHERE note_file = f.id" for table in _TABLES)
    found = connection.execute(
        f"SELECT f.id, {called_file_sql('f')} FROM note_files f WHERE f.id NOT IN (SELECT value FROM json_each(?)) "
        f"AND f.sha256 NOT IN (SELECT sha256 FROM note_bytes UNION {ERASED_FILES}) "
        f"AND f.accepted > (SELECT count(*) FROM ({lines})) ORDER BY f.read_at, f.id LIMIT 1",
        (json.dumps([*note_files]),),
    ).fetchone()
    if found is not None:
        raise InputError(
            "whether another kept file has the same rows cannot be seen, since it is not here: it is with "
            f"{with_whom(connection, found[0])}",
            code="file_not_here",
            found=found[1],
            remedy="It comes when a whole export, or the database, from there is merged. Nothing was changed.",
        )


def move_cells_beside(connection: sqlite3.Connection, note_file: str, moved: Mapping[str, tuple[str, int]]) -> None:
    """Have the cells that no record takes go with rows that belong to another kept file from now on.

    ``moved`` has the new file and line of records of ``note_file``, by their id; asked before they are moved.
    """
    kind = BY_NAME["note_extra"]
    lines: dict[int, tuple[str, int]] = {}
    for table in _TABLES:
        for row_id, line in connection.execute(f"SELECT id, note_line FROM {table} WHERE note_file = ?", (note_file,)):
            if row_id in moved:
                lines[line] = moved[row_id]
    for line, (other, other_line) in lines.items():
        beside = {name: value for name, value in _cells(connection, note_file, line).items() if name in LOOSE}
        if not beside:
            continue
        row_id = extra_id(other, other_line)
        keep_past_of(connection, kind, row_id)
        held = _cells(connection, other, other_line)
        cells = object_text(held | beside)
        connection.execute(
            "INSERT INTO note_extras (id, note_file, line, cells) VALUES (?, ?, ?, ?) "
            "ON CONFLICT (id) DO UPDATE SET cells = excluded.cells",
            (row_id, other, other_line, cells),
        )


def _cells(connection: sqlite3.Connection, note_file: str, line: int) -> dict[str, object]:
    found = connection.execute("SELECT cells FROM note_extras WHERE id = ?", (extra_id(note_file, line),)).fetchone()
    return (object_in(found[0]) or {}) if found else {}


def _notes_in(
    name: str, options: str | None, packed: bytes, not_taken: Sequence[int], bulk: Bulk, of: dict[str, str]
) -> Iterator[tuple[int, str]]:
    """The line and the id, without its last digit, of every row that a kept file holds; a row that is recognised as one
    of other files (``of``, their names by id) has that one's id too."""
    try:
        with kept_file_read(bulk.connection, name, options, unpacked(packed)) as stage:
            stage.set_aside(not_taken)
            found = list(note_ids(stage))
            yield from found
            owners = bulk.owners_of([note for _, note in found])
            unknown = [line for (line, _), owner in zip(found, owners, strict=True) if owner is None]
            yield from same_rows(stage, bulk, of, unknown).items()
    except FileRejected:
        return


def note_ids(stage: Stage) -> Iterator[tuple[int, str]]:
    """The line and the id, without its last digit, of every staged row, by day and line."""
    for one in notes_of(stage):
        yield one.line, one.note
