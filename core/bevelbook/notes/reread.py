"""Reading a kept file again with other settings: first what would change, then the change."""

from __future__ import annotations

import io
import json
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import InputError, UnknownNameError
from bevelbook.facts.rejected_again import rejected_again
from bevelbook.facts.renew import renew_touched
from bevelbook.facts.touched_diffs import diffs_of_file, touch
from bevelbook.notes.bulk import Bulk
from bevelbook.notes.changed_rows import ChangedRow, Decide, lines_elsewhere, look_for_changes
from bevelbook.notes.changes import Change, Planned, apply, changes
from bevelbook.notes.closing import close_rejects, taken_now
from bevelbook.notes.decoding import FileRejected, unpacked
from bevelbook.notes.importing import staging
from bevelbook.notes.placed_again import place_again
from bevelbook.notes.placing import Placing
from bevelbook.notes.read_rows import Progress, read_into
from bevelbook.notes.report import SHOWN_OF_A_KIND, Report, grouped_findings
from bevelbook.notes.settings import Settings
from bevelbook.notes.settings_of_sheet import with_sheet
from bevelbook.notes.settling_changes import settle_changes
from bevelbook.notes.settling_places import reject_disagreeing
from bevelbook.notes.similar_names import similar_names
from bevelbook.notes.source import NoteSource, source_of
from bevelbook.notes.splitting import is_split, refuse_splitting_later
from bevelbook.notes.staging import Stage
from bevelbook.notes.taking_changes import prepare_changes, take_changes
from bevelbook.records.kept_file_names import called_file, called_file_sql
from bevelbook.store.files_elsewhere import NOBODY, with_whom
from bevelbook.store.ids import now_utc
from bevelbook.store.kept_past import keep_past_of_file
from bevelbook.store.opening import transaction
from bevelbook.store.writing import Writer


class KeptFile(NamedTuple):
    """A file that was kept when it was imported."""

    id: str
    name: str
    sha256: str
    accepted: int
    rejected: int
    part: str | None = None

    @property
    def called(self) -> str:
        """What the kept file is called."""
        return called_file(self.name, self.part)


class Revision(NamedTuple):
    """The result of reading a kept file again."""

    kept: KeptFile
    report: Report
    changes: list[Change]
    planned: Planned | None
    stage: Stage | None
    settings: Settings
    changed: tuple[ChangedRow, ...] = ()
    """Rows that change an earlier row, of another state of the sheet."""
    before: Settings = Settings()
    """What the file was read with before."""
    source: NoteSource | None = None

    @property
    def is_empty(self) -> bool:
        """Whether no record would change."""
        return not self.changes and not self.changed

    @property
    def only_adds(self) -> bool:
        """Whether records that are there stay as they are, so that nobody has to agree."""
        return not self.changed and all(one.what == "added" for one in self.changes)

    @property
    def says_otherwise(self) -> bool:
        """Whether the file is read with other answers than before, which are kept though no record changes."""
        return self.planned is not None and json.dumps(self.settings.said()) != json.dumps(self.before.said())

    def as_dict(self) -> dict[str, object]:
        """The revision for programs."""
        counts = Counter((one.what, one.kind) for one in self.changes)
        return {
            **self.report.as_dict(),
            "changes": [{"what": what, "record": kind, "count": n} for (what, kind), n in counts.items()],
            "accepted_before": self.kept.accepted,
            "rejected_before": self.kept.rejected,
        }

    def lines(self, *, dry_run: bool = True) -> Iterator[str]:
        """The revision for people; ``dry_run`` where they are only to look at it."""
        if self.report.outcome == "rejected":
            yield from self.report.lines()
            return
        accepted = f"{counted(self.report.accepted, 'row')} accepted (before: {self.kept.accepted})"
        yield f"{self.kept.called}: {accepted}, {self.report.rejected} rejected (before: {self.kept.rejected})"
        yield from self.report.changed_lines()
        counts = Counter((one.what, one.kind) for one in self.changes)
        for (what, kind), count in counts.items():
            yield f"  {counted(count, kind.replace('_', ' '))} {what}"
        for one in self.changes[:SHOWN_OF_A_KIND]:
            detail = f" ({', '.join(one.columns)})" if one.columns else ""
            yield f"    line {one.line}: {one.kind.replace('_', ' ')} {one.what}{detail}"
        if len(self.changes) > SHOWN_OF_A_KIND:
            yield f"    and {len(self.changes) - SHOWN_OF_A_KIND} more"
        if self.is_empty:
            yield "  No record would change." if dry_run else "  No record changes."
            if self.says_otherwise:
                yield f"  What is said of the file now {'would be' if dry_run else 'is'} kept for its next reading."


def find_kept(connection: sqlite3.Connection, name: str, part: str = "") -> KeptFile:
    """A kept file by its name, what it is called, its id or the beginning of its hash; ``part`` chooses among its
    parts. Raises UnknownNameError or InputError.
    """
    found = connection.execute(
        "SELECT f.id, f.name, f.sha256, f.accepted, f.rejected, f.part FROM note_files f "
        f"WHERE (f.name = ?1 OR {called_file_sql('f')} = ?1 OR f.id = ?1 OR (length(?1) >= 6 AND "
        "substr(f.sha256, 1, length(?1)) = lower(?1))) AND (?2 = '' OR lower(coalesce(f.part, '')) = lower(?2))",
        (name, part),
    ).fetchall()
    if not found:
        known = [
            row[0]
            for row in connection.execute("SELECT name FROM note_files ORDER BY read_at DESC, id DESC LIMIT 1000")
        ]
        raise UnknownNameError("note file", name, known, by_command="Kept files are listed in the table note_files.")
    if len(found) > 1:
        raise InputError(
            f"{len(found)} kept files have that name",
            code="ambiguous_name",
            found=name,
            remedy="Name one by its hash: "
            + ", ".join(f"{row[0]} ({row[5]})" if row[5] else str(row[2])[:12] for row in found[:5])
            + ".",
        )
    return KeptFile(*found[0])


