"""What a name on a label means, whatever kind of record it is, and however its letters are written.

A label's code has capitals alone, and no comma; a person who types it has no time for either.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

from bevelbook.reading.labels import folded_label
from bevelbook.records import BY_NAME, Kind
from bevelbook.store.lookup import ids_called
from bevelbook.store.record_names import names_of

NAMED_ON_LABELS: Final = ("diff", "build", "bottle", "fluid", "seal")
"""The kinds of record that a label may name, in the order in which they are offered."""


class RecordCalled(NamedTuple):
    """A record that a name may mean."""

    kind: Kind
    row_id: str
    name: str


def called(connection: sqlite3.Connection, typed: str, kinds: Sequence[str] = NAMED_ON_LABELS) -> list[RecordCalled]:
    """The records that a name may mean, in the order of the kinds; empty where there is none.

    The name of a diff means its last build too: where the diff is among them, the build is not.
    """
    found = [
        RecordCalled(BY_NAME[kind], row_id, name)
        for kind in kinds
        for row_id, name in _of_kind(connection, BY_NAME[kind], typed)
    ]
    diffs = {one.row_id for one in found if one.kind.name == "diff"}
    return [one for one in found if one.kind.name != "build" or _diff_of(connection, one.row_id) not in diffs]


def _diff_of(connection: sqlite3.Connection, build: str) -> str | None:
    row = connection.execute("SELECT diff FROM builds WHERE id = ?", (build,)).fetchone()
    return None if row is None else str(row[0])


def _of_kind(connection: sqlite3.Connection, kind: Kind, typed: str) -> Iterator[tuple[str, str]]:
    if kind.name == "bottle":
        yield from _bottles(connection, kind, typed)
        return
    ids = ids_called(connection, kind, typed)
    names = names_of(connection, kind, ids)
    yield from ((row_id, names[row_id]) for row_id in ids if row_id in names)


def _bottles(connection: sqlite3.Connection, kind: Kind, typed: str) -> Iterator[tuple[str, str]]:
    """The bottles whose fluid and lot, or whose lot alone, are typed; of a fluid without a lot the one bottle."""
    wanted = _plain(typed)
    rows = connection.execute(
        "SELECT bo.id, bo.lot, f.label FROM bottles bo JOIN fluids f ON f.id = bo.fluid ORDER BY f.label, bo.lot, bo.id"
    ).fetchall()
    found = [row[0] for row in rows if wanted == _plain(f"{row[2]} {row[1] or ''}")]
    found = found or [row[0] for row in rows if row[1] and wanted == _plain(row[1])]
    names = names_of(connection, kind, found)
    yield from ((row_id, names[row_id]) for row_id in found)


def _plain(text: str) -> str:
    return folded_label(text.replace(",", " "))
