"""Records of one name that are two things: a join says so, or they would be one (``same_things``)."""

from __future__ import annotations

import sqlite3
from typing import Final

from bevelbook.reading.labels import folded_label
from bevelbook.records import BY_NAME, Kind
from bevelbook.records.joins import JOINED_KINDS
from bevelbook.store.same_things import equal_name_pairs, join_id, known_by_sql, things_in
from bevelbook.store.writing import Writer

LAST_STEP_WITHOUT_JOINS: Final = 3
"""In older databases each record was a thing of its own."""
_SAID: Final = "two of one name before joins were kept"


def keep_apart(writer: Writer, kind: Kind, row_id: str) -> int:
    """Say of a record that was just given its name that it is none of those that have the name already.

    Nobody gives a second one a name without asking for it. Returns how many those are. Where a join of the two is
    there already, it holds.
    """
    if kind.name not in JOINED_KINDS:
        return 0
    names = writer.connection.execute(f"SELECT id, {known_by_sql(kind)} FROM {kind.table} ORDER BY id")
    labels = {row[0]: folded_label(row[1]) for row in names if isinstance(row[1], str)}
    others = [one for one, label in labels.items() if one != row_id and label == labels.get(row_id)]
    for other in others:
        made = join_id(kind.name, row_id, other)
        if writer.connection.execute("SELECT 1 FROM joins WHERE id = ?", (made,)).fetchone() is None:
            values = {"kind": kind.name, "one": other, "other": row_id, "same": "no", "said_on": writer.clock()[:10]}
            writer.insert(BY_NAME["join"], values, row_id=made)
    return len(others)


def keep_older_ones_apart(connection: sqlite3.Connection) -> int:
    """Say of all records of one name in an older database that they are two: somebody asked for each of them.

    Runs inside the caller's transaction, once. What it writes follows from the two records, so that it is the same
    wherever copies of one file are brought to this version. Returns how many pairs those are.
    """
    pairs = equal_name_pairs(things_in(connection))
    for one, other in pairs:
        table, made = BY_NAME[one.kind].table, join_id(one.kind, one.id, other.id)
        (stamp,) = connection.execute(
            f"SELECT max(created_at) FROM {table} WHERE id IN (?, ?)", (one.id, other.id)
        ).fetchone()
        connection.execute(
            "INSERT INTO joins (id, version, created_at, updated_at, kind, one, other, same, note) "
            "VALUES (?1, ?1, ?2, ?2, ?3, ?4, ?5, 'no', ?6)",
            (made, stamp, one.kind, one.id, other.id, _SAID),
        )
    return len(pairs)
