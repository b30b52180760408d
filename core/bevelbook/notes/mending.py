"""Rejected rows of a kept file, mended one by one: they come in as a file of rejected rows that has them alone.

What a file of corrected rows does when it is imported is done here too: it is kept, and closes the rows. Rows that are
still wrong are not in it.
"""

from __future__ import annotations

import io
import json
import sqlite3
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from contextlib import ExitStack, closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Final, NamedTuple

from bevelbook.notes.cells import kept_cells
from bevelbook.notes.changed_rows import Answer
from bevelbook.notes.corrected_lines import corrected_rows, kept_source, stem_of_rejects
from bevelbook.notes.decoding import FileRejected
from bevelbook.notes.headings import Heading
from bevelbook.notes.importing import (
    ReadFile,
    look_at_changes,
    look_whether_kept,
    read_file,
    without_collector,
    write_read,
)
from bevelbook.notes.rejected_rows import RejectedRow, open_rows
from bevelbook.notes.rejects import UNITS_ROW, CorrectedLine, text_of_lines
from bevelbook.notes.report import REASONS, Report
from bevelbook.notes.reread import carry_out, revise
from bevelbook.notes.settings import Settings
from bevelbook.notes.settings_of_sheet import with_sheet
from bevelbook.notes.staging import make_room
from bevelbook.store.opening import transaction


class Mend(NamedTuple):
    """A rejected row with its cells as they are now; ``as_it_is`` where a value outside the range of sane ones is
    right."""

    row: RejectedRow
    cells: Sequence[str]
    as_it_is: bool = False


class StillWrong(NamedTuple):
    """Why a row cannot come in as it is now; ``column`` and ``value`` as of a rejected row."""

    reason: str
    column: str | None
    value: str | None
    words: str


class MendedBefore(NamedTuple):
    """A row that came in since it was shown: with which entry, whose and when, with which cells of its sheet's columns,
    and all its cells as they were rejected; nothing where it went with its file."""

    entry: str | None = None
    by: str | None = None
    at: str = ""
    cells: tuple[str, ...] = ()
    was: tuple[str, ...] = ()


class BroughtIn(NamedTuple):
    """What came of rows: the ids of those that are in, those that were in the database already, and why others are
    not, by id. ``entry`` is None where nothing was stored."""

    entry: str | None = None
    ids: tuple[str, ...] = ()
    known: int = 0
    still: Mapping[str, StillWrong] = {}
    before: Mapping[str, MendedBefore] = {}


_NO_HEADING: Final = StillWrong("no_heading", None, None, "the file as it is kept can no longer be read.")


_NOT_THERE: Final = "the earlier row is not there any more as it was. Look at this page again."
_CHANGES_MORE: Final = "other rows of the file would change too. Import the file once more: each is asked about then."


class _StillWrongError(Exception):
    """Some rows of a file would be rejected: why, by id."""

    def __init__(self, found: Mapping[str, StillWrong]) -> None:
        self.found = found


class _MendedBeforeError(Exception):
    """Some rows came in meanwhile: their ids."""

    def __init__(self, ids: Iterable[str]) -> None:
        self.ids = frozenset(ids)


def heading_of_kept(connection: sqlite3.Connection, note_file: str) -> Heading | None:
    """The heading that a kept file was read with; None where it can no longer be read."""
    source = kept_source(connection, note_file)
    return None if source is None else source.heading


