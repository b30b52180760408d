"""A file of notes looked at for a phone: the next question, or what would come in; and then brought in.

Looking writes nothing. It reads the file again at each step, with all that was answered until then.
A file that is in the book already comes here to be read with other answers: what was answered before is asked again.
"""

from __future__ import annotations

import sqlite3
import zipfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from time import monotonic
from typing import Any, BinaryIO, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.display.begun import begun
from bevelbook.notes.bundled_profiles import LANGUAGES, language_profile
from bevelbook.notes.changed_alike import changed_alike
from bevelbook.notes.changed_rows import Answer, ChangedRow, Decide
from bevelbook.notes.file_answers import StillOpen, read_or_ask, typed_instead
from bevelbook.notes.first_rows import FirstRow, first_rows
from bevelbook.notes.importing import ReadFile
from bevelbook.notes.importing_parts import import_all
from bevelbook.notes.last_time import LastTime, last_time
from bevelbook.notes.questions import FileQuestion, PossibleAnswer
from bevelbook.notes.read_otherwise import READ_OTHERWISE
from bevelbook.notes.report import REASONS, Report
from bevelbook.notes.reread import Revision, carry_out, revise
from bevelbook.notes.settings import Settings
from bevelbook.plugin.registry import Registry
from bevelbook.records.kept_file_names import called_file_sql
from bevelbook.saving.imported import AfterImport
from bevelbook.web.entry.import_so_far import ImportSoFar, PageQuestion

MOST_LINES: Final = 30_000
"""The most lines of a file that is brought in by a page: while they are written no other phone can store."""
LARGEST_UNPACKED: Final = 40_000_000
"""What a workbook may unpack to, in bytes; how many rows that are is only seen when it was read."""
PATIENCE_S: Final = 60.0
"""How long one reading may take."""
_SHOWN_CHANGES: Final = 20
_LONGEST_SAMPLE: Final = 60
_EACH: Final = "each"
_CHANGE_ANSWERS: Final[Mapping[Answer, str]] = {
    "change": "Change the earlier row",
    "new": "Take it as a new row",
    "leave": "Leave it out",
}
_FOR_ALL: Final = (
    PossibleAnswer("change", "Change the earlier rows"),
    PossibleAnswer("new", "Take them as new rows"),
    PossibleAnswer("leave", "Leave them out"),
)


class TooLongError(Exception):
    """The file has more rows than a page brings in."""


class NotAnsweredError(Exception):
    """A question came up that was not answered yet; it is asked first, and nothing was stored."""


class _ChangesError(Exception):
    """Rows look like earlier ones, changed, and nobody said yet what to do with them: these, of this part."""

    def __init__(self, part: int, rows: Sequence[ChangedRow]) -> None:
        super().__init__("rows look changed")
        self.part = part
        self.rows = rows


class PartLookedAt(NamedTuple):
    """A file, or a part of it, as it would come in."""

    report: Report
    first: tuple[FirstRow, ...]


class Looked(NamedTuple):
    """What was found: a question, a file that cannot be read, one that is kept and now reads otherwise, or its parts as
    they would come in."""

    question: PageQuestion | None = None
    refused: Report | None = None
    otherwise: Revision | None = None
    parts: tuple[PartLookedAt, ...] = ()


class StoredImport(NamedTuple):
    """What was stored: a report for each part, and what came of it."""

    reports: tuple[Report, ...]
    after: AfterImport


def refuse_long(file: BinaryIO, content: bytes) -> None:
    """Raise TooLongError for a file with more lines than a page brings in, or a workbook that unpacks to more."""
    if max(content.count(b"\n"), content.count(b"\r")) > MOST_LINES and not content.startswith(b"PK"):
        raise TooLongError
    try:
        with zipfile.ZipFile(file) as archive:
            size = sum(one.file_size for one in archive.infolist())
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        return
    if size > LARGEST_UNPACKED:
        raise TooLongError


