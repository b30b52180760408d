"""A person, the text of a note or a photograph is erased: what goes, how much of it, and the act itself.

It cannot be taken back. What stands in its place is the same wherever the database meets others (``erased_marks``).
"""

from __future__ import annotations

import re
import sqlite3
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Sequence
from pathlib import Path
from typing import Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import DatabaseError, InputError, UnknownNameError
from bevelbook.declare.in_command import in_command
from bevelbook.notes.erased_in_file import diffs_placed_by
from bevelbook.notes.placed_again import place_again
from bevelbook.plugin.registry import Registry
from bevelbook.reading.initials import letters_beside
from bevelbook.reading.labels import folded_label
from bevelbook.reading.names_in_texts import (
    initial_of,
    keys_of_name,
    keys_of_name_word,
    keys_with_initial,
    parts_of_name,
    words_of,
)
from bevelbook.records import BY_NAME, BY_TABLE, KINDS, Kind
from bevelbook.records.kept_file_names import called_file
from bevelbook.saving.removal import remove_record
from bevelbook.store.as_written import apply_joins
from bevelbook.store.blanking import (
    Blanked,
    blanked_in,
    bytes_to_go,
    counted_kinds,
    entry_mark,
    make_blank,
    marks_with,
    text_mark,
    versions_said,
)
from bevelbook.store.blanking_rules import Blanking
from bevelbook.store.clashes import bring_up_to_date, may_clash
from bevelbook.store.common_names import common_words, is_common_word
from bevelbook.store.erasable_columns import text_columns
from bevelbook.store.erased_marks import (
    ERASED,
    Mark,
    keep_marks,
    marks_as_kept,
    marks_in,
    marks_of_name,
    marks_of_part,
    marks_of_part_keys,
    neutral_name,
    united_marks,
)
from bevelbook.store.files_as_kept import hash_of_packed
from bevelbook.store.lookup import find_id, labels_of
from bevelbook.store.opening import transaction
from bevelbook.store.wiping import note_to_wipe, wipe
from bevelbook.store.writing import coming_in
from bevelbook.taking_back.words import record_words

_PERSON: Final = BY_NAME["person"]
_PHOTO: Final = BY_NAME["photo"]
_SAMPLES: Final = 5
_SAMPLE_LETTERS: Final = 70
_SAID: Final = (
    ("records", "record"),
    ("versions", "past version"),
    ("texts", "text"),
    ("files", "kept file"),
    ("left out", "left-out row"),
    ("results", "kept result"),
    ("entries", "entry"),
    ("pictures", "picture"),
)
"""What is counted, in the order in which it is said."""


class InATextFound(NamedTuple):
    """A text in which a name stands: the record or the place, and the beginning of it."""

    where: str
    text: str


class ToErase(NamedTuple):
    """What is to be erased, and what comes of it.

    ``called`` is what it is, for people; ``instead`` what will stand there. ``names`` are all names of a person;
    ``common`` those that are words of the language too, with texts in which they stand. ``counts`` are as in
    ``counted_kinds``. ``raw`` are the texts themselves, by which copies are looked for. ``removes`` is a photograph
    that is removed by it. ``left`` says of each part of a name that stays in texts why it does.
    """

    called: str
    instead: str
    marks: frozenset[Mark]
    counts: Counter[str]
    raw: frozenset[str]
    names: tuple[str, ...] = ()
    common: tuple[str, ...] = ()
    samples: tuple[InATextFound, ...] = ()
    removes: str | None = None
    left: tuple[str, ...] = ()

    @property
    def is_nothing(self) -> bool:
        """Whether nothing of it is here, or not any more."""
        return not self.counts and self.removes is None

    def line(self) -> str:
        """``anna: 41 records, 120 past versions, 2 texts``."""
        parts = [counted(self.counts[name], words) for name, words in _SAID if self.counts[name]]
        return f"{self.called}: {', '.join(parts) or 'nothing'}"

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        return {
            "what": self.called,
            "instead": self.instead,
            "names": list(self.names),
            "common_words": list(self.common),
            "left": list(self.left),
            "samples": [one._asdict() for one in self.samples],
            "counts": {name.replace(" ", "_"): self.counts[name] for name, _ in _SAID if self.counts[name]},
        }