def bring_in(
    connection: sqlite3.Connection,
    path: Path,
    note_file: str,
    mends: Sequence[Mend],
    *,
    by: str | None,
    asked: str,
    entry_id: str,
    also: Callable[[str], None],
) -> BroughtIn:
    """Import the rows that are right now, all in one entry, and close them; the others stay as they are.

    ``also`` is called in the same transaction, after the facts, with the id of what was imported. Raises DatabaseError,
    and FileRejected where the kept file can no longer be read.
    """
    waiting = {one.row.id: one for one in mends}
    still: dict[str, StillWrong] = {}
    before: dict[str, MendedBefore] = {}
    while waiting:
        attempt = _Attempt(connection, path, note_file, [*waiting.values()], by, also)
        try:
            known = attempt.store(asked, entry_id)
        except _StillWrongError as fault:
            still |= fault.found
            gone = frozenset(fault.found)
        except _MendedBeforeError as fault:
            before |= {one: mended_before(connection, one) for one in fault.ids}
            gone = fault.ids
        else:
            return BroughtIn(entry_id, tuple(waiting), known, still, before)
        waiting = {one: mend for one, mend in waiting.items() if one not in gone}
    return BroughtIn(still=still, before=before)


def change_earlier(
    connection: sqlite3.Connection,
    path: Path,
    note_file: str,
    lines: Collection[int],
    *,
    by: str | None,
    asked: str,
    entry_id: str,
    also: Callable[[str], None],
) -> str:
    """Have rows that look like an earlier row, changed, change that one: the kept file is read again with that answer.

    Returns what kept it from being done, in words; empty where it is done. Raises DatabaseError.
    """
    options = connection.execute("SELECT options FROM note_files WHERE id = ?", (note_file,)).fetchone()
    if options is None:
        return _NOT_THERE
    settings = Settings(**json.loads(options[0])) if options[0] else Settings()
    answers: dict[int, Answer] = dict.fromkeys(lines, "change")
    found = revise(connection, path, note_file, settings, by=by, decide=lambda _found: answers)
    if found.planned is None:
        return found.report.message or _NO_HEADING.words
    if found.changes:
        return _CHANGES_MORE
    if {one.line for one in found.changed} != {*lines}:
        return _NOT_THERE
    carry_out(connection, path, found, by=by, asked=asked, entry_id=entry_id, also=also)
    return ""


def mended_before(connection: sqlite3.Connection, reject: str) -> MendedBefore:
    """How a rejected row came in."""
    found = connection.execute(
        "SELECT r.closed_by, r.closed_line, e.id, e.made_by, e.made_at, r.raw FROM note_rejects r "
        "LEFT JOIN note_files f ON f.id = r.closed_by LEFT JOIN entries e ON e.id = f.entry WHERE r.id = ?",
        (reject,),
    ).fetchone()
    if found is None or found[0] is None:
        return MendedBefore()
    closed_by, line, entry, by, at, raw = found
    corrected = corrected_rows(connection, closed_by).get(line)
    return MendedBefore(entry, by, at or "", corrected.cells if corrected else (), tuple(kept_cells(raw)))


