"""A file into the database in parts, in one entry: the sheets of a workbook, and the places that cells are split
into."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import ExitStack, closing
from pathlib import Path
from typing import IO, BinaryIO, TypedDict, Unpack

from bevelbook.notes.changed_rows import Decide
from bevelbook.notes.decoding import FileRejected
from bevelbook.notes.importing import (
    BeforeWriting,
    ReadFile,
    finish_report,
    import_notes,
    look_at_changes,
    look_whether_kept,
    read_file,
    refused,
    try_out,
    without_collector,
    write_read,
)
from bevelbook.notes.kept_answers import kept_answers
from bevelbook.notes.read_rows import Progress
from bevelbook.notes.report import Report
from bevelbook.notes.settings import Settings
from bevelbook.notes.settings_of_sheet import WithSheet, with_sheet
from bevelbook.notes.sheets import BookInParts
from bevelbook.notes.source import sheets_of_notes, source_of
from bevelbook.notes.splitting import is_split
from bevelbook.notes.staging import make_room
from bevelbook.records.kept_file_names import called_file
from bevelbook.store.opening import transaction


class ImportKeywords(TypedDict, total=False):
    """What :func:`import_parts` and :func:`~bevelbook.notes.importing.import_notes` take by keyword."""

    dry_run: bool
    want_rows: bool
    by: str | None
    asked: str
    entry_id: str | None
    progress: Progress | None
    rejects: Callable[[str], Path | IO[bytes]] | None
    also: Callable[[str], None] | None
    decide: Decide | None
    before_writing: BeforeWriting | None
    as_before: bool


def import_all(
    file: BinaryIO,
    name: str,
    connection: sqlite3.Connection,
    path: Path,
    settings: Settings,
    **more: Unpack[ImportKeywords],
) -> list[Report]:
    """Import a file, or its parts if it is to be read in parts, with a report for each."""
    settings = _without_split_of_rejects(file, name, settings)
    if settings.is_in_parts:
        return import_parts(file, name, connection, path, settings, **more)
    return [import_notes(file, name, connection, path, settings, **more)]


def _without_split_of_rejects(file: BinaryIO, name: str, settings: Settings) -> Settings:
    """The same settings; for a file of rejected rows of a part, which is split already, without the split."""
    if not settings.split or settings.all_sheets:
        return settings
    whole = settings._replace(split={})
    try:
        source = source_of(file, name, whole, pack=False, check=False)
    except FileRejected:
        return settings
    return whole if is_split(source.heading) else settings


def _parts(file: BinaryIO, settings: Settings, *, pack: bool) -> tuple[list[Settings], BookInParts | None]:
    """The settings for each part, and the workbook that has them. Raises FileRejected."""
    sheets, book = [settings], None
    if settings.all_sheets:
        names, book = sheets_of_notes(file, settings, pack=pack)
        # a heading that a person named has to be in one of the sheets, not in each
        sheets = [settings._replace(sheet=name, named_headings=()) for name in names]
    return [part for one in sheets for part in one.for_each_place()], book


def import_parts(
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
    entry_id: str | None = None,
    progress: Progress | None = None,
    rejects: Callable[[str], Path | IO[bytes]] | None = None,
    also: Callable[[str], None] | None = None,
    decide: Decide | None = None,
    before_writing: BeforeWriting | None = None,
    as_before: bool = True,
) -> list[Report]:
    """Import every part of a file, with a report for each: every visible sheet of a workbook that has a heading of
    notes, if all are wanted, and every place that cells are split into.

    The parts are one entry, so that they are taken back together. Where one of them is refused nothing is stored, and
    its report is the only one. Everything else is as in :func:`~bevelbook.notes.importing.import_notes`.
    """
    tell = progress or (lambda _what, _done, _all: None)
    whole = Report(name, dry_run=dry_run)
    waiting: list[ReadFile] = []
    of_sheet = WithSheet(settings) if settings.all_sheets else with_sheet(file, name, settings, connection)
    with ExitStack() as stages:
        try:
            parts, book = _parts(file, of_sheet.settings, pack=not dry_run)
        except FileRejected as fault:
            return [refused(whole, fault)]
        kept = kept_answers(file, connection) if as_before else {}
        for one in parts:
            part = one.over_kept(kept.get(one.part, Settings()))
            report = Report(called_file(name, part.part), dry_run=dry_run, is_part=True)
            report.warnings += of_sheet.warnings
            if part.said() != one.said() and "read_as_before" not in report.warnings:
                report.warnings.append("read_as_before")
            beside = stages.enter_context(closing(sqlite3.connect("", isolation_level=None)))
            try:
                read = read_file(
                    *(file, name, part, beside, path, report, tell),
                    pack=not dry_run,
                    want_rows=want_rows,
                    records=connection,
                    book=book,
                )
                look_whether_kept(read, connection, by)
            except FileRejected as fault:
                return [refused(report, fault)]
            waiting.append(read)
        if before_writing is not None:
            before_writing(waiting)
        for read in waiting:
            look_at_changes(read, connection, decide, by)
        if dry_run:
            try_out(waiting, connection, path, by, tell)
        else:
            make_room(connection)
            with (
                without_collector(),
                transaction(connection, path, asked=asked or f"import {name}", by=by, entry_id=entry_id) as entry,
            ):
                for read in waiting:
                    write_read(read, connection, entry, by, tell, also)
        for read in waiting:
            finish_report(read, want_rows=want_rows, rejects=rejects)
    return [read.report for read in waiting]