def person_to_erase(connection: sqlite3.Connection, name: str, *, only_who: bool = False) -> ToErase:
    """What goes with a person: all names that the person has or had, and the notes about the person.

    ``only_who`` leaves the names in texts of others as they are. Raises UnknownNameError for a name that is nowhere,
    InputError for a name of several people.
    """
    ids = _ids_of_person(connection, name)
    names = _names_of(connection, ids) or {name}
    others = _names_of(connection, _other_people(connection, ids)) | _who_else(connection, names)
    apart = {one for one in names if folded_label(one) in {folded_label(other) for other in others}}
    own = sorted(names - apart)
    instead = neutral_name(_called(connection, ids) or name)
    keys_of_others = {key for other in others for key in keys_of_name(other)}
    marks = {mark for one in own for mark in marks_of_name(one, instead, in_texts=not only_who, others=keys_of_others)}
    parts = _parts_of(own, others)
    for part in parts.taken if not only_who else ():
        marks |= marks_of_part(part, instead)
    if not only_who:
        marks |= marks_of_part_keys(_with_initials(own, others), instead)
    for row_id in ids:
        for version, content in versions_said(connection, ("main",), _PERSON.table, row_id):
            if content.get("note"):
                marks |= {text_mark(_PERSON.table, row_id, version, "note"), entry_mark(version)}
            if content.get("name") in apart:
                marks.add(text_mark(_PERSON.table, row_id, version, "name", instead))
    said = {row["note"] for row_id in ids for row in _rows(connection, _PERSON, row_id) if row["note"]}
    found = _found(connection, marks)
    of_others = {key for other in others for part in parts_of_name(other) for key in keys_of_name_word(part)}
    common = tuple(one for one in own if is_common_word(one) or not of_others.isdisjoint(keys_of_name(one)))
    return ToErase(
        f"person {name}",
        instead,
        frozenset(marks),
        found.counts,
        frozenset({*own, *said}),
        tuple(sorted(names)),
        common,
        tuple(_samples(connection, found.changes, common, instead)) if common and not only_who else (),
        left=(
            *((*parts.left, *_letters_left(found.changes, own, instead)) if not only_who else ()),
            *_files_not_known(connection, marks),
        ),
    )


class _PartsOfNames(NamedTuple):
    """The parts of somebody's names that go out of texts, and a sentence for each that does not."""

    taken: tuple[str, ...]
    left: tuple[str, ...]


def _parts_of(names: Sequence[str], others: Collection[str]) -> _PartsOfNames:
    taken: list[str] = []
    left: list[str] = []
    for part in sorted({part for name in names for part in parts_of_name(name)}):
        keys = set(keys_of_name_word(part))
        shared = [
            other
            for other in sorted(others)
            if any(not keys.isdisjoint(keys_of_name_word(word)) for word in (*parts_of_name(other), other))
        ]
        if any(not keys.isdisjoint(keys_of_name(name)) for name in names):
            continue
        if shared:
            left.append(
                f"'{part}' alone stays in texts: {shared[0]} is called so too. If that is the same person, type "
                f"'bevelbook erase person {in_command(shared[0])}' as well."
            )
        elif part in common_words():
            left.append(f"'{part}' alone stays in texts: it is a word of the language too.")
        else:
            taken.append(part)
    return _PartsOfNames(tuple(taken), tuple(left))


def _with_initials(names: Sequence[str], others: Collection[str]) -> list[str]:
    """The keys of a word of these names with an initial of another, but for those by which somebody else is called;
    beside a whole name the initial always goes along."""
    of_others = {key for other in others for key in (*keys_with_initial([other]), *keys_of_name(other))}
    whole = {key for name in names for key in keys_of_name(name)}
    return [key for key, word in keys_with_initial(names).items() if word in whole or key not in of_others]


