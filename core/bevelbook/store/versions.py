"""Versions of records: the parents of a version, and the version that an import makes.

A version made by hand is named by its entry. One made by an import is named by its content, so that the same sheet
gives the same versions in any database: the first by the record's id, a later one by a hash of the versions before it
and the content.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from typing import Final

from bevelbook.records import Kind
from bevelbook.store.ids import content_id
from bevelbook.store.schema import content_json

PLACED: Final[dict[str, frozenset[str]]] = {
    "build": frozenset({"day_order"}),
    "weighing": frozenset({"build", "mass_basis"}),
    "run_diff": frozenset({"build"}),
}
"""Columns of imported records that follow from all rows of the diff, not from the row itself."""
LABELLED: Final = frozenset({"build", "run"})
"""Kinds whose imported records are labelled by counting, so that the label is not part of their content."""
_NO_DAY: Final = "1970-01-01"


def after(*versions: str) -> str:
    """The column ``parents`` of a version after these."""
    return json.dumps(sorted(versions), separators=(",", ":"))


def entry_of(version: str) -> str:
    """The entry that a version made by hand is named by.

    An entry that takes back how a clash was settled puts several versions side by side again; each after the first has
    a number behind its entry.

    >>> entry_of("019e0-1"), entry_of("019e0-1 2")
    ('019e0-1', '019e0-1')
    """
    return version.partition(" ")[0]


def parents_in(text: str | None) -> frozenset[str]:
    """The parents of a version as the column has them."""
    if not text:
        return frozenset()
    try:
        found = json.loads(text)
    except ValueError:
        return frozenset()
    return frozenset(str(one) for one in found) if isinstance(found, list) else frozenset()


def note_version(kind: Kind, parents: str, values: Mapping[str, object]) -> str:
    """The version of an imported record with these values after these parents.

    Empty values are left out, so that a new field does not change versions, and so are columns that depend on other
    rows.
    """
    aside = PLACED.get(kind.name, frozenset()) | ({kind.label} if kind.name in LABELLED else set())
    content = {name: values[name] for name in kind.columns if name not in aside and values.get(name) is not None}
    return content_id(_NO_DAY, f"{kind.name}\0{parents}\0{content_json(content)}")


def removals(connection: sqlite3.Connection, kind: Kind, row_id: str) -> tuple[str, ...]:
    """The versions in which a record was removed and that none followed; none if it never was, or came back."""
    rows = connection.execute(
        "SELECT version, parents, content IS NULL FROM history WHERE table_name = ? AND row_id = ? ORDER BY id",
        (kind.table, row_id),
    ).fetchall()
    followed = {parent for row in rows for parent in parents_in(row[1]) if parent != row[0]}
    return tuple(sorted({str(row[0]) for row in rows if row[2] and row[0] not in followed}))


def tables_of_removals(connection: sqlite3.Connection) -> set[str]:
    """The tables of which any record was ever removed."""
    return {
        str(row[0]) for row in connection.execute("SELECT DISTINCT table_name FROM main.history WHERE content IS NULL")
    }


def parents_of_return(connection: sqlite3.Connection, kind: Kind, row_id: str, entry: str | None) -> str | None:
    """The column ``parents`` of a record that comes back: all its removals; None if it was never removed.

    An entry makes one version of a record: where it removed the record itself, that removal was none after all, and is
    taken out of the history.
    """
    removed = set(removals(connection, kind, row_id))
    if entry in removed:
        (before,) = connection.execute(
            "SELECT parents FROM history WHERE table_name = ? AND row_id = ? AND version = ? AND content IS NULL",
            (kind.table, row_id, entry),
        ).fetchone()
        connection.execute(
            "DELETE FROM history WHERE table_name = ? AND row_id = ? AND version = ? AND content IS NULL",
            (kind.table, row_id, entry),
        )
        removed = (removed - {entry}) | parents_in(before)
    return after(*removed) if removed else None