class _Attempt:
    """One try to bring rows in. Those that are right though their values are out of range are a file of their own."""

    def __init__(
        self,
        connection: sqlite3.Connection,
        path: Path,
        note_file: str,
        mends: Sequence[Mend],
        by: str | None,
        also: Callable[[str], None],
    ) -> None:
        self.connection = connection
        self.path = path
        self.by = by
        self.also = also
        self.mends = mends
        self.note_file = note_file

    def store(self, asked: str, entry_id: str) -> int:
        """Import the rows; how many of them the database had already. Raises _StillWrongError, _MendedBeforeError."""
        self._refuse_closed()
        heading = heading_of_kept(self.connection, self.note_file)
        if heading is None:
            raise _StillWrongError(dict.fromkeys((one.row.id for one in self.mends), _NO_HEADING))
        groups = [[one for one in self.mends if one.as_it_is is sure] for sure in (False, True)]
        with ExitStack() as stages:
            read = [self._read(heading, group, stages) for group in groups if group]
            make_room(self.connection)
            with (
                without_collector(),
                transaction(self.connection, self.path, asked=asked, by=self.by, entry_id=entry_id) as entry,
            ):
                self._refuse_closed()
                for one in read:
                    write_read(one, self.connection, entry, self.by, _tell_nobody, self.also)
        return sum(one.report.known for one in read)

    def _refuse_closed(self) -> None:
        """Raises _MendedBeforeError where rows came in meanwhile, or their file is not there any more."""
        still_open = {one.id for one in open_rows(self.connection, self.note_file)}
        gone = [one.row.id for one in self.mends if one.row.id not in still_open]
        if gone:
            raise _MendedBeforeError(gone)

    def _read(self, heading: Heading, mends: Sequence[Mend], stages: ExitStack) -> ReadFile:
        """Rows read, as a file of them. Raises _StillWrongError."""
        try:
            read = self._read_file(heading, mends, stages)
        except FileRejected as fault:
            if len(mends) > 1:  # is it one of them?
                for one in mends:
                    self._read(heading, [one], stages)
            raise _StillWrongError(dict.fromkeys((one.row.id for one in mends), _of_file(fault))) from fault
        lines = _lines_of(read, mends)
        taken = {row[0] for row in read.stage.rows()}
        left = {one.line: one for one in read.stage.left()}
        not_taken = {mend.row.id: left[line] for line, mend in lines.items() if line not in taken}
        wrong = {
            reject: StillWrong(one.reason, one.column, one.value, one.words or REASONS.get(one.reason, ""))
            for reject, one in not_taken.items()
        }
        if wrong:
            raise _StillWrongError(wrong)
        read.mends = {mend.row.id: line for line, mend in lines.items()}
        return read

    def _read_file(self, heading: Heading, mends: Sequence[Mend], stages: ExitStack) -> ReadFile:
        name, part = self.connection.execute(
            "SELECT name, part FROM note_files WHERE id = ?", (self.note_file,)
        ).fetchone()
        called = self._free_name(stem_of_rejects(name, part))
        file = io.BytesIO(("\ufeff" + text_of_lines(heading, self._units(), map(_line, mends))).encode())
        said = Settings(allow_out_of_range=mends[0].as_it_is)
        settings = with_sheet(file, called, said, self.connection).settings
        beside = stages.enter_context(closing(sqlite3.connect("", isolation_level=None)))
        read = read_file(
            *(file, called, settings, beside, self.path, Report(called), _tell_nobody),
            pack=True,
            want_rows=False,
            records=self.connection,
        )
        look_whether_kept(read, self.connection, self.by)
        look_at_changes(read, self.connection, None, self.by)
        return read

    def _units(self) -> list[list[str]]:
        found = self.connection.execute(
            "SELECT raw FROM note_rejects WHERE note_file = ? AND status = 'skipped' AND reason = ? ORDER BY line, id",
            (self.note_file, UNITS_ROW),
        )
        return [kept_cells(row[0]) for row in found]

    def _free_name(self, stem: str) -> str:
        """A name for a file of rejected rows that no kept file has: with the time, in digits."""
        number = int(datetime.now(UTC).strftime("%Y%m%d%H%M%S"))
        held = {row[0] for row in self.connection.execute("SELECT name FROM note_files")}
        while (name := f"{stem}.rejected-{number}.csv") in held:
            number += 1
        return name


def _line(mend: Mend) -> CorrectedLine:
    row = mend.row
    return CorrectedLine(row.line, f"{row.reason}: {row.words}".strip(), row.column, mend.cells)


def _lines_of(read: ReadFile, mends: Sequence[Mend]) -> dict[int, Mend]:
    """The mends by the line that each is on in the file: they are its rows, in their order."""
    units = {one.line for one in read.stage.left("skipped") if one.reason == UNITS_ROW}
    found = {row[0] for row in read.stage.rows()} | {one.line for one in read.stage.left()}
    lines = sorted(found - units)
    if len(lines) != len(mends):
        reason = StillWrong("malformed_quotes", None, None, "the row and others run into one another. Mend it alone.")
        raise _StillWrongError(dict.fromkeys((one.row.id for one in mends), reason))
    return dict(zip(lines, mends, strict=True))


def _of_file(fault: FileRejected) -> StillWrong:
    return StillWrong(fault.code, None, None, str(fault))


def _tell_nobody(_what: str, _done: int, _all: int) -> None:
    """Nobody waits for how far it is."""