def _letters_left(changes: Sequence[Blanked], names: Sequence[str], instead: str) -> Iterator[str]:
    """A sentence for each letter beside a name which may be an initial, and as well something else."""
    letters = {initial_of(word) for name in names for word in words_of(name)}
    found = {
        one.text
        for change in changes
        for text in change.changes.values()
        if isinstance(text, str) and instead in text
        for one in letters_beside(text, f"({re.escape(instead)})")
        if initial_of(one.letter) in letters
    }
    for text in sorted(found):
        yield f"'{text}' keeps its letter: look whether that is an initial, and change the text."


def _files_not_known(connection: sqlite3.Connection, marks: Collection[Mark]) -> Iterator[str]:
    """A sentence for each kept file of which nobody can tell whether it has what is erased, where anything is."""
    if not marks:
        return
    for name, part, sha256, packed in connection.execute(
        "SELECT f.name, f.part, f.sha256, b.packed FROM note_files f JOIN note_bytes b ON b.sha256 = f.sha256 "
        "ORDER BY f.name, f.id"
    ):
        if hash_of_packed(packed) != sha256:
            yield (
                f"The kept file {called_file(name, part)} is not what was kept: its bytes have another hash, so that "
                "nobody can tell whether it has this, and it stays. Merge a book that has the file whole: that puts it "
                "right here, and takes it out if it has this."
            )


def text_to_erase(connection: sqlite3.Connection, kind: Kind, name: str, field: str | None = None) -> ToErase:
    """What goes with the text in a field of a record, also of one that was removed: all its versions.

    Raises UnknownNameError for a record that there never was, InputError for a field that holds no text.
    """
    column = _text_field(kind, field)
    row_id = id_of_any(connection, kind, name)
    texts = {
        version: text
        for version, content in versions_said(connection, ("main",), kind.table, row_id)
        if isinstance(text := content.get(column), str) and text != ERASED
    }
    marks = {
        mark for version in texts for mark in (text_mark(kind.table, row_id, version, column), entry_mark(version))
    }
    called = f"{column.replace('_', ' ')} of {record_words(connection, kind, row_id, _last(connection, kind, row_id))}"
    counts = _found(connection, marks).counts
    left = tuple(_files_not_known(connection, marks))
    return ToErase(called, ERASED, frozenset(marks), counts, frozenset(texts.values()), left=left)


def photograph_to_erase(connection: sqlite3.Connection, name: str) -> ToErase:
    """What goes with a photograph, also with one that was removed: its picture and its note; one that still hangs
    somewhere is removed.

    Raises UnknownNameError for one that there never was, InputError where another photograph shows the same picture.
    """
    row_id = id_of_any(connection, _PHOTO, name)
    picture = str(_last(connection, _PHOTO, row_id).get("picture") or "")
    others = [
        str(row[0])
        for row in connection.execute(
            "SELECT id FROM photos WHERE picture = ? AND id <> ? ORDER BY id", (picture, row_id)
        )
    ]
    if others:
        raise InputError(
            "another photograph shows the same picture",
            code="picture_shown_elsewhere",
            found=record_words(connection, _PHOTO, others[0]),
            remedy="Erase that one, or remove it first. Nothing was changed.",
        )
    marks = {Mark("picture", picture)} if picture else set()
    texts: set[str] = set()
    for version, content in versions_said(connection, ("main",), _PHOTO.table, row_id):
        note = content.get("note")
        if isinstance(note, str) and note != ERASED:
            marks |= {text_mark(_PHOTO.table, row_id, version, "note"), entry_mark(version)}
            texts.add(note)
    is_there = connection.execute("SELECT 1 FROM photos WHERE id = ?", (row_id,)).fetchone() is not None
    called = record_words(connection, _PHOTO, row_id, _last(connection, _PHOTO, row_id))
    counts = _found(connection, marks).counts
    return ToErase(called, ERASED, frozenset(marks), counts, frozenset(texts), removes=row_id if is_there else None)


class Erased(NamedTuple):
    """What was taken out, and whether all of it is gone from the file itself; if not, ``why``, where that is not a
    program that has the file open."""

    counts: Counter[str]
    is_wiped: bool
    why: DatabaseError | None = None


