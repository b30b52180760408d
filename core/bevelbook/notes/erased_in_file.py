"""A file of notes that has what was erased: its rows are taken without it, and its bytes are not kept."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection

from bevelbook.facts.touched_diffs import diffs_of_file
from bevelbook.notes.bulk import BUILD, RUN, RUN_DIFF, WEIGHING
from bevelbook.notes.corrected_lines import is_of_rejects
from bevelbook.notes.notes_of_stage import notes_of
from bevelbook.notes.staging import Stage
from bevelbook.store.blanking import holds_erased, make_blank
from bevelbook.store.blanking_rules import Blanking
from bevelbook.store.erased_marks import Mark, are_any_marks, keep_marks, marks_in
from bevelbook.store.wiping import note_to_wipe
from bevelbook.store.writing import coming_in

_TABLES = {"builds": BUILD, "weighings": WEIGHING, "runs": RUN, "run_diffs": RUN_DIFF}


def leave_out_erased(connection: sqlite3.Connection, note_file: str, stage: Stage, past: int) -> bool:
    """Have what an import brought be without what was erased, inside the caller's transaction; ``past`` is the last row
    of the history before it.

    The file itself is not kept where it has a name that was erased, or a row of whose record a text was. Returns
    whether there was anything of that.
    """
    if not are_any_marks(connection):
        return False
    marks = marks_in(connection)
    blank = Blanking(marks)
    found = connection.execute(
        "SELECT b.sha256, b.packed FROM note_files f JOIN note_bytes b ON b.sha256 = f.sha256 WHERE f.id = ?",
        (note_file,),
    ).fetchone()
    if found is not None and (holds_erased(found[1], blank) or _has_erased_row(stage, blank)):
        mark = Mark("file", found[0])
        keep_marks(connection, [mark])
        blank.files.add(mark.row_id)
    with coming_in(connection):
        is_any = bool(make_blank(connection, blank, note_file=note_file, past=past))
    if is_any:
        note_to_wipe(connection)
    return is_any


def _has_erased_row(stage: Stage, blank: Blanking) -> bool:
    """Whether a row of the file is one of whose record a text was erased: the file still has that text."""
    erased = {(table, row_id) for table, row_id in blank.texts if table in _TABLES}
    return bool(erased) and any(
        (table, one.note + digit) in erased for one in notes_of(stage) for table, digit in _TABLES.items()
    )


def diffs_placed_by(connection: sqlite3.Connection, hashes: Collection[str]) -> set[str]:
    """The diffs of which rows may be placed otherwise when the bytes of these files go: their own, and those of files
    of rejected rows, which are looked up in their sheet."""
    if not hashes:
        return set()
    files = connection.execute("SELECT id, name, sha256 FROM main.note_files ORDER BY id").fetchall()
    return {
        diff
        for file, name, sha256 in files
        if sha256 in hashes or is_of_rejects(name)
        for diff in diffs_of_file(connection, file)
    }
