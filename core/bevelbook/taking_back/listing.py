"""The entries in words, newest first; and the versions of one record."""

from __future__ import annotations

import sqlite3
from typing import NamedTuple

from bevelbook.declare.errors import BevelbookError, InputError, UnknownNameError
from bevelbook.records import BY_NAME, KINDS, Kind, kind_called
from bevelbook.store.entry_contents import EntryBook, PastEntry, State, Touch, followed_by
from bevelbook.store.lookup import find_id
from bevelbook.store.record_names import candidates, is_named_by_label
from bevelbook.taking_back.diffs_of_run import diffs_by_entry
from bevelbook.taking_back.words import came_of, entry_words, entry_words_short, record_words, version_words


class SaidEntry(NamedTuple):
    """An entry with what came of it, a line each; ``taken_back_by`` is the number of the entry that took it back."""

    entry: PastEntry
    lines: tuple[str, ...]
    taken_back_by: int | None


class SaidVersion(NamedTuple):
    """A version of a record in words, with the entry that wrote it; None where another program did."""

    entry: PastEntry | None
    words: str


class SaidRecord(NamedTuple):
    """A record in words with its versions, newest first."""

    name: str
    versions: tuple[SaidVersion, ...]
    kind: Kind
    row_id: str


def said_entries(connection: sqlite3.Connection, most: int | None = None) -> tuple[list[SaidEntry], int]:
    """The newest entries in words, newest first, and how many older ones there are."""
    entries = EntryBook(connection)
    newest = list(reversed(entries.all))[:most]
    return [_said(entries, one) for one in newest], len(entries.all) - len(newest)


def _said(entries: EntryBook, entry: PastEntry) -> SaidEntry:
    lines = came_of(entries.connection, entries.contents_of(entry))
    taken = entries.by_id.get(entry.took_back or "")
    if taken is not None:
        lines = [f"took back {entry_words(taken)}", *lines]
    if entry.reason:
        lines.append(f"why: {entry.reason}")
    taker = entries.by_id.get(entry.taken_back_by or "")
    return SaidEntry(entry, tuple(lines), taker.number if taker else None)


def said_record(connection: sqlite3.Connection, words: list[str]) -> SaidRecord:
    """The versions of the record with that name, newest first: ``["build", "rear-a/2"]``, or the name alone.

    A removed record is found by its last label. Raises UnknownNameError, or InputError where several have the name.
    """
    kind, row_id = _find(connection, words)
    entries = EntryBook(connection)
    versions: list[SaidVersion] = []
    diffs = diffs_by_entry(connection, entries, row_id) if kind.name == "run" else {}
    states = entries.states(kind, row_id)
    last_content = next((state.content for state in reversed(states) if state.content), None)
    for place, state in enumerate(states):
        followed = followed_by(states, place)
        before, beside = followed[-1] if followed else None, tuple(followed[:-1])
        one = Touch(kind, row_id, before, state._replace(author="here"), (), beside)
        author = entries.by_id.get(state.author or "")
        said = version_words(connection, one)
        if one.what == "removed" and author is not None and author.reason:
            said = f"{said}: {author.reason}"
        of_diffs = diffs.pop(author.id if author else None, [])
        if one.what != "removed":
            said = "; ".join([said, *of_diffs])
        versions.append(SaidVersion(author, f"{said}{_apart(entries, states, place)}"))
    for entry_id, words in diffs.items():
        _insert(versions, SaidVersion(entries.by_id.get(entry_id or ""), "; ".join(words)))
    return SaidRecord(record_words(connection, kind, row_id, last_content), tuple(reversed(versions)), kind, row_id)


def _apart(entries: EntryBook, states: list[State], place: int) -> str:
    """The end of a version that says that others followed the same one, each without the other."""
    parents = states[place].parents
    others = [
        state
        for other, state in enumerate(states)
        if other != place and parents and state.parents & parents and len(state.parents) == len(parents) == 1
    ]
    if not others:
        return ""
    named = [entry_words_short(entries.by_id.get(one.author or "")) for one in others]
    return f" (apart from {' and '.join(dict.fromkeys(named))})"