def erase(
    connection: sqlite3.Connection,
    path: Path,
    registry: Registry,
    wanted: ToErase,
    *,
    asked: str,
    by: str | None,
    also: Callable[[], None] = lambda: None,
) -> Erased:
    """Take it out, all of it or nothing, and then out of the free pages of the file.

    ``asked`` is kept with the entry, and so must not say what is erased. ``also`` takes it out elsewhere: it is called
    before the database forgets the names, so that where that is stopped it can be done again. Raises DatabaseError when
    the database cannot be written; nothing was changed then.
    """
    connection.execute("PRAGMA secure_delete = ON")
    known = united_marks((*marks_in(connection), *wanted.marks)) == set(marks_as_kept(connection).values())
    if wanted.is_nothing and known:  # once more, where that was stopped before the end
        also()
        return _wiped(connection, path, Counter())
    with transaction(connection, path, asked=asked, by=by, wipes=False):
        if wanted.removes is not None:
            remove_record(connection, registry, _PHOTO, wanted.removes, by)
        marks = marks_with(connection, wanted.marks)
        keep_marks(connection, marks)
        blank = Blanking(marks)
        files = bytes_to_go(connection, blank).files
        with coming_in(connection):
            counts = make_blank(connection, blank)
        apply_joins(connection)
        if diffs := diffs_placed_by(connection, files):
            place_again(connection, sorted(diffs), turn=False)
        bring_up_to_date(connection, may_clash(connection))
        if counts:
            note_to_wipe(connection)
        also()
    return _wiped(connection, path, counts)


def _wiped(connection: sqlite3.Connection, path: Path, counts: Counter[str]) -> Erased:
    try:
        return Erased(counts, wipe(connection, path))
    except DatabaseError as fault:
        return Erased(counts, False, fault)


class _WhatGoes(NamedTuple):
    changes: list[Blanked]
    counts: Counter[str]


def _found(connection: sqlite3.Connection, new: set[Mark]) -> _WhatGoes:
    marks = marks_with(connection, new)
    blank = Blanking(marks)
    changes = list(blanked_in(connection, blank))
    return _WhatGoes(changes, counted_kinds(changes, bytes_to_go(connection, blank)))


def _ids_of_person(connection: sqlite3.Connection, name: str) -> list[str]:
    """The ids of a person, under whichever names; none for a name that stands only beside what somebody did."""
    try:
        first = find_id(connection, _PERSON, name)
    except UnknownNameError:
        if _is_who(connection, name) or not {one.id for one in marks_of_name(name, "", in_texts=True)}.isdisjoint(
            one.id for one in marks_in(connection, what="name")
        ):
            return []
        raise _nothing_to_erase(connection, _PERSON, name) from None
    joined = connection.execute("SELECT id FROM one_with WHERE kind = 'person' AND stands = ? ORDER BY id", (first,))
    return [first, *(str(row[0]) for row in joined)]


def _is_who(connection: sqlite3.Connection, name: str) -> bool:
    asked = ["SELECT 1 FROM entries WHERE made_by = ?1 COLLATE NOCASE"]
    asked += [f"SELECT 1 FROM {kind.table} WHERE updated_by = ?1 COLLATE NOCASE" for kind in KINDS if kind.own]
    return any(connection.execute(f"{one} LIMIT 1", (name,)).fetchone() for one in asked)


def _who_else(connection: sqlite3.Connection, names: Collection[str]) -> set[str]:
    """Who wrote something under a name that is none of these."""
    asked = ["SELECT made_by FROM entries"]
    asked += [f"SELECT updated_by FROM {kind.table}" for kind in KINDS if kind.own]
    own = {key for name in names for key in keys_of_name(name)}
    return {
        str(row[0])
        for row in connection.execute(f"{' UNION '.join(asked)} ORDER BY 1")
        if row[0] and not str(row[0]).startswith(f"{ERASED} ") and own.isdisjoint(keys_of_name(str(row[0])))
    }


