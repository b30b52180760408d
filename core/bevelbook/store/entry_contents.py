"""The entries, and what each of them wrote: records before and after it, from the tables and the history.

What an entry wrote is known without a list of it. A record made by hand has the entry as its version; what was changed
or removed says in the history which entry replaced it; what an import added has the instant of its entry as the time
when it was created. Kept files and kept results name their entry.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Sequence
from functools import cached_property
from typing import Any, Final, NamedTuple

from bevelbook.records import BY_NAME, KINDS, Kind
from bevelbook.store.as_written import written_references
from bevelbook.store.kept_past import NONE_BEFORE
from bevelbook.store.schema import ANOTHER_PROGRAM, BOOKKEEPING, selected_columns
from bevelbook.store.versions import entry_of, parents_in

Content = dict[str, Any]
OF_UPGRADE: Final = "kept from before entries"
ERASED_A_PERSON: Final = "erase a person"
ERASED_A_TEXT: Final = "erase a text"
OF_ERASING: Final = (ERASED_A_PERSON, ERASED_A_TEXT)
"""What an entry that erased says of itself, without what it erased."""
"""What the entry says that the upgrade of a database without entries made for all that was there; it is nobody's."""
NAMES_ENTRY: Final = ("note_file", "calculation")
"""Kinds whose rows name the entry that they came with."""
OF_A_FILE: Final = ("note_reject", "note_extra")
"""Kinds whose rows come and go with their kept file."""
_FROM_NOTES_THEN: Final = (
    "json_extract(content, '$.note_file') IS NOT NULL AND json_extract(content, '$.created_at') = :at"
)


class PastEntry(NamedTuple):
    """An entry: ``number`` counts all in the order in which they came into this database, from 1.

    So the number of an entry stays when older ones come in from another database. ``taken_back_by`` is the entry that
    took it back, if that was not taken back itself.
    """

    id: str
    number: int
    made_at: str
    made_by: str | None
    asked: str
    took_back: str | None
    reason: str | None
    taken_back_by: str | None

    @property
    def moment(self) -> tuple[str, str]:
        """Its place among all entries in the order of time: of two, the later one has the greater."""
        return self.made_at, self.id


class State(NamedTuple):
    """One version of a record: its content, None where it was removed, and the entry that wrote it.

    ``author`` is None where another program did, or a version of this one that kept no entries. ``is_erased`` is set
    where the history no longer has the content. ``parents`` are the versions that it followed: several where it settled
    a clash. What has no versions has neither.
    """

    author: str | None
    content: Content | None
    is_erased: bool = False
    version: str = ""
    parents: frozenset[str] = frozenset()


class Touch(NamedTuple):
    """One record that an entry wrote: as it was before and after; ``later`` are the versions that came after that.

    ``before`` is the version that was shown of those that it followed, ``beside`` are the others: then it settled a
    clash.
    """

    kind: Kind
    row_id: str
    before: State | None
    after: State
    later: tuple[State, ...] = ()
    beside: tuple[State, ...] = ()

    @property
    def what(self) -> str:
        """``added``, ``changed`` or ``removed``; ``restored`` where it had been removed before."""
        if self.after.content is None:
            return "removed"
        if self.before is None:
            return "added"
        return "restored" if self.before.content is None and not self.before.is_erased else "changed"

    @property
    def is_from_notes(self) -> bool:
        """Whether a kept file has the record, before or after."""
        return any(state and state.content and state.content.get("note_file") for state in (self.before, self.after))


class _HistoryRow(NamedTuple):
    """A row of the history of a record."""

    version: str
    parents: str | None
    content: str | None
    replaced_in: str | None


class _ShownRow(NamedTuple):
    """A record as its table has it."""

    version: str
    parents: str | None
    content: Content


def content_columns(kind: Kind) -> tuple[str, ...]:
    """The columns that make a record's content, as the history keeps it: all but id, version and parents."""
    return (*(tuple(BOOKKEEPING)[2:] if kind.own else ()), *kind.columns)


