"""Versions, entries, what entries kept and marks of what was erased that say something else in another book, in words:
of which record, in which fields, what stands here and stays, what stands there, who wrote it when, and what to do."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Iterable, Iterator, Sequence
from datetime import date
from typing import Any, Final, NamedTuple

from bevelbook.declare.fields import Field
from bevelbook.declare.in_command import in_command
from bevelbook.display.begun import begun
from bevelbook.display.format import wrapped
from bevelbook.meeting.apart_kept_words import KeptWords
from bevelbook.meeting.versions_met import Apart
from bevelbook.records import BY_NAME, Kind
from bevelbook.reports.clashes import author_words
from bevelbook.store.clashes import ClashVersion, with_author
from bevelbook.store.heads import Content
from bevelbook.store.lookup import label_of
from bevelbook.store.record_names import name_of
from bevelbook.taking_back.words import EMPTY, content_value, field_words, record_words

_BOOKS: Final = {
    "created_at": "time of the first entry",
    "updated_at": "time of writing",
    "updated_by": "writer",
    "entered": "what was typed",
    "note_file": "file of notes",
    "note_line": "line of the file",
}
"""What a sentence calls the bookkeeping of a version."""
_REMOVED: Final = "removed"
_KEPT: Final = "not removed"
_LONG: Final = 160
"""Letters of a text that are shown at most; the command has all of it."""


GO_ON_HERE: Final = (
    "If what stands here is right, let who has the other book go on with a copy of this one: what else they have is "
    "here now. Until then each merge says it again."
)
"""What to do where nothing is wrong here."""
_OF_THE_PAST: Final = (
    "What is past changes nothing that is shown; 'bevelbook take-back' goes by what stands here. No command settles "
    "it: this book goes on with what it says here, and that file with what it says there. Keep both files until you "
    "know which is right, then take the copy that is wrong out of use."
)
_OF_KEPT: Final = "No command changes an entry, a result that was kept, or what was noted of a file."
_OF_MARKS: Final = (
    "No command changes a mark of what was erased: what was erased stays erased, and what no erasing wrote is not "
    "taken in."
)
_GO_ON_THERE: Final = "If what stands there is right, go on with a copy of their book, once this one is merged there."


class FieldApart(NamedTuple):
    """A field that says something else there: what a sentence calls it, and both values in words."""

    column: str
    words: str
    here: str
    there: str


class ApartSaid(NamedTuple):
    """A version that says something else in another book, or an entry or what one kept: ``name`` is what a sentence
    calls the record, ``by`` who wrote the version when, as it says here, and ``which`` the version in words.
    ``is_shown`` is set where it is what the record shows; then ``command`` enters what stands there as a change, but
    for what has no versions. Of that ``version`` is the entry after which it was so, empty for the first state."""

    kind: Kind
    row_id: str
    version: str
    name: str
    fields: tuple[FieldApart, ...]
    by: str
    which: str
    is_shown: bool
    command: str

    @property
    def what(self) -> str:
        """The fields: ``dry mass, note``."""
        return ", ".join(one.words for one in self.fields)

    @property
    def in_short(self) -> str:
        """``dry mass of build rear-a/12``."""
        past = "" if self.is_shown else " as it was once"
        return f"{self.what} of {self.name}{past}"

    @property
    def sentence(self) -> str:
        """All of it in sentences, for a page."""
        values = "; ".join(f"{one.words} {one.here} here, {one.there} there" for one in self.fields)
        return f"{begun(self.name)}, {self.which}: {values}. What stands here stays. {self.remedy}"

    @property
    def remedy(self) -> str:
        """What to do, in sentences."""
        if self.command:
            return f"If what stands there is right, enter it: '{self.command}'. {GO_ON_HERE}"
        return " ".join(_remedies(self))

    def lines(self) -> Iterator[str]:
        """The same for a terminal: the record, what stands here and there, and the command. What to do where there is
        none is said once, below all of them (``remedies``)."""
        yield from wrapped(f"said otherwise there: {self.name}: {self.what}, {self.which}", indent="  ")
        several = len(self.fields) > 1
        here = "; ".join(f"{one.words} {one.here}" if several else one.here for one in self.fields)
        there = "; ".join(f"{one.words} {one.there}" if several else one.there for one in self.fields)
        yield from wrapped(f"here   {here} (stays)", indent="    ")
        yield from wrapped(f"there  {there}", indent="    ")
        if self.command:
            yield f"    -> if what stands there is right, enter it: {self.command}"

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        return {
            "record": self.kind.name,
            "id": self.row_id,
            "version": self.version or None,
            "name": self.name,
            "fields": [one._asdict() for one in self.fields],
            "by": self.by,
            "is_shown": self.is_shown,
            "command": self.command or None,
            "remedy": self.remedy,
        }


def remedies(apart: Collection[ApartSaid]) -> Iterator[str]:
    """What to do about such versions, below all of them."""
    if apart:
        yield from wrapped(" ".join(_remedies(*apart)), indent="  ")


def _remedies(*apart: ApartSaid) -> Iterator[str]:
    yield GO_ON_HERE
    are_past = any(one.kind.own and not one.is_shown for one in apart)
    are_marks = any(one.kind.name == "erasure" for one in apart)
    are_kept = any(not one.kind.own and one.kind.name != "erasure" for one in apart)
    if are_past:
        yield _OF_THE_PAST
    if are_kept:
        yield _OF_KEPT
    if are_marks:
        yield _OF_MARKS
    if are_past or are_kept:
        yield _GO_ON_THERE


def said_apart(
    connection: sqlite3.Connection, found: Iterable[Apart], *, today: date | None = None
) -> tuple[ApartSaid, ...]:
    """Such versions in words, those that are shown first, by kind in the order of their declaration, then by name."""
    day = today or date.today()
    kept = KeptWords(connection, day)
    said = [_said(connection, one, day) if one.kind.own else _said_of_kept(kept, one) for one in found]
    order = {name: place for place, name in enumerate(BY_NAME)}
    return tuple(
        sorted(said, key=lambda one: (not one.is_shown, order[one.kind.name], one.name, one.row_id, one.version))
    )


def _said(connection: sqlite3.Connection, one: Apart, today: date) -> ApartSaid:
    row = connection.execute(f"SELECT version FROM main.{one.kind.table} WHERE id = ?", (one.row_id,)).fetchone()
    is_shown = row is not None and row[0] == one.version
    by = author_words(with_author(connection, ClashVersion(one.version, one.here, None, None, None)), today)
    return ApartSaid(
        one.kind,
        one.row_id,
        one.version,
        record_words(connection, one.kind, one.row_id, one.here or one.there),
        tuple(_fields(connection, one)),
        by,
        f"{'the version' if is_shown else 'a past version'} written by {by}",
        is_shown,
        _command(connection, one) if is_shown else "",
    )


def _said_of_kept(words: KeptWords, one: Apart) -> ApartSaid:
    is_shown = words.is_shown(one)
    fields = []
    for column in one.columns:
        called, *values = words.field(one, column)
        kept = [(each or {}).get(column) for each in (one.here, one.there)]
        fields.append(FieldApart(column, called, *_told_apart(values, kept)))
    which = words.which(one, is_shown=is_shown)
    return ApartSaid(
        one.kind, one.row_id, one.version, words.name(one), tuple(fields), words.by(one), which, is_shown, ""
    )


def _fields(connection: sqlite3.Connection, one: Apart) -> Iterator[FieldApart]:
    here, there = one.here, one.there
    if here is None or there is None:
        yield FieldApart("", "the record", *(_REMOVED if content is None else _KEPT for content in (here, there)))
        return
    fields = {field.name: field for field in one.kind.fields}
    for column in one.columns:
        field = fields.get(column)
        words = field_words(field) if field is not None else _BOOKS[column]
        values = here.get(column), there.get(column)
        texts = [_value(connection, field, value) for value in values]
        yield FieldApart(column, words, *_told_apart(texts, values))


def _told_apart(texts: Sequence[str], values: Sequence[object]) -> tuple[str, str]:
    """Two values in words, each as it is kept too where the words are the same."""
    here, there = map(_short, texts)
    return (here, there) if here != there else (f"{here} ({values[0]!r})", f"{there} ({values[1]!r})")


def _value(connection: sqlite3.Connection, field: Field | None, value: object) -> str:
    if value is None:
        return EMPTY
    return " ".join((str(value) if field is None else content_value(connection, field, value)).split())


def _short(text: str) -> str:
    return text if len(text) <= _LONG else f"{text[:_LONG]} …"


def _command(connection: sqlite3.Connection, one: Apart) -> str:
    """The command that enters what stands there as a change; empty where nothing that people write differs."""
    fields = [field for field in one.kind.fields if field.name in one.columns]
    name = name_of(connection, one.kind, one.row_id)
    if one.there is None or not fields or name is None:
        return ""
    typed = [in_command(f"{field.name}={_typed(connection, field, one.there)}") for field in fields]
    return " ".join(["bevelbook record", one.kind.name.replace("_", "-"), in_command(name), *typed])


def _typed(connection: sqlite3.Connection, field: Field, content: Content) -> str:
    value = content.get(field.name)
    if value is None:
        return ""
    if field.kind == "reference" and field.target:
        return label_of(connection, BY_NAME[field.target], str(value))
    return repr(value) if isinstance(value, float) else str(value)
