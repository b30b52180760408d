"""What is part of a record comes back with it, where its removal in one place is settled by keeping it."""

from __future__ import annotations

import json
import sqlite3

from bevelbook.kept_json import object_in
from bevelbook.records import BY_NAME, Kind
from bevelbook.store import entries
from bevelbook.store.clashes import ClashFound, bring_up_to_date
from bevelbook.store.entry_contents import content_columns
from bevelbook.store.schema import quoted
from bevelbook.store.versions import after
from bevelbook.taking_back.words import PART_OF


def bring_parts_back(connection: sqlite3.Connection, found: ClashFound) -> list[tuple[Kind, str]]:
    """Bring back what went with the record in the versions that removed it, inside the caller's transaction and entry.

    Of a build its oils, seals, parts and shims, of a run what was where in it; returns them by kind and id. What has
    been written since stays as it is.
    """
    removals = [one.version for one in found.heads if one.is_removal]
    back: list[tuple[Kind, str]] = []
    for name, owner in PART_OF.items() if removals else ():
        kind = BY_NAME[name]
        if kind.field(owner).target == found.kind.name:
            back += [(kind, one) for one in _gone(connection, kind, owner, found.row_id, removals)]
    for kind, row_id in back:
        _bring_back(connection, kind, row_id)
    bring_up_to_date(connection, [(kind.table, row_id) for kind, row_id in back])
    return back


def _gone(connection: sqlite3.Connection, kind: Kind, owner: str, row_id: str, removals: list[str]) -> list[str]:
    """The parts of a record, by id, that these versions removed and that are not there."""
    rows = connection.execute(
        "SELECT DISTINCT h.row_id FROM history h WHERE h.table_name = ?1 AND h.content IS NULL "
        "AND h.version IN (SELECT value FROM json_each(?2)) "
        f"AND NOT EXISTS (SELECT 1 FROM {kind.table} t WHERE t.id = h.row_id) ORDER BY h.row_id",
        (kind.table, json.dumps(removals)),
    )
    return [row[0] for row in rows.fetchall() if (_last(connection, kind, row[0]) or {}).get(owner) == row_id]


def _last(connection: sqlite3.Connection, kind: Kind, row_id: str) -> dict[str, object] | None:
    """The last content of a record that is not there."""
    row = connection.execute(
        "SELECT content FROM history WHERE table_name = ? AND row_id = ? AND content IS NOT NULL "
        "ORDER BY id DESC LIMIT 1",
        (kind.table, row_id),
    ).fetchone()
    return None if row is None else object_in(row[0])


def _bring_back(connection: sqlite3.Connection, kind: Kind, row_id: str) -> None:
    content = _last(connection, kind, row_id) or {}
    removed = connection.execute(
        "SELECT version FROM history WHERE table_name = ? AND row_id = ? AND content IS NULL ORDER BY version",
        (kind.table, row_id),
    ).fetchall()
    row = {name: content.get(name) for name in content_columns(kind)}
    row |= {"id": row_id, "version": entries.current(connection), "parents": after(*(one[0] for one in removed))}
    connection.execute(
        f"INSERT INTO {kind.table} ({', '.join(map(quoted, row))}) VALUES ({', '.join('?' * len(row))})",
        tuple(row.values()),
    )