class ImportLook:
    """Looks at one file, or brings it in, by one connection."""

    def __init__(
        self,
        connection: sqlite3.Connection,
        path: Path,
        file: BinaryIO,
        so_far: ImportSoFar,
        by: str | None,
    ) -> None:
        self.connection = connection
        self.path = path
        self.file = file
        self.so_far = so_far
        self.by = by
        self._answers = so_far.answers
        self._first: list[tuple[FirstRow, ...]] = []
        self._until = monotonic() + PATIENCE_S

    def look(self) -> Looked:
        """The next question, or what would come in. Raises TooLongError, DatabaseError."""
        try:
            kept = self._kept()
            if kept is not None:
                return Looked(kept)
            found = self._read_or_ask()
            last = self._last_time(found)
            if last is not None:
                return Looked(last)
            language = self._language(found)
            if language is not None:
                return Looked(language)
            if isinstance(found, StillOpen):
                return Looked(self._question(found))
            refused = next((one for one in found if one.outcome == "rejected"), None)
            if refused is None:
                parts = (PartLookedAt(*one) for one in zip(found, self._first, strict=True))
                return Looked(parts=tuple(parts))
            if refused.file_reason == READ_OTHERWISE and refused.kept_as is not None:
                return Looked(otherwise=self._revision(refused.kept_as.id))
            return Looked(refused=refused)
        except _ChangesError as changes:
            return Looked(self._about_changes(changes))

    def bring_in(self, registry: Registry, *, asked: str, entry_id: str) -> StoredImport:
        """Import the file as it was looked at, as one entry. Raises NotAnsweredError, TooLongError, DatabaseError."""
        after = AfterImport(self.connection, registry, self.by)
        found = self._asked(asked=asked, entry_id=entry_id, also=after.work_out)
        if isinstance(found, StillOpen) or any(one.outcome == "rejected" for one in found):
            raise NotAnsweredError
        for one in found:
            if one.note_file and (one.added or one.changed):
                after.look(one.note_file)
        return StoredImport(tuple(found), after)

    def read_again(self, registry: Registry, *, asked: str, entry_id: str) -> StoredImport:
        """Read the kept file again with what was answered, and change its rows. Raises NotAnsweredError where it does
        not read otherwise any more, TooLongError, DatabaseError, InputError."""
        after = AfterImport(self.connection, registry, self.by)
        found = self._asked()
        kept = None if isinstance(found, StillOpen) else found[0].kept_as
        if isinstance(found, StillOpen) or found[0].file_reason != READ_OTHERWISE or kept is None:
            raise NotAnsweredError
        try:
            revision = self._revision(kept.id)
        except _ChangesError as changes:
            raise NotAnsweredError from changes
        if revision.report.outcome == "rejected":
            raise NotAnsweredError
        carry_out(
            *(self.connection, self.path, revision),
            by=self.by,
            asked=asked,
            entry_id=entry_id,
            also=after.work_out,
        )
        after.look(kept.id)
        revision.report.note_file = kept.id
        return StoredImport((revision.report,), after)

    def _asked(self, **more: Any) -> list[Report] | StillOpen:
        """What a reading gives, which writes where it is given an entry."""
        try:
            return self._read_or_ask(**more)
        except _ChangesError as changes:
            raise NotAnsweredError from changes

    def _read_or_ask(self, **more: Any) -> list[Report] | StillOpen:
        def before_writing(parts: Sequence[ReadFile]) -> None:
            if sum(part.report.read for part in parts) > MOST_LINES:
                raise TooLongError
            self._answers.look_before_writing(parts)
            self._first = [tuple(first_rows(part.stage)) for part in parts]

        def read(settings: Settings) -> list[Report]:
            return import_all(
                *(self.file, self.so_far.name, self.connection, self.path, settings),
                dry_run="entry_id" not in more,
                by=self.by,
                progress=self._go_on,
                decide=self._deciding(),
                before_writing=before_writing,
                as_before=False,
                **more,
            )

        while True:
            found = read_or_ask(read, self._answers)
            if not isinstance(found, StillOpen):
                return found
            left = [one for one in found.questions if self._answers.answers_to(one)]
            if left:
                return found._replace(questions=left)
            for one in found.questions:
                self._answers.take(one, None, found.columns)

    def _go_on(self, what: str, _done: int, _whole: int) -> None:
        if what in ("looking", "reading") and monotonic() > self._until:
            raise TooLongError

    def _deciding(self) -> Decide:
        """Answers for rows that look changed as the person did, part by part."""
        part = -1
        said = self.so_far.changes

        def decide(rows: Sequence[ChangedRow]) -> Mapping[int, Answer]:
            nonlocal part
            part += 1
            given = {row.line: said.get(f"{part}:{row.line}") or said.get(f"{part}:") for row in rows}
            found = {line: answer for line, value in given.items() for answer in _CHANGE_ANSWERS if answer == value}
            if len(found) < len(rows):
                raise _ChangesError(part, rows)
            return found

        return decide

    def _revision(self, kept: str) -> Revision:
        return revise(
            *(self.connection, self.path, kept, self._answers.settings),
            by=self.by,
            progress=self._go_on,
            decide=self._deciding(),
            as_before=False,
        )

    def _kept(self) -> PageQuestion | None:
        """Says that a file is in the book already, before anything is asked of it; None where it is not."""
        if not self._is_first:
            return None
        parts = self.connection.execute(
            f"SELECT {called_file_sql('f')}, accepted, rejected FROM note_files f WHERE sha256 = ? "
            "ORDER BY read_at, id LIMIT ?",
            (self.so_far.sha256, _SHOWN_CHANGES),
        ).fetchall()
        if not parts:
            return None
        lines = (
            f"{called}: {counted(taken, 'row')} came in, {rejected} rejected." for called, taken, rejected in parts
        )
        return PageQuestion(
            "as_last_time",
            "This file is in the book already. Bringing it in again adds nothing.",
            (PossibleAnswer("no", "Read another part of it, or with other answers"),),
            tuple(lines),
        )

    @property
    def _is_first(self) -> bool:
        """Whether nothing was asked of the file yet."""
        return not (self.so_far.asked or self.so_far.as_last_time or self.so_far.language)

    def _last_time(self, found: list[Report] | StillOpen) -> PageQuestion | None:
        """Whether the file is read as one with the same headings was; asked first, where anything is left open."""
        if not self._is_first:
            return None
        if not (isinstance(found, StillOpen) or found[0].outcome == "rejected"):
            return None
        last = last_time(self.connection, self.file, self.so_far.name)
        return None if last is None else _as_last_time(last)

    def _language(self, found: list[Report] | StillOpen) -> PageQuestion | None:
        """Whether the file is read by the headings of another language, where it is refused without."""
        refused = found.refused if isinstance(found, StillOpen) else found[0]
        if self.so_far.language or refused is None or not refused.language:
            return None
        called = refused.language.capitalize()
        return PageQuestion(
            "language",
            f"The headings look {called}. Read the file by {called} headings?",
            (PossibleAnswer("yes", f"Yes, by {called} headings"), PossibleAnswer("no", "No")),
            taken=language_profile(LANGUAGES[refused.language]),
        )

    def _question(self, found: StillOpen) -> PageQuestion:
        first = found.questions[0]
        reason = REASONS.get(found.refused.file_reason or "", "") if found.refused else ""
        return PageQuestion(
            "file",
            first.words,
            tuple(self._answers.answers_to(first)),
            (f"{begun(reason)}.",) if reason else (),
            tuple(" ".join(str(cell).split())[:_LONGEST_SAMPLE] for cell in first.samples),
            typed_instead(first),
            _leave_words(first),
            first,
            found.columns,
        )

    def _about_changes(self, changes: _ChangesError) -> PageQuestion:
        rows, said = changes.rows, self.so_far.changes
        if len(rows) > 1 and said.get(f"{changes.part}:") != _EACH:
            alike = changed_alike(rows)
            shown = rows[: 1 if alike else _SHOWN_CHANGES]
            lines = [f"{alike}."] if alike else []
            lines += [f"Line {row.line} {row.words()}." for row in shown]
            lines += [f"And {len(rows) - len(shown)} more."] if len(rows) > len(shown) and not alike else []
            ways = [*_FOR_ALL, PossibleAnswer(_EACH, "Ask for each")] if len(rows) <= _SHOWN_CHANGES else _FOR_ALL
            words = f"{counted(len(rows), 'row')} look like earlier ones, changed. What is to be done with them?"
            return PageQuestion("changes", words, tuple(ways), tuple(lines), place=f"{changes.part}:")
        row = next(row for row in rows if f"{changes.part}:{row.line}" not in said)
        answers = tuple(PossibleAnswer(value, words) for value, words in _CHANGE_ANSWERS.items())
        words = "A row looks like an earlier one, changed. What is to be done with it?"
        which = (f"Line {row.line} {row.words()}.",)
        return PageQuestion("changes", words, answers, which, place=f"{changes.part}:{row.line}")


def _leave_words(question: FileQuestion) -> str:
    """What the button says that gives none of the answers; empty where one is needed."""
    if question.may_be_none:
        return "No" if [one.value for one in question.answers] == ["true"] else "None of these"
    return "" if question.is_needed else "Leave it open"


def _as_last_time(last: LastTime) -> PageQuestion:
    return PageQuestion(
        "as_last_time",
        f"{last.called} had the same headings. Read this file as that one?",
        (PossibleAnswer("yes", "Yes, as last time"), PossibleAnswer("no", "No, ask me")),
        tuple(f"{begun(words)}." for words in last.words()),
        taken=last.settings,
    )
