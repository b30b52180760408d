"""The same record written twice in a row by one person: a command repeated by an arrow key adds nothing."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING, Final

from bevelbook.entering.repetition import since
from bevelbook.entering.run_places import as_written

if TYPE_CHECKING:
    from bevelbook.entering.record import PreparedRecord

_LOOKED_AT: Final = 200
"""The last records of the kind that are compared."""


def written_already(connection: sqlite3.Connection, entry: PreparedRecord, by: str | None, now: str) -> str | None:
    """The id of the record that this writer added within ``WITHIN`` with the same values; None if there is none.

    ``now`` is the time as the database keeps it. A label that the tool made does not count, nor do ids.
    """
    kind = entry.kind
    if entry.row_id is not None:
        return None
    wanted = {**kind.defaults, **entry.values}
    aside = {kind.label} if kind.name in ("build", "run") and kind.label not in entry.entered else set()
    rows = connection.execute(
        f"SELECT * FROM (SELECT * FROM {kind.table} ORDER BY rowid DESC LIMIT {_LOOKED_AT}) "
        "WHERE created_at >= ?1 AND version IN (SELECT id FROM entries WHERE made_by IS ?2 AND made_at >= ?1)",
        (since(now), by),
    ).fetchall()
    for row in rows:
        same = all(row[name] == wanted.get(name) for name in kind.columns if name not in aside)
        if same and (kind.name != "run" or as_written(connection, row["id"], entry.places)):
            return str(row["id"])
    return None