class EntryBook:
    """The entries of a database, and what they wrote."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.connection = connection

    @cached_property
    def all(self) -> tuple[PastEntry, ...]:
        """All entries, oldest first: read once, where they are asked for."""
        return tuple(_entries(self.connection))

    @cached_property
    def by_id(self) -> dict[str, PastEntry]:
        """All entries by their ids."""
        return {one.id: one for one in self.all}

    @cached_property
    def _by_instant(self) -> dict[str, str]:
        return {one.made_at: one.id for one in self.all}

    def alone(self, entry_id: str) -> PastEntry | None:
        """One entry, without reading all: its ``number`` is 0. None where there is no such entry."""
        row = self.connection.execute(
            "SELECT id, made_at, made_by, asked, took_back, reason FROM entries WHERE id = ?", (entry_id,)
        ).fetchone()
        return (
            None if row is None else PastEntry(row[0], 0, row[1], row[2], row[3], row[4], row[5], self._taker(entry_id))
        )

    def _taker(self, entry_id: str) -> str | None:
        """The entry that took one back, if that was not taken back itself."""
        takers = self.connection.execute(
            "SELECT id FROM entries WHERE took_back = ? ORDER BY made_at, id", (entry_id,)
        ).fetchall()
        return next((str(one[0]) for one in takers if self._taker(one[0]) is None), None)

    def numbered(self, number: int) -> PastEntry | None:
        """The entry with that number; None where there is none."""
        return next((one for one in self.all if one.number == number), None)

    def _is_entry(self, version: str) -> bool:
        if "by_id" in self.__dict__:
            return version in self.by_id
        found = self.connection.execute("SELECT 1 FROM entries WHERE id = ?", (version,)).fetchone()
        return found is not None

    def contents_of(self, entry: PastEntry) -> list[Touch]:
        """What an entry wrote, by kind in the order of their declaration, then by id."""
        found: list[Touch] = []
        for kind in KINDS:
            if kind.name in OF_A_FILE or kind.name == "entry":
                continue
            for row_id, states in self._states_of(kind, sorted(set(self._touched(kind, entry)))):
                touch = touch_by(kind, row_id, states, entry.id)
                if touch is not None:
                    found.append(touch)
        files = [one.row_id for one in found if one.kind.name == "note_file"]
        for name in OF_A_FILE:
            found += self._of_files(BY_NAME[name], entry, files)
        return found

    def states(self, kind: Kind, row_id: str) -> list[State]:
        """Every version of a record, oldest first."""
        return next((states for _, states in self._states_of(kind, [row_id])), [])

    def _states_of(self, kind: Kind, ids: Sequence[str]) -> Iterator[tuple[str, list[State]]]:
        """Every version of each of these records, in their order; one query for all."""
        wanted = json.dumps(list(ids))
        cursor = self.connection.cursor()
        cursor.row_factory = None
        past: dict[str, list[_HistoryRow]] = {}
        for row_id, *version in cursor.execute(
            "SELECT row_id, version, parents, content, replaced_in FROM history "
            "WHERE table_name = ? AND row_id IN (SELECT value FROM json_each(?)) ORDER BY row_id, id",
            (kind.table, wanted),
        ):
            past.setdefault(row_id, []).append(_HistoryRow(*version))
        names = content_columns(kind)
        version_columns = "version, parents" if kind.own else "'', NULL"
        now = {
            row[0]: _ShownRow(row[1], row[2], dict(zip(names, row[3:], strict=True)))
            for row in cursor.execute(
                f"SELECT id, {version_columns}, {selected_columns(kind.table, names)} FROM {kind.table} "
                "WHERE id IN (SELECT value FROM json_each(?))",
                (wanted,),
            )
        }
        for row_id, written in written_references(self.connection, kind, now).items():
            now[row_id].content.update(written)
        for row_id in ids:
            yield row_id, self._in_order(kind, past.get(row_id, []), now.get(row_id))

    def _in_order(self, kind: Kind, past: list[_HistoryRow], now: _ShownRow | None) -> list[State]:
        found: list[State] = []
        replaced_in: str | None = None
        versions = {one.version for one in past} | ({now.version} if now else set())
        replaced_by = {one.version: one.replaced_in for one in past}

        def replacer(version: str, parents: frozenset[str]) -> str | None:
            """The entry that replaced what a version followed; the row above it where that is not known."""
            known = [one for one in parents if one in replaced_by and kind.own]
            by = next((replaced_by[one] for one in sorted(known)), None) if known else replaced_in
            return by if by == version or by not in versions else None

        for one in past:
            if one.content == NONE_BEFORE:
                replaced_in = one.replaced_in
                continue
            is_removal = one.content is None and one.replaced_in is None
            read, parents = _read(one.content), parents_in(one.parents)
            by = replacer(one.version, parents)
            author = entry_of(one.version) if is_removal else self._author(kind, one.version, read, by, found)
            found.append(State(author, read, not is_removal and read is None, one.version, parents))
            replaced_in = one.replaced_in
        if now is not None:
            parents = parents_in(now.parents)
            author = self._author(kind, now.version, now.content, replacer(now.version, parents), found)
            found.append(State(author, now.content, False, now.version, parents))
        return found

    def _author(
        self, kind: Kind, version: str, content: Content | None, replaced_in: str | None, before: list[State]
    ) -> str | None:
        """The entry that wrote a version: named by it, else the one that replaced the version before it, else the
        import of that instant."""
        if self._is_entry(entry_of(version)):
            return entry_of(version)
        if replaced_in == ANOTHER_PROGRAM:
            return None
        if replaced_in is not None:
            return replaced_in
        is_new = not before or (before[-1].content is None and not before[-1].is_erased)
        if content is None or not is_new:
            return None
        if kind.name in NAMES_ENTRY:
            return str(content["entry"]) if content.get("entry") else None
        return self._by_instant.get(str(content.get("created_at"))) if content.get("note_file") else None

    def _touched(self, kind: Kind, entry: PastEntry) -> Iterator[str]:
        """The ids of the records of a kind that an entry may have written."""
        past = ["replaced_in = :entry", "version = :entry"]
        asked = []
        if kind.own:
            asked.append(f"SELECT id FROM {kind.table} WHERE version = :entry")
            asked.append(f"SELECT id FROM {kind.table} WHERE note_file IS NOT NULL AND created_at = :at")
            past.append(f"instr(content, :at) AND iif(json_valid(content), {_FROM_NOTES_THEN}, 0)")
        elif kind.name in NAMES_ENTRY:
            asked.append(f"SELECT id FROM {kind.table} WHERE entry = :entry")
            past.append(
                "instr(content, :entry) AND iif(json_valid(content), json_extract(content, '$.entry') = :entry, 0)"
            )
        asked.append(f"SELECT row_id FROM history WHERE table_name = '{kind.table}' AND ({' OR '.join(past)})")
        for row in self.connection.execute(" UNION ".join(asked), {"entry": entry.id, "at": entry.made_at}):
            yield str(row[0])

    def _of_files(self, kind: Kind, entry: PastEntry, files: list[str]) -> Iterator[Touch]:
        """The rows that came or went with kept files that an entry wrote, and others that it changed."""
        held = self.connection.execute(
            f"SELECT * FROM {kind.table} WHERE note_file IN (SELECT value FROM json_each(?)) OR id IN "
            "(SELECT row_id FROM history WHERE table_name = ? AND replaced_in = ?)",
            (json.dumps(files), kind.table, entry.id),
        )
        after = {row["id"]: {name: row[name] for name in kind.columns} for row in held}
        before = {
            row[0]: row[1]
            for row in self.connection.execute(
                "SELECT row_id, content FROM history WHERE table_name = ? AND replaced_in = ? ORDER BY id",
                (kind.table, entry.id),
            )
        }
        for row_id in sorted(after.keys() | before.keys()):
            was = None
            if before.get(row_id, NONE_BEFORE) != NONE_BEFORE:
                content = _read(before[row_id])
                was = State(None, content, is_erased=content is None)
            if was is not None or row_id in after:
                yield Touch(kind, row_id, was, State(entry.id, after.get(row_id)))


def touch_by(kind: Kind, row_id: str, states: list[State], entry: str) -> Touch | None:
    """What an entry did to a record, from the record's versions; None where it wrote none of them."""
    own = [place for place, state in enumerate(states) if state.author == entry]
    if not own:
        return None
    first, last = own[0], next((place for place in own if states[place].version == entry), own[-1])
    followed = followed_by(states, first)
    before = followed[-1] if followed else None
    return Touch(kind, row_id, before, states[last], tuple(_later(kind, states, last)), tuple(followed[:-1]))