def _insert(versions: list[SaidVersion], one: SaidVersion) -> None:
    """Put a version among the others, oldest first: before the first one of a later entry."""
    moment = one.entry.moment if one.entry else ("", "")
    later = (place for place, other in enumerate(versions) if other.entry is not None and other.entry.moment > moment)
    versions.insert(next(later, len(versions)), one)


def _find(connection: sqlite3.Connection, words: list[str]) -> tuple[Kind, str]:
    first, *rest = words
    if rest and first.replace("-", "_") in BY_NAME:
        kind = kind_called(first)
        name = " ".join(words if rest[0].casefold() == "of" else rest)
        try:
            return kind, find_id(connection, kind, name)
        except UnknownNameError:
            removed = _removed(connection, (kind,), name)
            if not removed:
                raise
            if len(removed) > 1:
                raise _ambiguous(connection, removed, name) from None
            return removed[0]
    name = " ".join(words)
    found: list[tuple[Kind, str]] = []
    ambiguous: BevelbookError | None = None
    for kind in KINDS:
        if not kind.own:
            continue
        try:
            found.append((kind, find_id(connection, kind, name)))
        except UnknownNameError:
            continue
        except BevelbookError as fault:
            ambiguous = ambiguous or fault
    exact = [one for one in found if _is_label(connection, *one, name)]
    found = exact or found or _removed(connection, KINDS, name)
    if len(found) == 1:
        return found[0]
    if found:
        raise _ambiguous(connection, found, name)
    if ambiguous is not None:
        raise ambiguous
    raise UnknownNameError("record", name, (), by_command="'bevelbook history' lists what was written.")


def _is_label(connection: sqlite3.Connection, kind: Kind, row_id: str, name: str) -> bool:
    """Whether the name is the record's own label or id, and not that of something that leads to it."""
    if row_id == name:
        return True
    if kind.label is None:
        return False
    row = connection.execute(f'SELECT "{kind.label}" FROM {kind.table} WHERE id = ?', (row_id,)).fetchone()
    return str(row[0]).casefold() == name.casefold()


def _removed(connection: sqlite3.Connection, kinds: tuple[Kind, ...], name: str) -> list[tuple[Kind, str]]:
    """Removed records whose label this name was, what they were named by without a label, or whose id it is."""
    found: list[tuple[Kind, str]] = []
    for kind in kinds:
        if not kind.own:
            continue
        label = f"json_extract(h.content, '$.{kind.label}') = ?2 COLLATE NOCASE" if kind.label else "0"
        for row in connection.execute(
            "SELECT DISTINCT h.row_id FROM history h WHERE h.table_name = ?1 AND (h.row_id = ?2 OR "
            f"iif(json_valid(h.content), {label}, 0)) AND NOT EXISTS (SELECT 1 FROM {kind.table} t "
            "WHERE t.id = h.row_id)",
            (kind.table, name),
        ):
            found.append((kind, row[0]))
        if not is_named_by_label(kind):
            found += [(kind, one.row_id) for one in candidates(connection, kind, name, gone=True)]
    return list(dict.fromkeys(found))


def _ambiguous(connection: sqlite3.Connection, found: list[tuple[Kind, str]], name: str) -> InputError:
    return InputError(
        f"{len(found)} records have that name",
        code="ambiguous_name",
        found=name,
        remedy=_which(connection, found),
    )


def _which(connection: sqlite3.Connection, found: list[tuple[Kind, str]]) -> str:
    """How to name one of several records: by kind; where that does not tell them apart by id."""
    if len({kind.name for kind, _ in found}) < len(found):
        return "Name one by its id: " + " or ".join(row_id for _, row_id in found) + "."
    return "Name the kind first: " + " or ".join(record_words(connection, *one) for one in found) + "."
