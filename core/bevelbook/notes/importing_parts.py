"""All sheets of a workbook with a heading of notes into the database: each a part of its own, in one entry."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import ExitStack, closing
from pathlib import Path
from typing import Any, BinaryIO

from bevelbook.notes.changed_rows import Decide
from bevelbook.notes.decoding import FileRejected
from bevelbook.notes.importing import (
    BeforeWriting,
    ReadFile,
    finish_report,
    import_notes,
    look_at_changes,
    place_only,
    read_file,
    refused,
    without_collector,
    write_read,
)
from bevelbook.notes.read_rows import Progress
from bevelbook.notes.report import Report
from bevelbook.notes.settings import Settings
from bevelbook.notes.source import sheets_of_notes
from bevelbook.notes.staging import make_room
from bevelbook.records.kept_file_names import called_file
from bevelbook.store.opening import transaction


def import_all(
    file: BinaryIO,
    name: str,
    connection: sqlite3.Connection,
    path: Path,
    settings: Settings,
    *,
    dry_run: bool = False,
    want_rows: bool = False,
    by: str | None = None,
    asked: str = "",
    progress: Progress | None = None,
    rejects: Callable[[str], Path] | None = None,
    also: Callable[[str], None] | None = None,
    decide: Decide | None = None,
    before_writing: BeforeWriting | None = None,
) -> list[Report]:
    """Import a file, or all sheets of a workbook if that was said, with a report for each part."""
    run = import_sheets if settings.all_sheets else _one
    return run(
        *(file, name, connection, path, settings),
        dry_run=dry_run,
        want_rows=want_rows,
        by=by,
        asked=asked,
        progress=progress,
        rejects=rejects,
        also=also,
        decide=decide,
        before_writing=before_writing,
    )


def _one(
    file: BinaryIO, name: str, connection: sqlite3.Connection, path: Path, settings: Settings, **more: Any
) -> list[Report]:
    return [import_notes(file, name, connection, path, settings, **more)]


def import_sheets(
    file: BinaryIO,
    name: str,
    connection: sqlite3.Connection,
    path: Path,
    settings: Settings,
    *,
    dry_run: bool = False,
    want_rows: bool = False,
    by: str | None = None,
    asked: str = "",
    progress: Progress | None = None,
    rejects: Callable[[str], Path] | None = None,
    also: Callable[[str], None] | None = None,
    decide: Decide | None = None,
    before_writing: BeforeWriting | None = None,
) -> list[Report]:
    """Import every visible sheet of a workbook that has a heading of notes, with a report for each.

    The sheets are one entry, so that they are taken back together. Where one of them is refused nothing is stored, and
    its report is the only one. Everything else is as in :func:`~bevelbook.notes.importing.import_notes`.
    """
    tell = progress or (lambda _what, _done, _all: None)
    whole = Report(name, dry_run=dry_run)
    waiting: list[ReadFile] = []
    with ExitStack() as stages:
        try:
            names = sheets_of_notes(file, settings)
        except FileRejected as fault:
            return [refused(whole, fault)]
        for sheet in names:
            of_sheet = settings._replace(sheet=sheet)
            report = Report(called_file(name, of_sheet.part), dry_run=dry_run)
            beside = stages.enter_context(closing(sqlite3.connect("", isolation_level=None)))
            try:
                read = read_file(
                    file, name, of_sheet, beside, path, report, tell, pack=not dry_run, want_rows=want_rows
                )
            except FileRejected as fault:
                return [refused(report, fault)]
            waiting.append(read)
        if before_writing is not None:
            before_writing(waiting)
        for read in waiting:
            look_at_changes(read, connection, decide, by)
        if dry_run:
            for read in waiting:
                place_only(read, connection, by, tell)
        else:
            make_room(connection)
            with without_collector(), transaction(connection, path, asked=asked or f"import {name}", by=by) as entry:
                for read in waiting:
                    write_read(read, connection, entry, by, tell, also)
        for read in waiting:
            finish_report(read, want_rows=want_rows, rejects=rejects)
    return [read.report for read in waiting]
