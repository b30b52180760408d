"""What an import would do, tried on a copy: also which rows would move, and which rejected rows would be closed."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import BinaryIO

from bevelbook.notes.changed_rows import Decide
from bevelbook.notes.importing import BeforeWriting
from bevelbook.notes.importing_parts import import_all
from bevelbook.notes.read_rows import Progress
from bevelbook.notes.report import Report
from bevelbook.notes.settings import Settings
from bevelbook.store.copying import copy_aside


def preview_import(
    file: BinaryIO,
    name: str,
    connection: sqlite3.Connection,
    path: Path,
    settings: Settings,
    *,
    want_rows: bool = False,
    by: str | None = None,
    progress: Progress | None = None,
    decide: Decide | None = None,
    before_writing: BeforeWriting | None = None,
) -> list[Report]:
    """The reports of an import that writes nothing; its connection may be read-only.

    Where the database has no notes nothing can move or be closed, and no copy is made. Raises DatabaseError where the
    disk has no space left for one.
    """
    held = "SELECT EXISTS (SELECT 1 FROM builds) OR EXISTS (SELECT 1 FROM runs) OR EXISTS (SELECT 1 FROM note_files)"
    if not connection.execute(held).fetchone()[0]:
        return import_all(
            file,
            name,
            connection,
            path,
            settings,
            dry_run=True,
            want_rows=want_rows,
            by=by,
            progress=progress,
            before_writing=before_writing,
        )
    with closing(copy_aside(connection, path)) as copy:
        reports = import_all(
            file,
            name,
            copy,
            path,
            settings,
            want_rows=want_rows,
            by=by,
            progress=progress,
            decide=decide,
            before_writing=before_writing,
        )
    for report in reports:
        report.dry_run, report.note_file = True, None
    return reports