def _other_people(connection: sqlite3.Connection, ids: Sequence[str]) -> list[str]:
    return [str(row[0]) for row in connection.execute("SELECT id FROM people ORDER BY id") if row[0] not in ids]


def _names_of(connection: sqlite3.Connection, ids: Sequence[str]) -> set[str]:
    return {
        name
        for row_id in ids
        for _, content in versions_said(connection, ("main",), _PERSON.table, row_id)
        if isinstance(name := content.get("name"), str) and not name.startswith(f"{ERASED} ")
    }


def _called(connection: sqlite3.Connection, ids: Sequence[str]) -> str | None:
    """What the person is called now, where that is known."""
    return next((str(row["name"]) for row_id in ids[:1] for row in _rows(connection, _PERSON, row_id)), None)


def _rows(connection: sqlite3.Connection, kind: Kind, row_id: str) -> list[sqlite3.Row]:
    return connection.execute(f"SELECT * FROM {kind.table} WHERE id = ?", (row_id,)).fetchall()


def _text_field(kind: Kind, field: str | None) -> str:
    columns = [name for name in text_columns(kind) if name != kind.label]
    wanted = (field or ("note" if "note" in columns else columns[0] if columns else "note")).replace(" ", "_")
    if wanted not in columns:
        raise InputError(
            f"this field cannot be erased of a {kind.name.replace('_', ' ')}",
            code="not_a_text",
            found=wanted,
            wanted=f"one of {', '.join(columns)}" if columns else "a record with a text",
            remedy="Only texts are erased: numbers, names of diffs and choices stay. Nothing was changed.",
        )
    return wanted


def id_of_any(connection: sqlite3.Connection, kind: Kind, name: str) -> str:
    """The id of a record by its name or id, also of one that was removed. Raises as ``find_id``."""
    try:
        return find_id(connection, kind, name, itself=True)
    except UnknownNameError:
        found = [row_id for row_id in _removed(connection, kind) if name in (row_id, row_id[-6:])]
        found = found or [
            row_id
            for row_id in _removed(connection, kind)
            if kind.label and _last(connection, kind, row_id).get(kind.label) == name
        ]
        if len(found) != 1:
            raise _nothing_to_erase(connection, kind, name) from None
        return found[0]


def _nothing_to_erase(connection: sqlite3.Connection, kind: Kind, name: str) -> UnknownNameError:
    """An unknown name, without advice to make such a thing."""
    known = labels_of(connection, kind)
    return UnknownNameError(kind.name, name, known, by_command="Nothing was changed.", noun=kind.name.replace("_", " "))


def _removed(connection: sqlite3.Connection, kind: Kind) -> list[str]:
    rows = connection.execute(
        "SELECT DISTINCT h.row_id FROM history h WHERE h.table_name = ? AND h.content IS NULL "
        f"AND h.row_id NOT IN (SELECT id FROM {kind.table}) ORDER BY h.row_id",
        (kind.table,),
    )
    return [str(row[0]) for row in rows]


def _last(connection: sqlite3.Connection, kind: Kind, row_id: str) -> dict[str, Any]:
    """What a record says, or said last."""
    row = connection.execute(f"SELECT * FROM {kind.table} WHERE id = ?", (row_id,)).fetchone()
    if row is not None:
        return dict(row)
    said = [content for _, content in versions_said(connection, ("main",), kind.table, row_id)]
    return said[-1] if said else {}


def _samples(
    connection: sqlite3.Connection, changes: Sequence[Blanked], common: Sequence[str], instead: str
) -> Iterator[InATextFound]:
    """Texts in which a name stands that is a word of the language too."""
    blank = Blanking(mark for one in common for mark in marks_of_name(one, instead, in_texts=True))
    left = _SAMPLES
    for one in changes:
        kind = BY_TABLE.get(one.table)
        if one.past is not None or kind is None or not kind.own or kind is _PERSON:
            continue
        for name in one.changes:
            text = str(one.before[name])
            if left and name not in ("updated_by", "entered") and blank.text(text) != text:
                left -= 1
                yield InATextFound(record_words(connection, kind, one.row_id), text[:_SAMPLE_LETTERS])