def kept_bytes(connection: sqlite3.Connection, kept: KeptFile) -> tuple[bytes, str | None]:
    """What is in a kept file, packed, and the options that it was read with. Raises InputError where it is not here."""
    found = connection.execute(
        "SELECT b.packed, f.options FROM note_files f JOIN note_bytes b ON b.sha256 = f.sha256 WHERE f.id = ?",
        (kept.id,),
    ).fetchone()
    if found is None:
        whom = with_whom(connection, kept.id)
        raise InputError(
            f"the file itself is not here: it is with {whom}",
            code="file_not_here",
            found=kept.called,
            remedy="What was read of it stays as it is, and it cannot be read again."
            if whom == NOBODY
            else "It comes when a whole export, or the database, from there is merged; or import the file here.",
        )
    return found[0], found[1]


def revise(
    connection: sqlite3.Connection,
    path: Path,
    name: str,
    settings: Settings,
    *,
    by: str | None,
    progress: Progress | None = None,
    decide: Decide | None = None,
    as_before: bool = True,
) -> Revision:
    """What would change if a kept file were read with these settings. Nothing is written.

    What they do not say is as the file was read before, unless not ``as_before``.
    ``decide`` says what to do with rows that look like a row of another state of the sheet, changed; without it they
    are rejected.
    """
    kept = find_kept(connection, name, settings.part)
    packed, options = kept_bytes(connection, kept)
    split = settings.split
    before = Settings(**json.loads(options)) if options else Settings()
    file = io.BytesIO(unpacked(packed))
    of_sheet = with_sheet(file, kept.name, settings.for_part_of(before), connection, before, as_before=as_before)
    settings = of_sheet.settings
    report = Report(kept.called, dry_run=True)
    tell = progress or (lambda _what, _done, _all: None)
    try:
        source = source_of(file, kept.name, settings, pack=False)
        if split and settings.split_place is None and not is_split(source.heading):
            raise refuse_splitting_later()
        with staging(connection, path, source) as stage:
            read_into(stage, source, settings, report, tell)
            reject_disagreeing(stage, source, report, connection)
        settings = settings.with_columns(source.understanding.accepted)
    except FileRejected as fault:
        report.outcome, report.file_reason, report.message = "rejected", fault.code, str(fault)
        return Revision(kept, report, [], None, None, settings, before=before)
    report.warnings += of_sheet.warnings
    planned = Planned(connection, note_file=kept.id, stamp=now_utc(), by=by)
    found = look_for_changes(stage, planned, kept.called)
    changed = settle_changes(stage, source, report, found.changed, decide)
    elsewhere = {**found.same, **{one.line: one.note for one in changed}, **lines_elsewhere(planned)}
    placing = Placing(stage, planned, elsewhere)
    placing.run(lambda done: tell("placing", done, stage.accepted))
    report.added, report.known, report.made = placing.added, placing.known, placing.counts()
    report.weighings_only = placing.weighings_only
    report.warnings += similar_names(planned)
    report.warnings += grouped_findings(stage.findings(), stage.finding_counts)
    return Revision(
        kept, report, changes(connection, planned), planned, stage, settings, tuple(changed), before, source
    )


def carry_out(
    connection: sqlite3.Connection,
    path: Path,
    revision: Revision,
    *,
    by: str | None,
    asked: str = "",
    entry_id: str | None = None,
    also: Callable[[str], None] | None = None,
) -> None:
    """Make the changes of a revision in one transaction, and then, after the facts, call ``also`` with the file's id.
    The entry's id is ``entry_id`` where whoever asks has one. Raises InputError, DatabaseError.
    """
    planned, stage, source, report = revision.planned, revision.stage, revision.source, revision.report
    assert planned is not None
    assert stage is not None
    assert source is not None
    words = asked or f"import --again {revision.kept.called}"
    with transaction(connection, path, asked=words, by=by, entry_id=entry_id) as entry:
        keep_past_of_file(connection, revision.kept.id)
        bulk = Bulk(connection, note_file=revision.kept.id, stamp=entry.made_at, by=by)
        writer = Writer(connection, by)
        before = diffs_of_file(connection, revision.kept.id)
        prepared = prepare_changes(stage, bulk, revision.changed)
        apply(bulk, writer, planned, revision.changes)
        diffs = before | diffs_of_file(connection, revision.kept.id)
        said = revision.settings.said()
        connection.execute(
            "UPDATE note_files SET read_at = ?, options = ?, accepted = ?, rejected = ?, skipped = ? WHERE id = ?",
            (
                entry.made_at,
                json.dumps(said, ensure_ascii=False) if said else None,
                report.accepted,
                report.rejected,
                report.skipped,
                revision.kept.id,
            ),
        )
        bulk.note_entry(entry.id)
        again = rejected_again(connection, revision.kept.id)
        bulk.keep_left(stage.left(), stage.extras())
        changing = {one.line for one in revision.changed}
        report.closed = close_rejects(connection, stage, source, revision.kept.id, changing, taken_now(stage, again))
        diffs |= take_changes(bulk, prepared)
        touch(connection, diffs)
        report.placed = place_again(connection, diffs, by=by)
        if also is not None:
            renew_touched(connection)
            also(revision.kept.id)
    report.dry_run = False
