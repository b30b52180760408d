"""Names that would come back beside a living record of the same name: what was written since goes first."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Iterator

from bevelbook.entering.equal_names import name_key
from bevelbook.records import Kind
from bevelbook.records.joins import TOLD_APART_KINDS
from bevelbook.store.as_written import written_references
from bevelbook.store.entry_contents import EntryBook, State
from bevelbook.store.take_back import Plan, Refusal
from bevelbook.store.versions import LABELLED

Key = tuple[object, ...]


def equal_names(entries: EntryBook, plan: Plan, also: Collection[str]) -> Iterator[Refusal]:
    """A refusal for each name that the plan brings back while another record has it.

    Two records that had one name before the entry, because that was asked for, have it again. ``also`` are later
    entries that are to be taken back before. Labels that notes get by counting are given again, so they do not count,
    but where a label that was typed goes for one.
    """
    connection = entries.connection
    of_plan = {(one.kind.table, one.row_id) for one in (*plan.removed, *plan.restored, *plan.returning)}
    living: dict[str, dict[str, Key]] = {}
    for touch in (*plan.restored, *plan.returning):
        kind, content = touch.kind, (touch.before.content if touch.before else None) or {}
        is_rename = touch.what == "changed" and any(
            _key(kind, state.content or {}) is not None for state in (touch.before, touch.after) if state
        )
        key = name_key(kind, content) if is_rename else _key(kind, content)
        if key is None:
            continue
        there = living.setdefault(kind.table, _living(connection, kind))
        if there.get(touch.row_id) == key:
            continue
        for other, other_key in there.items():
            if other_key != key or (kind.table, other) in of_plan:
                continue
            states = entries.states(kind, other)
            author = _author_of_name(kind, states, key)
            if author not in also and not _had_it_before(entries, plan, kind, states, key):
                yield Refusal("equal_name", kind, touch.row_id, content, author, (kind, other))


def _key(kind: Kind, content: dict[str, object]) -> Key | None:
    is_typed = content.get("note_file") is None or f'"{kind.label}"' in str(content.get("entered") or "")
    is_counted = kind.name in LABELLED and not is_typed
    return None if is_counted else name_key(kind, content)


def _living(connection: sqlite3.Connection, kind: Kind) -> dict[str, Key]:
    rows = [dict(row) for row in connection.execute(f"SELECT * FROM {kind.table} ORDER BY id")]
    if kind.name in TOLD_APART_KINDS:
        written = written_references(connection, kind, [str(row["id"]) for row in rows])
        rows = [row | written.get(row["id"], {}) for row in rows]
    return {str(row["id"]): key for row in rows if (key := _key(kind, row)) is not None}


def _author_of_name(kind: Kind, states: list[State], key: Key) -> str | None:
    author: str | None = None
    for state in reversed(states):
        if state.content is None or _key(kind, state.content) != key:
            break
        author = state.author
    return author


def _had_it_before(entries: EntryBook, plan: Plan, kind: Kind, states: list[State], key: Key) -> bool:
    earlier = [
        state
        for state in states
        if state.author in entries.by_id and entries.by_id[state.author].moment < plan.entry.moment
    ]
    return bool(earlier) and _key(kind, earlier[-1].content or {}) == key
