"""Entries, what they kept, and marks of what was erased, where another book says something else of them, in words: what
a sentence calls them, who made them when, and in what they differ."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from datetime import date
from typing import Any, Final

from bevelbook.kept_json import object_in
from bevelbook.meeting.versions_met import Apart
from bevelbook.records import BY_TABLE
from bevelbook.records.kept_file_names import called_file, called_file_sql
from bevelbook.reports.clashes import author_words
from bevelbook.store.clashes import ClashVersion
from bevelbook.store.entry_contents import OF_A_FILE, EntryBook
from bevelbook.store.heads import Content
from bevelbook.taking_back.words import EMPTY, entry_words, entry_words_short, field_words, record_words

_FIELDS: Final[Mapping[str, str]] = {
    "made_at": "time",
    "made_by": "who made it",
    "asked": "what was asked for",
    "took_back": "entry that it took back",
    "given": "inputs",
    "found": "outputs",
    "rows": "listing",
    "origins": "where the inputs came from",
    "subject_table": "kind of its record",
    "subject_id": "its record",
    "calculated_at": "time of keeping",
    "calculated_by": "who kept it",
    "fingerprint": "formula",
    "sha256": "contents",
    "byte_count": "size",
    "read_at": "time of reading",
    "options": "how it was read",
    "accepted": "rows taken",
    "rejected": "rows rejected",
    "skipped": "rows skipped",
    "what": "what was erased",
    "table_name": "kind of its record",
    "row_id": "what it is of",
    "column_name": "its field",
    "instead": "what stands in the place",
    "words": "words of the name",
    "in_texts": "whether the name goes out of texts",
    "raw": "line as imported",
    "value": "what was in the cell",
    "closed_by": "file that closed it",
    "closed_line": "line that closed it",
    "cells": "cells that no column takes",
}
"""What a sentence calls a column, where that is not its own name."""
_FIELDS_OF_LEFT_OUT: Final[Mapping[str, str]] = {
    "words": "reason in words",
    "column_name": "column",
    "reason": "reason",
}
"""The same of a row that was left out of a file."""
_DONE: Final = {
    "entry": "made",
    "calculation": "kept",
    "note_file": "brought in",
    "note_reject": "left out",
    "note_extra": "kept",
}
_WHO_WHEN: Final = {"entry": ("made_by", "made_at"), "calculation": ("calculated_by", "calculated_at")}


class KeptWords:
    """Words for what two books say apart of entries, kept results and files of notes; reads the entries once."""

    def __init__(self, connection: sqlite3.Connection, today: date) -> None:
        self._connection = connection
        self._today = today
        self._entries = EntryBook(connection)

    def name(self, one: Apart) -> str:
        """What a sentence calls it: ``entry 12 of ana (record run)``, ``kept result of fill-volume of build rear-a/3``,
        ``file notes.csv``, ``row 3 left out of notes.csv``."""
        content = one.here or {}
        if one.kind.name == "entry":
            return entry_words(self._entries.by_id.get(one.row_id))
        if one.kind.name == "erasure":
            return f"mark of an erased {(one.here or one.there or {}).get('what')}"
        if one.kind.name == "note_file":
            return f"file {called_file(str(content.get('name')), content.get('part'))}"
        if one.kind.name in OF_A_FILE:
            beside = "left out of" if one.kind.name == "note_reject" else "with cells beside it in"
            return f"row {content.get('line')} {beside} {self._file_of(content)['called']}"
        kind = BY_TABLE.get(str(content.get("subject_table")))
        subject = content.get("subject_id")
        of = "" if kind is None or subject is None else f" of {record_words(self._connection, kind, str(subject))}"
        return f"kept result of {content.get('calculator')}{of}"

    def is_shown(self, one: Apart) -> bool:
        """Whether it is what stands now, not what an entry replaced."""
        names = one.kind.columns
        if one.kind.name == "erasure":
            return True
        row = self._connection.execute(f"SELECT * FROM main.{one.kind.table} WHERE id = ?", (one.row_id,)).fetchone()
        return row is not None and all(row[name] == (one.here or {}).get(name) for name in names)

    def which(self, one: Apart, *, is_shown: bool) -> str:
        """Who made it when, as it says here: ``kept by ana, 3 May 12:10``."""
        if one.kind.name == "erasure":
            return "in force here" if one.here else "which is not here"
        once = "" if is_shown else "as it was once, "
        return f"{once}{_DONE[one.kind.name]} by {self.by(one)}"

    def by(self, one: Apart) -> str:
        """Who made it and when: ``ana, 3 May 12:10``; of what was left out of a file who read that."""
        content = one.here or {}
        if one.kind.name == "erasure":
            return ""
        entry = one.row_id if one.kind.name == "entry" else content.get("entry")
        if one.kind.name in OF_A_FILE:
            file = self._file_of(content)
            entry = one.version or file["entry"]
            made = self._entries.by_id.get(str(entry))
            who, when = (made.made_by, made.made_at) if made else (None, file["read_at"])
        elif one.kind.name in _WHO_WHEN:
            who, when = (content.get(name) for name in _WHO_WHEN[one.kind.name])
        else:
            made = self._entries.by_id.get(str(entry))
            who, when = made.made_by if made else None, content.get("read_at")
        return author_words(ClashVersion("", content, who, when, entry), self._today)

    def field(self, one: Apart, column: str) -> tuple[str, str, str]:
        """A column that differs: what a sentence calls it, what stands here, and what stands there."""
        field = next(field for field in one.kind.fields if field.name == column)
        values = (one.here or {}).get(column), (one.there or {}).get(column)
        here, there = self._in_words(column, *values)
        left_out = _FIELDS_OF_LEFT_OUT.get(column) if one.kind.name in OF_A_FILE else None
        return left_out or _FIELDS.get(column) or field_words(field), here, there

    def _file_of(self, content: Content) -> dict[str, Any]:
        """The file of a row that was left out: what it is ``called``, the ``entry`` that brought it in, ``read_at``."""
        row = self._connection.execute(
            f"SELECT {called_file_sql('f')} AS called, entry, read_at FROM main.note_files f WHERE id = ?",
            (content.get("note_file"),),
        ).fetchone()
        return {"called": "a file that is not here", "entry": None, "read_at": None} if row is None else dict(row)

    def _in_words(self, column: str, here: Any, there: Any) -> tuple[str, str]:
        if column in ("entry", "took_back"):
            found = [self._entries.by_id.get(str(one)) for one in (here, there)]
            words = [
                _plain(value) if entry is None else entry_words_short(entry)
                for value, entry in zip((here, there), found, strict=True)
            ]
            return words[0], words[1]
        objects = [object_in(one) if isinstance(one, str) else None for one in (here, there)]
        if objects[0] is not None and objects[1] is not None:
            return _parts(objects[0], objects[1]), _parts(objects[1], objects[0])
        return _plain(here), _plain(there)


def _parts(one: Content, other: Content) -> str:
    """Of two JSON objects what this one says where they differ."""
    said = [f"{name.replace('_', ' ')} {_plain(one[name])}" for name in one if one[name] != other.get(name, one)]
    return ", ".join(said) or EMPTY


def _plain(value: object) -> str:
    return EMPTY if value is None else " ".join(str(value).split())
