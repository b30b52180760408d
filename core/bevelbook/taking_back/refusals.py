"""Why an entry cannot be taken back, in words: the record and the entry that stand in the way."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import Final

from bevelbook.declare.errors import InputError
from bevelbook.records import Kind
from bevelbook.records.kept_file_names import called_file
from bevelbook.store.entry_contents import Content, EntryBook, PastEntry
from bevelbook.store.take_back import Plan, Refusal
from bevelbook.taking_back.words import entry_words, record_words

NAMED: Final = 3
"""Reasons that are named; more are counted."""


class TakeBackRefusedError(InputError):
    """An entry that cannot be taken back. ``later`` are the entries that would have to be taken back before it."""

    def __init__(self, what: str, *, code: str, remedy: str, later: Sequence[PastEntry] = ()) -> None:
        super().__init__(what, code=code, remedy=remedy)
        self.later = tuple(later)


def refused(entries: EntryBook, plan: Plan) -> TakeBackRefusedError:
    """The fault for a plan with refusals."""
    said = list(dict.fromkeys(_reason(entries, one) for one in plan.refusals))
    more = f"; and {len(said) - NAMED} more" if len(said) > NAMED else ""
    later = sorted(
        {entries.by_id[one.entry] for one in plan.refusals if one.entry in entries.by_id},
        key=lambda one: one.moment,
        reverse=True,
    )
    remedy = ""
    if later:
        remedy = f"Take back {' and '.join(f'entry {one.number}' for one in later[:NAMED])} first"
        remedy += " and those before. " if len(later) > NAMED else ". "
    return TakeBackRefusedError(
        f"{entry_words(plan.entry)} cannot be taken back: {'; '.join(said[:NAMED])}{more}",
        code="take_back_refused",
        remedy=f"{remedy}Nothing was changed.",
        later=later,
    )


def does_not_fit(entries: EntryBook, plan: Plan, fault: sqlite3.IntegrityError) -> TakeBackRefusedError:
    """The fault for an earlier content that the checks of today refuse."""
    names = [record_words(entries.connection, one.kind, one.row_id) for one in (*plan.restored, *plan.returning)]
    of = f" of {names[0]}" if len(names) == 1 else ""
    return TakeBackRefusedError(
        f"{entry_words(plan.entry)} cannot be taken back: the earlier value{of} does not fit what this version checks "
        f"({fault})",
        code="take_back_refused",
        remedy="Write the value that is right instead. Nothing was changed.",
    )


def _last_content(entries: EntryBook, kind: Kind, row_id: str) -> Content | None:
    return next((one.content for one in reversed(entries.states(kind, row_id)) if one.content), None)


def _file_words(connection: sqlite3.Connection, row_id: str) -> str:
    row = connection.execute(
        "SELECT json_extract(content, '$.name'), json_extract(content, '$.part') FROM history "
        "WHERE table_name = 'note_files' AND row_id = ? "
        "AND json_valid(content) ORDER BY id DESC LIMIT 1",
        (row_id,),
    ).fetchone()
    return f"the file {called_file(row[0], row[1])}" if row and row[0] else "a file"


def _reason(entries: EntryBook, refusal: Refusal) -> str:
    connection = entries.connection
    record = record_words(connection, refusal.kind, refusal.row_id, refusal.content)
    author = entry_words(entries.by_id.get(refusal.entry or ""))
    if refusal.why == "later":
        return f"{record} was written since by {author}"
    if refusal.why == "beside":
        other = entry_words(entries.by_id.get(refusal.other or ""))
        return f"{record} was changed in two places, here and by {other}; settle or correct what holds now instead"
    if refusal.why == "erased":
        return f"what {record} was before has been erased"
    if refusal.why == "unknown_column":
        return f"what {record} was before has a field that this version does not know ({refusal.column})"
    assert refusal.by is not None
    kind, row_id = refusal.by
    if refusal.why == "equal_name":
        name = (refusal.content or {}).get(kind.label or "") or record
        return f"{name} would come back beside the {record_words(connection, kind, row_id)} from {author}"
    if refusal.why == "gone":
        if kind.name == "note_file":
            return f"{record} would come back with {_file_words(connection, row_id)} that was removed since by {author}"
        field = (refusal.column or "").replace("_", " ")
        gone = record_words(connection, kind, row_id, _last_content(entries, kind, row_id))
        return f"{record} would come back with a {field} that was removed since by {author} ({gone})"
    if refusal.why == "result":
        return f"a result kept by {author} is about {record}"
    return f"{record} is used by {record_words(connection, kind, row_id)}, from {author}"
