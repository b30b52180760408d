"""What a form changes in a stored record, and where somebody else changed the same meanwhile."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from datetime import datetime
from hashlib import sha256
from typing import Final

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import InputError
from bevelbook.entering import run_places
from bevelbook.kept_json import object_in
from bevelbook.records import BY_NAME, Kind
from bevelbook.store.entry_contents import EntryBook, PastEntry, State
from bevelbook.store.record_names import with_kind
from bevelbook.web.entry.entry_fields import NOTHING, ValueMeanwhile
from bevelbook.web.entry.record_form import stored_texts
from bevelbook.web.entry.record_sent import OldFormError

_LONG: Final = 1_000
_BY_HASH: Final = "sha256 "
_SOMEBODY: Final = "somebody"
_ANOTHER_PROGRAM: Final = "another program"


class ChangedMeanwhileError(InputError):
    """Fields that somebody else changed while the form was open, to another value than the form has; by name."""

    def __init__(self, clashes: Mapping[str, ValueMeanwhile]) -> None:
        self.clashes = dict(clashes)
        super().__init__(
            f"{counted(len(clashes), 'field')} changed while this was open",
            code="changed_meanwhile",
            remedy="Choose which value is right. Nothing was stored yet.",
        )


class RemovedMeanwhileError(InputError):
    """The record that the form changes was removed while it was open."""

    def __init__(self, what: str) -> None:
        super().__init__(
            what, code="removed_meanwhile", remedy="Nothing was stored; what you typed is still here, to copy."
        )


def changed_texts(
    connection: sqlite3.Connection, kind: Kind, row_id: str, typed: Mapping[str, str], was: Mapping[str, str]
) -> dict[str, str]:
    """The texts that differ from those with which the form was drawn (``was``) and from what is stored now: only these
    are to be written.

    Raises RemovedMeanwhileError where the record is gone, OldFormError where the form does not say with which text a
    field was drawn that has another one now, and ChangedMeanwhileError where a field that the form changes
    has been changed since to something else.
    """
    entries = EntryBook(connection)
    if connection.execute(f"SELECT 1 FROM {kind.table} WHERE id = ?", (row_id,)).fetchone() is None:
        raise RemovedMeanwhileError(removed_words(entries, kind, row_id))
    stored = stored_texts(connection, kind, row_id)
    now = {name: _plain(stored.get(name, "")) for name in typed}
    if any(name not in was and _plain(text) != now[name] for name, text in typed.items()):
        raise OldFormError
    changed = {
        name: text for name, text in typed.items() if name in was and _plain(text) not in (_plain(was[name]), now[name])
    }
    clashes = {}
    for name in changed:
        if not was_drawn_with(was[name], now[name]):
            clashes[name] = ValueMeanwhile(now[name], *_written_by(entries, kind, row_id, name))
    if clashes:
        raise ChangedMeanwhileError(clashes)
    return changed


def as_drawn(text: str) -> str:
    """The text that a form was drawn with, as it sends it back: a long one by its hash, so as not to send it twice."""
    return text if len(text) <= _LONG else f"{_BY_HASH}{sha256(_plain(text).encode()).hexdigest()}"


def was_drawn_with(drawn: str, text: str) -> bool:
    """Whether a text is the one that a form was drawn with, as it sent that back."""
    if drawn.startswith(_BY_HASH):
        return drawn == f"{_BY_HASH}{sha256(_plain(text).encode()).hexdigest()}"
    return _plain(drawn) == _plain(text)


def removed_words(entries: EntryBook, kind: Kind, row_id: str) -> str:
    """That a record was removed, by whom and when."""
    states = entries.states(kind, row_id)
    held = next((state.content for state in reversed(states) if state.content), None) or {}
    noun = kind.name.replace("_", " ")
    label = held.get(kind.label) if kind.label else None
    named = with_kind(kind, str(label)) if label else f"this {noun}"
    author = entries.by_id.get(states[-1].author or "") if states else None
    return f"{named} was removed meanwhile{_by(author)}"


def removed_by_name(connection: sqlite3.Connection, kind: Kind, name: str) -> str | None:
    """That the record of that name was removed, in words; None where there was none."""
    found = next(_called_once(connection, kind, name, f"row_id NOT IN (SELECT id FROM {kind.table})"), None)
    return None if found is None else removed_words(EntryBook(connection), kind, found)


def renamed_to(connection: sqlite3.Connection, kind: Kind, name: str) -> str | None:
    """The name that the record has now which had that name last; None where there is none."""
    found = renamed_record(connection, kind, name)
    if found is None:
        return None
    return str(connection.execute(f"SELECT {kind.label} FROM {kind.table} WHERE id = ?", (found,)).fetchone()[0])


def renamed_record(connection: sqlite3.Connection, kind: Kind, name: str) -> str | None:
    """The id of the record that had a name last and has another one now; None where there is none."""
    return next(_called_once(connection, kind, name, f"row_id IN (SELECT id FROM {kind.table})"), None)


def _called_once(connection: sqlite3.Connection, kind: Kind, name: str, which: str) -> Iterator[str]:
    """The records, by id, that had a name, the one that had it last first."""
    if kind.label is None:
        return
    rows = connection.execute(
        "SELECT row_id, content FROM history WHERE table_name = ? AND content IS NOT NULL AND instr(content, ?) "
        f"AND {which} ORDER BY id DESC",
        (kind.table, name),
    ).fetchall()
    for row_id, content in rows:
        label = (object_in(content) or {}).get(kind.label)
        if isinstance(label, str) and label.casefold() == name.casefold():
            yield row_id


def _plain(text: str) -> str:
    """A text as it compares: a form sends other ends of lines, and a dash for nothing."""
    plain = "\n".join(text.splitlines()).strip()
    return "" if plain == NOTHING else plain


def _written_by(entries: EntryBook, kind: Kind, row_id: str, column: str) -> tuple[str, str]:
    """Who wrote the value that a field has now, and when."""
    if kind.name == "run" and column in run_places.NAMES:
        position, column = run_places.column_of(column)
        row = run_places.place_in_run(entries.connection, row_id, position, None)
        kind, row_id = BY_NAME["run_diff"], row[0] if row else ""
    states = entries.states(kind, row_id)
    last = _first_with(list(_newest_first(states)), column)
    author = entries.by_id.get(last.author or "") if last else None
    if author is None:
        return _ANOTHER_PROGRAM, ""
    return author.made_by or _SOMEBODY, _time_of(author)


def _newest_first(states: list[State]) -> Iterator[State]:
    return (state for state in reversed(states) if state.content is not None)


def _first_with(states: list[State], column: str) -> State | None:
    """The oldest of the newest versions that have the value of today."""
    found: State | None = None
    for state in states:
        if found is not None and (state.content or {}).get(column) != (states[0].content or {}).get(column):
            break
        found = state
    return found


def _by(author: PastEntry | None) -> str:
    if author is None:
        return ""
    return f" by {author.made_by or _SOMEBODY} at {_time_of(author)}"


def _time_of(author: PastEntry) -> str:
    """The local time of an entry, with its day where that is not today."""
    at = datetime.fromisoformat(author.made_at.replace("Z", "+00:00")).astimezone()
    today = datetime.now().astimezone().date()
    return at.strftime("%H:%M" if at.date() == today else "%Y-%m-%d %H:%M")