def _later(kind: Kind, states: Sequence[State], place: int) -> list[State]:
    """The versions that followed the one at a place; of what has no versions all that came after it."""
    if not kind.own:
        return list(states[place + 1 :])
    after = {states[place].version}
    found: list[State] = []
    for number, one in enumerate(states[place + 1 :], start=place + 1):
        if any(before.version in after for before in followed_by(states, number)):
            after.add(one.version)
            found.append(one)
    return found


def heads_in(states: Sequence[State]) -> list[State]:
    """The versions of a record that no other followed; none of what has no versions."""
    followed = {parent for one in states for parent in one.parents if parent != one.version}
    return [one for one in states if one.version and one.version not in followed]


def followed_by(states: Sequence[State], place: int) -> list[State]:
    """The versions that the one at a place followed, the one that was shown last; the row above it where that is not
    known."""
    one = states[place]
    known = [state for state in states if state.version in one.parents and state.version != one.version]
    if not known:
        return list(states[max(0, place - 1) : place])
    return sorted(known, key=lambda state: (state.content is not None, _written_at(state), state.version))


def _written_at(state: State) -> str:
    return str((state.content or {}).get("updated_at") or "")


def _entries(connection: sqlite3.Connection) -> Iterator[PastEntry]:
    found = connection.execute(
        "SELECT id, made_at, made_by, asked, took_back, reason, rowid AS place FROM entries ORDER BY made_at, id"
    ).fetchall()
    numbers = {place: number for number, place in enumerate(sorted(row["place"] for row in found), start=1)}
    takers: dict[str, list[str]] = {}
    for row in found:
        if row["took_back"]:
            takers.setdefault(row["took_back"], []).append(row["id"])

    def taker(entry: str) -> str | None:
        return next((one for one in takers.get(entry, ()) if taker(one) is None), None)

    for row in found:
        yield PastEntry(row[0], numbers[row["place"]], row[1], row[2], row[3], row[4], row[5], taker(row[0]))


def _read(content: str | None) -> Content | None:
    """A content of the history; None for text that is not a JSON object."""
    if content is None:
        return None
    try:
        found = json.loads(content)
    except ValueError:
        return None
    return found if isinstance(found, dict) else None
