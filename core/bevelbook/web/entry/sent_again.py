"""A form that was sent again with other texts than those that it has stored: gone back to, and changed."""

from __future__ import annotations

import sqlite3
from collections import OrderedDict
from collections.abc import Mapping
from typing import Any, Final, NamedTuple
from weakref import WeakKeyDictionary

from bevelbook.declare.errors import InputError
from bevelbook.entering.typed_fields import typed_fields
from bevelbook.kept_json import object_in
from bevelbook.reading import BY_HAND, ReadingError, read
from bevelbook.records import Kind
from bevelbook.store.entry_contents import EntryBook
from bevelbook.store.lookup import label_of
from bevelbook.store.record_names import with_kind
from bevelbook.web.entry.entry_fields import NOTHING
from bevelbook.web.entry.record_form import stored_texts
from bevelbook.web.shared.short_text import short
from bevelbook.web.shared.typed_form import TypedForm

AGAIN: Final = "again"
"""The button that says what a form sent again is to do."""
CORRECT: Final = "correct"
ANOTHER_ONE: Final = "another"
NEXT_KEY: Final = "key.next"
"""The hidden field with the id of the entry that such a form will make."""
_REMEMBERED: Final = 200
"""Entries whose typed texts are kept to compare them with those of a form that is sent again."""
_LONGEST: Final = 2_000
_SAID: Final = 60
_SENT: Final[WeakKeyDictionary[Any, OrderedDict[str, dict[str, str]]]] = WeakKeyDictionary()


class StoredOtherwiseError(InputError):
    """A form has stored a record already, with other texts than it has now.

    ``changes`` are the texts that it has now, and ``stored`` what is stored for the same fields.
    """

    def __init__(self, entry: str, what: str, changes: Mapping[str, str], stored: Mapping[str, str], said: str) -> None:
        self.entry = entry
        self.what = what
        self.changes = dict(changes)
        self.stored = dict(stored)
        super().__init__(
            f"this form is stored already, as {what}; {said}",
            code="written_already",
            remedy="Correct it, or store another one. Nothing more was stored yet.",
        )


class EntryRecord(NamedTuple):
    """The record of a kind that an entry wrote first, if it is there."""

    row_id: str
    label: str


def remember_sent(datasette: Any, entry: str, typed: Mapping[str, str]) -> None:
    """Keep the texts with which a form made an entry."""
    held = _SENT.setdefault(datasette, OrderedDict())
    held[entry] = {name: _kept(text) for name, text in typed.items()}
    while len(held) > _REMEMBERED:
        held.popitem(last=False)


def is_as_sent(datasette: Any, entry: str, typed: Mapping[str, str]) -> bool | None:
    """Whether these are the texts with which a form made an entry; None where that is not known, as after a restart."""
    held = _SENT.get(datasette, OrderedDict()).get(entry)
    return None if held is None else _differing(held, typed) == []


def sent_texts(form: TypedForm, *aside: str) -> dict[str, str]:
    """Every text of a form but those of the fields ``aside`` and of its token."""
    return {name: "\n".join(texts) for name, texts in form.texts.items() if name not in (*aside, "csrftoken")}


def record_of_entry(connection: sqlite3.Connection, kind: Kind, entry_id: str) -> EntryRecord | None:
    """The record of that kind that an entry wrote; None where it wrote none, or it is gone."""
    entries = EntryBook(connection)
    entry = entries.by_id.get(entry_id)
    touched = [] if entry is None else [one.row_id for one in entries.contents_of(entry) if one.kind is kind]
    for row_id in touched:
        if connection.execute(f"SELECT 1 FROM {kind.table} WHERE id = ?", (row_id,)).fetchone():
            return EntryRecord(row_id, label_of(connection, kind, row_id))
    return None


def refuse_other_texts(
    connection: sqlite3.Connection, datasette: Any, kind: Kind, entry_id: str, typed: Mapping[str, str]
) -> None:
    """Raise StoredOtherwiseError where a form has other texts now than those that its entry stored."""
    held = _SENT.get(datasette, OrderedDict()).get(entry_id)
    record = record_of_entry(connection, kind, entry_id)
    stored = stored_texts(connection, kind, record.row_id) if record else {}
    fields = {field.name: field for field in typed_fields(kind)}
    if held is not None:
        changed = _differing(held, typed)
    elif record is None:
        return
    else:
        said = _entered(connection, kind, record.row_id)
        changed = [
            name for name, text in typed.items() if name in fields and _is_other(fields[name], text, stored, said)
        ]
    if not changed:
        return
    was = {name: stored.get(name, "") if name in fields else (held or {}).get(name, "") for name in changed}
    named = {name: fields[name].words if name in fields else name.replace("_", " ") for name in changed}
    there = ", ".join(f"{named[name]} {short(text, _SAID) if text else 'empty'}" for name, text in was.items())
    now = ", ".join(f"{named[name]} {short(typed.get(name, ''), _SAID) or 'empty'}" for name in changed)
    what = with_kind(kind, record.label) if record else "something that was removed or taken back since"
    raise StoredOtherwiseError(
        entry_id,
        what,
        {name: typed.get(name, "") for name in changed} if record and all(name in fields for name in changed) else {},
        was,
        f"stored is {there}, and now you typed {now}",
    )


def _differing(held: Mapping[str, str], typed: Mapping[str, str]) -> list[str]:
    return [name for name in {**held, **typed} if held.get(name, "") != _kept(typed.get(name, ""))]


def _kept(text: str) -> str:
    """A text as it is remembered: of a long one its beginning and its hash."""
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}{hash(text)}"


def _entered(connection: sqlite3.Connection, kind: Kind, row_id: str) -> Mapping[str, Any]:
    """The texts with which a record was written, with the reasons for those that nobody typed."""
    (kept,) = connection.execute(f"SELECT entered FROM {kind.table} WHERE id = ?", (row_id,)).fetchone()
    return (object_in(kept) or {}) if kept else {}


def _is_other(field: Any, text: str, stored: Mapping[str, str], entered: Mapping[str, Any]) -> bool:
    """Whether a typed text says something else than the one that was stored; an empty one says so where something was
    typed before."""
    text = "" if text == NOTHING else text.strip()
    held, was = stored.get(field.name, ""), str(entered.get(field.name, "")).strip()
    if not text:
        return bool(held) and _says_the_same(field, was, held)
    if text == was:
        return False
    return not _says_the_same(field, text, held)


def _says_the_same(field: Any, text: str, stored: str) -> bool:
    """Whether a text means the value that is stored; a name may be written in capitals."""
    if not text or not stored or field.kind == "reference":
        return text.casefold() == stored.casefold()
    try:
        return bool(read(field, text, BY_HAND) == read(field, stored, BY_HAND))
    except ReadingError:
        return text == stored
