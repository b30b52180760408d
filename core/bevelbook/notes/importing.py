"""A file of notes into the database: read, staged, placed, reported."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, BinaryIO, Final

from bevelbook.facts.rejected_again import rejected_again, rejected_since
from bevelbook.facts.renew import renew_touched
from bevelbook.facts.touched_diffs import touch
from bevelbook.notes.bulk import Bulk
from bevelbook.notes.changed_rows import LOOKS_CHANGED, ChangedRow, Decide, lines_elsewhere, look_for_changes
from bevelbook.notes.closing import close_by_kept, close_rejects, taken_now
from bevelbook.notes.decoding import FileRejected
from bevelbook.notes.erased_in_file import leave_out_erased
from bevelbook.notes.kept_answers import kept_answers
from bevelbook.notes.new_names import new_names
from bevelbook.notes.note_columns import NAMES
from bevelbook.notes.placed_again import NewRows, place_again
from bevelbook.notes.placing import Placing
from bevelbook.notes.read_otherwise import kept_as, refuse_other_reading
from bevelbook.notes.read_rows import Progress, read_into, rows_of
from bevelbook.notes.rejects import write_rejects
from bevelbook.notes.report import Report, grouped_findings
from bevelbook.notes.settings import Settings
from bevelbook.notes.settings_of_sheet import with_sheet
from bevelbook.notes.settling_changes import settle_changes
from bevelbook.notes.settling_places import reject_disagreeing
from bevelbook.notes.sheets import BookInParts
from bevelbook.notes.similar_names import similar_names
from bevelbook.notes.source import NoteSource, source_of
from bevelbook.notes.staging import Stage, make_room
from bevelbook.notes.taking_changes import prepare_changes, take_changes
from bevelbook.store.copying import copy_aside
from bevelbook.store.entries import OpenEntry
from bevelbook.store.ids import file_id, now_utc
from bevelbook.store.keep_to_rule import last_of_history
from bevelbook.store.kept_past import is_file_as_before
from bevelbook.store.opening import transaction
from bevelbook.store.sqlite_errors import explained

_HOLDS_NOTES: Final = (
    "SELECT EXISTS (SELECT 1 FROM builds) OR EXISTS (SELECT 1 FROM runs) OR EXISTS (SELECT 1 FROM note_files)"
)


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
    entry_id: str | None = None,
    progress: Progress | None = None,
    rejects: Callable[[str], Path | IO[bytes]] | None = None,
    also: Callable[[str], None] | None = None,
    decide: Decide | None = None,
    before_writing: BeforeWriting | None = None,
    as_before: bool = True,
) -> Report:
    """Import a file of notes. A structural fault gives a report with the outcome ``rejected`` and stores nothing.

    A dry run reads the database, if there is one, and writes nothing at all; its connection may be read-only. What it
    reports is what an import would do, down to rows that move and rejected rows that are closed: it is tried on a copy.
    ``asked`` is the command as typed, kept with the entry, whose id is ``entry_id`` where whoever asks has one;
    ``rejects`` says where the rejected rows go, if there are any, for the part of the file that is read. ``also`` is
    called in the same transaction, after the facts, with the file's id, if it added anything. ``decide`` says what to
    do with rows that look like an earlier row of the sheet, changed; without it they are rejected. ``before_writing``
    sees what was read before anything is written; what it raises ends the import with nothing stored. A file that is
    kept already is read with what was said of it then ``as_before``, and with what ``settings`` say first. Raises
    DatabaseError when the database cannot be written.
    """
    report = Report(name, dry_run=dry_run)
    tell = progress or (lambda _what, _done, _all: None)
    before = kept_answers(file, connection).get(settings.part) if as_before else None
    of_sheet = with_sheet(file, name, settings, connection, before)
    settings = of_sheet.settings
    try:
        read = read_file(file, name, settings, connection, path, report, tell, pack=not dry_run, want_rows=want_rows)
        look_whether_kept(read, connection, by)
    except FileRejected as fault:
        return refused(report, fault)
    report.warnings += of_sheet.warnings
    if before_writing is not None:
        before_writing([read])
    look_at_changes(read, connection, decide, by)
    if dry_run:
        try_out([read], connection, path, by, tell)
    else:
        with (
            without_collector(),
            transaction(connection, path, asked=asked or f"import {name}", by=by, entry_id=entry_id) as entry,
        ):
            write_read(read, connection, entry, by, tell, also)
    finish_report(read, want_rows=want_rows, rejects=rejects)
    return report


@dataclass
class ReadFile:
    """A file, or a part of it, that was read and waits to be written."""

    source: NoteSource
    stage: Stage
    settings: Settings
    report: Report
    same: Mapping[int, str] = field(default_factory=dict)
    """The lines whose row the database holds under another id, with that."""
    changed: Sequence[ChangedRow] = ()
    names: Sequence[str] = ()
    """What the warnings say of names that look alike."""
    mends: Mapping[str, int] = field(default_factory=dict)
    """The rejected rows of another file that its lines are, by id with the line, where that is known."""

    @property
    def note_file(self) -> str:
        """The id of the kept file."""
        return file_id(self.source.decoding.sha256, self.source.part)


BeforeWriting = Callable[[Sequence[ReadFile]], None]
"""Called with all parts of a file once they are read."""


def read_file(
    file: BinaryIO,
    name: str,
    settings: Settings,
    connection: sqlite3.Connection,
    path: Path,
    report: Report,
    tell: Progress,
    *,
    pack: bool,
    want_rows: bool,
    records: sqlite3.Connection | None = None,
    book: BookInParts | None = None,
) -> ReadFile:
    """Read a file into the stage of a connection; ``records`` is the one that has the records of the team, if that is
    another; ``book`` the file, if it is a workbook of which several sheets are read. Raises FileRejected.
    """
    source = source_of(file, name, settings, pack=pack, book=book)
    with staging(connection, path, source, every_finding=want_rows) as stage, without_collector():
        read_into(stage, source, settings, report, tell)
        reject_disagreeing(stage, source, report, records or connection)
    settings = settings.with_columns(source.understanding.accepted)
    report.sheets = source.sheets
    return ReadFile(source, stage, settings, report)


def refused(report: Report, fault: FileRejected) -> Report:
    """The report of a file that was not imported."""
    report.outcome, report.file_reason, report.message = "rejected", fault.code, str(fault)
    report.questions, report.language = [*fault.questions], fault.language
    return report


def look_whether_kept(read: ReadFile, connection: sqlite3.Connection, by: str | None) -> None:
    """Say in the report how the file is kept already, if it is. Raises FileRejected where it now reads otherwise."""
    before = Bulk(connection, note_file=read.note_file, stamp=now_utc(), by=by, dry=True)
    kept = read.report.kept_as = kept_as(connection, read.note_file)
    if kept is not None:
        refuse_other_reading(read.stage, before, kept)


def look_at_changes(read: ReadFile, connection: sqlite3.Connection, decide: Decide | None, by: str | None) -> None:
    """Find the rows that look like earlier ones, changed, and have it decided what to do with them."""
    before = Bulk(connection, note_file=read.note_file, stamp=now_utc(), by=by, dry=True)
    found = look_for_changes(read.stage, before, read.source.called)
    read.same = found.same
    read.changed = settle_changes(read.stage, read.source, read.report, found.changed, decide)


def try_out(
    parts: Sequence[ReadFile], connection: sqlite3.Connection, path: Path, by: str | None, tell: Progress
) -> None:
    """Report what writing the parts of a file would do, each after those before it, and write nothing.

    It is done on a copy, unless the only part comes into a database without notes, where nothing can move or be closed.
    Raises DatabaseError where the disk has no space left for one, and what writing raises.
    """
    if len(parts) == 1 and not connection.execute(_HOLDS_NOTES).fetchone()[0]:
        bulk, placing = _opened(parts[0], connection, now_utc(), by, dry=True)
        placing.run(lambda done: tell("placing", done, parts[0].stage.accepted))
        _report_placing(parts[0], bulk, placing)
        return
    with (
        closing(copy_aside(connection, path)) as copy,
        without_collector(),
        transaction(copy, path, asked="import", by=by) as entry,
    ):
        for part in parts:
            write_read(part, copy, entry, by, tell, None)
            part.report.note_file = None


def look_up_names(parts: Sequence[ReadFile], connection: sqlite3.Connection, by: str | None) -> None:
    """Say in the reports which names the parts of a file would add, before anything is tried; each name once."""
    met: set[tuple[str, str]] = set()
    for part in parts:
        bulk, placing = _opened(part, connection, now_utc(), by, dry=True)
        placing.look_up_names()
        added = [one for one in new_names(bulk) if (one.kind, one.label) not in met]
        met |= {(one.kind, one.label) for one in added}
        part.report.new_names = tuple(added)


def write_read(
    read: ReadFile,
    connection: sqlite3.Connection,
    entry: OpenEntry,
    by: str | None,
    tell: Progress,
    also: Callable[[str], None] | None,
) -> None:
    """Write what was read, inside the caller's transaction, whose entry it belongs to.

    A kept file that brings nothing new leaves everything as it is: so an import that was stopped after it was stored
    can be done again.
    """
    source, stage, report, changed, said = read.source, read.stage, read.report, read.changed, read.settings.said()
    # inside the transaction, so that it sees what an import that it waited for wrote
    bulk, placing = _opened(read, connection, entry.made_at, by)
    last = last_of_history(connection)
    connection.execute("SAVEPOINT reading_in")
    before = connection.total_changes
    kept = {
        "name": source.name,
        "sha256": source.decoding.sha256,
        "byte_count": source.decoding.byte_count,
        "read_at": bulk.stamp,
        "options": json.dumps(said, ensure_ascii=False) if said else None,
        "entry": entry.id,
        "accepted": report.accepted,
        "rejected": report.rejected,
        "skipped": report.skipped,
        "part": source.part or None,
    }
    bulk.keep_file(values=kept, packed=source.decoding.packed or b"")
    bulk.set_indexes_aside(stage.accepted, stage.present)
    placing.run(lambda done: tell("writing", done, stage.accepted))
    prepared = prepare_changes(stage, bulk, changed)
    tell("indexing", stage.accepted, stage.accepted)
    bulk.finish()
    if placing.added or changed:
        bulk.note_entry(entry.id)
    again = rejected_again(connection, bulk.note_file)
    bulk.keep_left(stage.left(), stage.extras(), is_known=placing.known > 0)
    changing = {one.line for one in changed}
    mends = {**taken_now(stage, again), **read.mends}
    report.closed = close_rejects(connection, stage, source, bulk.note_file, changing, mends)
    close_by_kept(connection, source, bulk.note_file)
    report.since = rejected_since(connection, bulk.note_file)
    placing.diffs |= take_changes(bulk, prepared)
    if leave_out_erased(connection, bulk.note_file, stage, last):
        report.warnings.append("name_erased")
    if bulk.holds_notes or "day_order" in stage.present:
        report.placed = place_again(connection, placing.diffs, by=by, new=NewRows(bulk.note_file, bulk.stamp))
        placing.made.update(report.placed.of_new)
    placing.keep_named_diffs()
    tell("working out", stage.accepted, stage.accepted)
    touch(connection, placing.diffs)
    if also is not None and (placing.added or changed):
        renew_touched(connection)
        also(bulk.note_file)
    if not (placing.added or changed or report.closed) and is_file_as_before(connection, bulk.note_file, last):
        connection.execute("ROLLBACK TO reading_in")
        entry.undone += connection.total_changes - before
    connection.execute("RELEASE reading_in")
    report.note_file = bulk.note_file
    _report_placing(read, bulk, placing)


def _opened(
    read: ReadFile, connection: sqlite3.Connection, stamp: str, by: str | None, *, dry: bool = False
) -> tuple[Bulk, Placing]:
    bulk = Bulk(connection, note_file=read.note_file, stamp=stamp, by=by, dry=dry)
    elsewhere = {**read.same, **{one.line: one.note for one in read.changed}, **lines_elsewhere(bulk)}
    return bulk, Placing(read.stage, bulk, elsewhere)


def _report_placing(read: ReadFile, bulk: Bulk, placing: Placing) -> None:
    report = read.report
    report.added, report.known, report.made = placing.added, placing.known, placing.counts()
    report.weighings_only = placing.weighings_only
    read.names = similar_names(bulk)
    report.new_names = new_names(bulk)


def finish_report(read: ReadFile, *, want_rows: bool, rejects: Callable[[str], Path | IO[bytes]] | None) -> None:
    """Fill in the findings and rows of a report, and write the rejected rows to where ``rejects`` says for the part."""
    report, stage = read.report, read.stage
    report.warnings += read.names
    report.warnings += grouped_findings(stage.findings(), stage.finding_counts)
    if want_rows:
        report.rows = rows_of(stage)
    if rejects is not None and report.rejected > report.left.get(("rejected", LOOKS_CHANGED), 0):
        written = write_rejects(stage, read.source.heading, rejects(read.source.part))
        report.rejects_file = "-" if written is None else str(written)


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
