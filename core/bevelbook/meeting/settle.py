"""A clash settled: an entry whose version of the record follows all that stood side by side."""

from __future__ import annotations

import json
import sqlite3
from typing import Any, Final, Literal

from bevelbook.declare.errors import InputError
from bevelbook.kept_json import object_in
from bevelbook.reports.clashes import both_content
from bevelbook.store import entries
from bevelbook.store.clashes import ClashFound, bring_up_to_date
from bevelbook.store.heads import Content, derived_columns
from bevelbook.store.ids import now_utc
from bevelbook.store.schema import quoted
from bevelbook.store.versions import after
from bevelbook.store.writing import coming_in
from bevelbook.taking_back.removal import removal_of, remove

_WITH_IT: Final = ("entered", "note_file", "note_line")
"""Bookkeeping that goes with a version: what of it was typed, and the row of notes that it came from."""


def settle(connection: sqlite3.Connection, found: ClashFound, which: int | Literal["both"], *, by: str | None) -> None:
    """Have the version with that number hold, or what *both* changed, inside the caller's transaction and entry.

    Only the record is written; its rows, facts and results follow by the caller. Raises InputError where the record
    would be removed and something needs it.
    """
    content = _both(found) if which == "both" else found.heads[which - 1].content
    if content is None:
        _remove(connection, found, by)
    else:
        _hold(connection, found, content, by)
    bring_up_to_date(connection, [(found.kind.table, found.row_id)])


def _both(found: ClashFound) -> Content:
    values = both_content(found)
    if values is None:
        raise InputError(
            "both cannot hold: they changed the same field, or what was before is not known",
            code="clash_not_both",
            remedy="Choose one. Nothing was settled.",
        )
    content: dict[str, Any] = dict(found.shown.content or {})
    content |= {name: value for name, (value, _) in values.items()}
    typed: dict[str, Any] = {}
    for one in reversed(found.heads):
        typed |= object_in(str((one.content or {}).get("entered") or "{}")) or {}
    content["entered"] = json.dumps(typed, ensure_ascii=False) if typed else None
    return content


def _followed(found: ClashFound) -> str:
    """The column ``parents`` of a version after all heads; what is shown because it is needed is none of them."""
    heads = found.heads[1:] if found.why == "needed" else found.heads
    return after(*(one.version for one in heads))


def _hold(connection: sqlite3.Connection, found: ClashFound, content: Content, by: str | None) -> None:
    kind = found.kind
    if not kind.own:
        raise InputError(
            "a file of notes holds as long as something needs it",
            code="settled_by_itself",
            remedy="There is nothing to choose: remove what needs it, or leave it. Nothing was changed.",
        )
    aside = derived_columns(kind, content)
    row: dict[str, Any] = {name: content.get(name) for name in kind.columns if name not in aside}
    row |= {name: content.get(name) for name in _WITH_IT}
    row |= {"updated_at": now_utc(), "updated_by": by}
    row |= {"version": entries.current(connection), "parents": _followed(found)}
    sets = ", ".join(f"{quoted(name)} = ?" for name in row)
    statement = f"UPDATE {kind.table} SET {sets} WHERE id = ?"
    if found.why == "needed":  # the history has what is shown already
        with coming_in(connection):
            connection.execute(statement, (*row.values(), found.row_id))
    else:
        connection.execute(statement, (*row.values(), found.row_id))


def _remove(connection: sqlite3.Connection, found: ClashFound, by: str | None) -> None:
    remove(connection, removal_of(connection, found.kind, found.row_id), by)
    connection.execute(
        "UPDATE history SET parents = ? WHERE table_name = ? AND row_id = ? AND version = ? AND content IS NULL",
        (_followed(found), found.kind.table, found.row_id, entries.current(connection)),
    )
