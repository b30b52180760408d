"""A file of notes into the database: read, staged, placed, reported."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from bevelbook.facts.renew import renew_touched
from bevelbook.facts.touched_diffs import touch
from bevelbook.notes.bulk import Bulk
from bevelbook.notes.changed_rows import LOOKS_CHANGED, Decide, lines_elsewhere, look_for_changes
from bevelbook.notes.closing import close_by_kept, close_rejects, closed_since
from bevelbook.notes.decoding import FileRejected
from bevelbook.notes.note_columns import NAMES
from bevelbook.notes.placed_again import NewRows, place_again
from bevelbook.notes.placing import Placing
from bevelbook.notes.read_rows import Progress, read_into, rows_of
from bevelbook.notes.rejects import write_rejects
from bevelbook.notes.report import Report, grouped_findings
from bevelbook.notes.settings import Settings
from bevelbook.notes.settling_changes import settle_changes
from bevelbook.notes.similar_names import similar_names
from bevelbook.notes.source import NoteSource, source_of
from bevelbook.notes.staging import Stage, make_room
from bevelbook.notes.taking_changes import prepare_changes, take_changes
from bevelbook.store.ids import file_id
from bevelbook.store.opening import explained, transaction
from bevelbook.store.writing import now_utc


def import_notes(
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
    rejects: Path | None = None,
    also: Callable[[str], None] | None = None,
    decide: Decide | None = None,
) -> Report:
    """Import a file of notes. A structural fault gives a report with the outcome ``rejected`` and stores nothing.

    A dry run reads the database, if there is one, and writes nothing at all; its connection may be read-only.
    ``asked`` is the command as typed, kept with the entry; ``rejects`` is where the rejected rows go, if there
    are any. ``also`` is called in the same transaction, after the facts, with the file's id, if it added anything.
    ``decide`` says what to do with rows that look like an earlier row of the sheet, changed; without it they are
    rejected. Raises DatabaseError when the database cannot be written.
    """
    report = Report(name, dry_run=dry_run)
    tell = progress or (lambda _what, _done, _all: None)
    try:
        source = source_of(file, name, settings, pack=not dry_run)
        with staging(connection, path, source, every_finding=want_rows) as stage, without_collector():
            read_into(stage, source, settings, report, tell)
        settings = settings.with_columns(source.understanding.accepted)
    except FileRejected as fault:
        report.outcome, report.file_reason, report.message = "rejected", fault.code, str(fault)
        report.questions = [*fault.questions]
        return report
    decoding = source.decoding
    note_file = file_id(decoding.sha256, source.part)
    before = Bulk(connection, note_file=note_file, stamp=now_utc(), by=by, dry=True)
    found = look_for_changes(stage, before, source.called)
    changed = settle_changes(stage, source, report, found.changed, decide)

    def opened(stamp: str) -> tuple[Bulk, Placing]:
        bulk = Bulk(connection, note_file=note_file, stamp=stamp, by=by, dry=dry_run)
        elsewhere = {**found.same, **{one.line: one.note for one in changed}, **lines_elsewhere(bulk)}
        return bulk, Placing(stage, bulk, elsewhere)

    if dry_run:
        bulk, placing = opened(now_utc())
        placing.run(lambda done: tell("placing", done, stage.accepted))
    else:
        with without_collector(), transaction(connection, path, asked=asked or f"import {name}", by=by) as entry:
            bulk, placing = opened(entry.made_at)  # inside, so that it sees what an import that it waited for wrote
            kept = {
                "name": name,
                "sha256": decoding.sha256,
                "byte_count": decoding.byte_count,
                "read_at": bulk.stamp,
                "options": json.dumps(settings.said(), ensure_ascii=False) if settings.said() else None,
                "entry": entry.id,
                "accepted": report.accepted,
                "rejected": report.rejected,
                "skipped": report.skipped,
                "part": source.part or None,
            }
            bulk.keep_file(values=kept, packed=decoding.packed or b"")
            bulk.set_indexes_aside(stage.accepted)
            placing.run(lambda done: tell("writing", done, stage.accepted))
            prepared = prepare_changes(stage, bulk, changed)
            tell("indexing", stage.accepted, stage.accepted)
            bulk.finish()
            if placing.added or changed:
                bulk.note_entry(entry.id)
            bulk.keep_left(stage.left(), stage.extras(), is_known=placing.known > 0)
            changing = {one.line for one in changed}
            report.closed = close_rejects(connection, stage, source, bulk.note_file, changing)
            close_by_kept(connection, source, bulk.note_file)
            report.closed_since = closed_since(connection, bulk.note_file)
            placing.diffs |= take_changes(bulk, prepared)
            if bulk.holds_notes or "day_order" in stage.present:
                report.placed = place_again(connection, placing.diffs, by=by, new=NewRows(bulk.note_file, bulk.stamp))
                placing.made.update(report.placed.of_new)
            tell("working out", stage.accepted, stage.accepted)
            touch(connection, placing.diffs)
            if also is not None and (placing.added or changed):
                renew_touched(connection)
                also(bulk.note_file)
        report.note_file = note_file
    report.sheets = source.sheets
    report.added, report.known, report.made = placing.added, placing.known, placing.counts()
    report.weighings_only = placing.weighings_only
    report.warnings += similar_names(bulk)
    report.warnings += grouped_findings(stage.findings(), stage.finding_counts)
    if want_rows:
        report.rows = rows_of(stage)
    if rejects is not None and report.rejected > report.left.get(("rejected", LOOKS_CHANGED), 0):
        report.rejects_file = str(write_rejects(stage, source.heading, rejects))
    return report


@contextmanager
def staging(
    connection: sqlite3.Connection, path: Path, source: NoteSource, *, every_finding: bool = False
) -> Iterator[Stage]:
    """The stage while it is filled: one transaction on temporary tables, which locks nothing.

    Raises DatabaseError if there is no space for them.
    """
    try:
        make_room(connection)
        connection.execute("BEGIN")
        try:
            yield Stage(connection, NAMES, tuple(source.heading.known), every_finding=every_finding)
        except BaseException:
            connection.rollback()
            raise
        connection.execute("COMMIT")
    except sqlite3.Error as fault:
        raise explained(fault, path) from fault


@contextmanager
def without_collector() -> Iterator[None]:
    """Thousands of rows are made and freed without cycles: looking for cycles takes a tenth of the time."""
    import gc

    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
