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


def note_version(kind: Kind, parents: str, values: Mapping[str, object]) -> str:
    """The version of an imported record with these values after these parents.

    Empty values are left out, so that a new field does not change versions, and so are columns that depend on other
    rows.
    """
    aside = PLACED.get(kind.name, frozenset()) | ({kind.label} if kind.name in LABELLED else set())
    content = {name: values[name] for name in kind.columns if name not in aside and values.get(name) is not None}
    return content_id(_NO_DAY, f"{kind.name}\0{parents}\0{content_json(content)}")


def removed_version(connection: sqlite3.Connection, kind: Kind, row_id: str) -> str | None:
    """The version in which a record was last removed; None if it never was."""
    row = connection.execute(
        "SELECT version FROM history WHERE table_name = ? AND row_id = ? AND content IS NULL ORDER BY id DESC LIMIT 1",
        (kind.table, row_id),
    ).fetchone()
    return None if row is None else str(row[0])
