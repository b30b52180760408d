"""What is kept without versions as two books have it: entries, kept results and files of notes with what was left out.

An entry is made once. So is what one entry kept of a result or noted of a file: two laptops may keep the same result or
read the same file, but each in an entry of its own, and then one rule makes one of both (``store/kept_states.py``).
Where both books name the same entry and say different things of it, another program changed one of them: then what
stands here stays, and the difference is named.

Rows that were left out of a file, and cells beside its rows, do not say which reading made them first. Two laptops that
read one file may find different reasons, and of both readings only one stays with the file. So the first state of such
a row is of one act where both books know the same entries that may have read a file; else the rule for two laptops
holds. What an entry made of a row later, as an import that closes it or one that reads the file again, is of that entry
alone. Of what was erased both books are blank before (``union.py``). Rows of notes that are placed again after a
meeting change, in nobody's name, the cells beside a row that a record may take (``LOOSE``): these do not count.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Final

from bevelbook.kept_json import object_in
from bevelbook.meeting.other_database import OTHER
from bevelbook.meeting.versions_met import Apart
from bevelbook.notes.note_columns import LOOSE
from bevelbook.records import BY_NAME, Kind
from bevelbook.store.entry_contents import NAMES_ENTRY, OF_A_FILE
from bevelbook.store.heads import Content
from bevelbook.store.kept_states import FIRST_TIMES, KnownRow
from bevelbook.store.schema import quoted

_ENTRY: Final = BY_NAME["entry"]
_READ_NO_FILE: Final = ("record", "calc", "take-back", "merge", "check", "join", "erase", "remove")
"""Commands whose entries bring in no file of notes; of any other it is not known."""


def entries_apart(connection: sqlite3.Connection) -> Iterator[Apart]:
    """The entries that say something else in the other book."""
    names = [quoted(one) for one in _ENTRY.columns]
    ours, theirs = (", ".join(f"{row}.{one}" for one in names) for row in ("t", "o"))
    cursor = connection.cursor()
    cursor.row_factory = None
    for row_id, *values in cursor.execute(
        f"SELECT t.id, {ours}, {theirs} FROM {OTHER}.entries o JOIN main.entries t ON t.id = o.id "
        f"WHERE ({ours}) IS NOT ({theirs}) ORDER BY t.id"
    ).fetchall():
        here, there = (
            dict(zip(_ENTRY.columns, half, strict=True)) for half in (values[: len(names)], values[len(names) :])
        )
        yield Apart(_ENTRY, row_id, "", here, there, _differing(_ENTRY, here, there), is_settled=False)


def same_readings(connection: sqlite3.Connection) -> bool:
    """Whether both books know the same entries that may have read a file; asked before entries come in."""
    asked = " UNION ALL ".join(
        f"SELECT asked FROM {one}.entries WHERE id NOT IN (SELECT id FROM {other}.entries)"
        for one, other in (("main", OTHER), (OTHER, "main"))
    )
    words = (str(row[0]).split() for row in connection.execute(asked))
    return all(typed[:1] and typed[0] in _READ_NO_FILE for typed in words)


def keep_own(
    kind: Kind, row_id: str, own: KnownRow, theirs: KnownRow, *, are_same_readings: bool = False
) -> list[Apart]:
    """Have what the other book says of an act that this one knows be as it is here, before both are put together;
    returns what said something else. ``version`` is the entry after which the row was so, empty for the first state;
    ``are_same_readings`` says of what was left out of a file that one reading made the first state in both."""
    found: list[Apart] = []
    if kind.name not in (*NAMES_ENTRY, *OF_A_FILE):
        return found
    is_of_file = kind.name in OF_A_FILE
    if (are_same_readings or not is_of_file) and (
        columns := _written_otherwise(kind, own.first, theirs.first)
    ) is not None:
        found.append(_apart(kind, row_id, "", own.first, theirs.first, columns))
        theirs.first = own.first
    for entry in sorted(own.changes.keys() & theirs.changes.keys()):
        here, there = own.changes[entry], theirs.changes[entry]
        if (columns := _written_otherwise(kind, here.text, there.text)) is not None:
            found.append(_apart(kind, row_id, entry, here.text, there.text, columns))
            there.text = here.text
    return found


def _apart(kind: Kind, row_id: str, entry: str, here: str | None, there: str | None, columns: tuple[str, ...]) -> Apart:
    return Apart(kind, row_id, entry, object_in(here or ""), object_in(there or ""), columns, is_settled=False)


def _written_otherwise(kind: Kind, own: str | None, theirs: str | None) -> tuple[str, ...] | None:
    """The columns in which another program changed what one act wrote; None where two acts may have written it."""
    if own is None or theirs is None or own == theirs:
        return None
    here, there = object_in(own), object_in(theirs)
    if here is None or there is None or not (kind.name in OF_A_FILE or _is_one_act(kind, here, there)):
        return None
    return _differing(kind, here, there) or None


def _is_one_act(kind: Kind, here: Content, there: Content) -> bool:
    """Whether one entry wrote both. Where only one of them names another entry, or none, the moment tells, to the
    millisecond; what names no entry on either side, as in an edition, may be of two acts."""
    entries = here.get("entry"), there.get("entry")
    if entries[0] == entries[1]:
        return entries[0] is not None
    moments = [(one.get(FIRST_TIMES[kind.name]), one.get("calculated_by")) for one in (here, there)]
    return moments[0] == moments[1]


def _differing(kind: Kind, here: Content, there: Content) -> tuple[str, ...]:
    return tuple(
        name for name in kind.columns if name in here and name in there and _told(name, here) != _told(name, there)
    )


def _told(name: str, content: Content) -> object:
    """What a column says that an act wrote: of cells beside a row those that no placing moves."""
    value = content[name]
    cells = object_in(value) if name == "cells" and isinstance(value, str) else None
    return value if cells is None else {one: text for one, text in cells.items() if one not in LOOSE}
