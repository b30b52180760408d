"""The states of a row without versions, such as a kept file or a kept result: the first, and one after each entry that
changed it.

They are read from the row and its history, put together with those that another database knows, and written back. Which
change followed which is kept as far as either knows it; only changes that know nothing of each other go by time.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from bevelbook.kept_json import object_in
from bevelbook.records import Kind
from bevelbook.store.edition_mark import END_OF_DAY
from bevelbook.store.entry_contents import NAMES_ENTRY
from bevelbook.store.heads import Version, in_order
from bevelbook.store.kept_past import NONE_BEFORE, NOT_VERSIONED
from bevelbook.store.known_versions import HistoryRow, past_rows
from bevelbook.store.schema import content_json, literal, quoted
from bevelbook.store.versions import after

FIRST_TIMES: Final = {"note_file": "read_at", "calculation": "calculated_at", "picture": "kept_at"}
"""The column that says when a row first came; of two first states the earlier one holds."""
_REMOVAL_AFTER: Final = after(NOT_VERSIONED)


@dataclass(slots=True)
class ChangeByEntry:
    """What an entry made of a row: ``text`` is its content as JSON, None where it was removed. ``is_said`` is set where
    the history has a row for that removal; ``before`` are the entries whose changes it followed."""

    text: str | None = None
    replaced_at: str | None = None
    is_said: bool = False
    before: set[str] = field(default_factory=set)


@dataclass(slots=True)
class KnownRow:
    """All states of one row; ``apart`` are other rows of its history, which an upgrade left."""

    kind: Kind
    first: str | None = None
    changes: dict[str, ChangeByEntry] = field(default_factory=dict)
    apart: set[HistoryRow] = field(default_factory=set)

    def read(self, history: Iterable[HistoryRow], shown: str | None) -> None:
        """Read the states from the history of the row, oldest first, and from the row itself as JSON."""
        owner: str | None = None
        removed: str | None = None
        state: str | None = None
        for version, parents, text, entry, at in history:
            if text is None and entry is None:
                change = self._change(version, owner if owner != version else None)
                change.is_said = True
                removed, owner, state = state, version, None
            elif version != NOT_VERSIONED:
                self.apart.add((version, parents, text, entry, at))
            else:
                came = self._came_back(owner, text, removed)
                if came is not None:
                    self._change(came, owner)
                    owner = came
                state = None if text in (None, NONE_BEFORE) else text
                self._set(owner, state)
                if entry is None:
                    return
                change = self._change(entry, owner)
                change.replaced_at = at
                owner, removed = entry, None
        if shown is None or (removed is not None and _canonical(shown) == _canonical(removed)):
            return
        came = self._came_back(owner, shown, removed)
        if came is not None:
            self._change(came, owner)
            owner = came
        self._set(owner, shown)

    def _came_back(self, owner: str | None, text: str | None, removed: str | None) -> str | None:
        """The entry that brought a removed row back without saying so, by the row itself."""
        if owner is None or text is None or not self.changes[owner].is_said or self.kind.name not in NAMES_ENTRY:
            return None
        entry = (object_in(text) or {}).get("entry")
        return entry if isinstance(entry, str) and entry != owner else None

    def _change(self, entry: str, owner: str | None) -> ChangeByEntry:
        change = self.changes.setdefault(entry, ChangeByEntry())
        if owner is not None and owner != entry:
            change.before.add(owner)
        return change

    def _set(self, owner: str | None, text: str | None) -> None:
        if owner is None:
            self.first = text
        else:
            self.changes[owner].text = text

    def unite(self, other: KnownRow) -> None:
        """Put together with what another database knows of the same row."""
        self.first = self._earlier(self.first, other.first)
        for entry, theirs in other.changes.items():
            own = self.changes.get(entry)
            if own is None:
                self.changes[entry] = theirs
                continue
            own.text = theirs.text if own.text is None else min(own.text, theirs.text or own.text)
            own.replaced_at = min(filter(None, (own.replaced_at, theirs.replaced_at)), default=None)
            own.is_said |= theirs.is_said
            own.before |= theirs.before
        self.apart |= other.apart

    def _earlier(self, one: str | None, other: str | None) -> str | None:
        """What was kept first; what an edition says, which leaves out the hour and more, only where nothing else is."""
        column = FIRST_TIMES.get(self.kind.name, "")

        def by_time(text: str) -> tuple[bool, str, str]:
            at = str((object_in(text) or {}).get(column) or "")
            return at.endswith(END_OF_DAY), at, text

        return min((text for text in (one, other) if text is not None), key=by_time, default=None)

    def last(self, made_at: Mapping[str, str]) -> str | None:
        """The state after the last change; ``made_at`` are the times of the entries by id."""
        order = self.in_order(made_at)
        return self.changes[order[-1]].text if order else self.first

    def in_order(self, made_at: Mapping[str, str]) -> list[str]:
        """The entries that changed it, in the order that holds."""
        versions = [
            Version(entry, frozenset(change.before), {"updated_at": made_at.get(entry, "")})
            for entry, change in self.changes.items()
        ]
        return [one.version for one in in_order(versions)]

    def history(self, made_at: Mapping[str, str], *, is_hidden: bool = False) -> list[HistoryRow]:
        """The rows of its history, oldest first; with ``is_hidden`` the last state is among them, since the table does
        not show it."""
        rows: list[HistoryRow] = sorted(self.apart, key=lambda row: [value or "" for value in row])
        state, is_said = self.first, False
        for entry in self.in_order(made_at):
            change = self.changes[entry]
            if state is not None or not (is_said and self._names(change.text, entry)):
                rows.append((NOT_VERSIONED, None, NONE_BEFORE if state is None else state, entry, change.replaced_at))
            if change.is_said:
                rows.append((entry, _REMOVAL_AFTER, None, None, None))
            state, is_said = change.text, change.is_said
        if is_hidden and state is not None:
            rows.append((NOT_VERSIONED, None, state, None, None))
        return rows

    def _names(self, text: str | None, entry: str) -> bool:
        return self.kind.name in NAMES_ENTRY and (object_in(text) or {}).get("entry") == entry


def _canonical(text: str) -> str:
    return content_json(object_in(text) or {})


def kept_rows(
    connection: sqlite3.Connection, kind: Kind, ids: Sequence[str], schema: str = "main"
) -> dict[str, KnownRow]:
    """The states that a database knows of these rows; ids that it does not know are left out."""
    shown = shown_rows(connection, kind, ids, schema)
    past = past_rows(connection, kind, ids, schema)
    found: dict[str, KnownRow] = {}
    for row_id in {**shown, **past}:
        found[row_id] = KnownRow(kind)
        found[row_id].read(past.get(row_id, ()), shown.get(row_id))
    return found


def made_at_of(connection: sqlite3.Connection, entries: Iterable[str]) -> dict[str, str]:
    """When these entries were made, by id."""
    rows = connection.execute(
        "SELECT id, made_at FROM main.entries WHERE id IN (SELECT value FROM json_each(?))",
        (json.dumps(sorted(entries)),),
    )
    return {row[0]: row[1] for row in rows}


def shown_rows(connection: sqlite3.Connection, kind: Kind, ids: Sequence[str], schema: str = "main") -> dict[str, str]:
    """These rows as JSON, as the history keeps them."""
    content = ", ".join(f"{literal(name)}, r.{quoted(name)}" for name in kind.columns)
    cursor = connection.cursor()
    cursor.row_factory = None
    rows = cursor.execute(
        f"SELECT r.id, json_object({content}) FROM {schema}.{kind.table} r "
        "WHERE r.id IN (SELECT value FROM json_each(?))",
        (json.dumps(list(ids)),),
    )
    return dict(map(tuple, rows))
