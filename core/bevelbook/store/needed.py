"""Records that were removed in one place and are needed by what another place kept: they come back with their last
content, as a clash, until none is missing."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Final, NamedTuple

from bevelbook.kept_json import object_in
from bevelbook.records import BY_NAME, KINDS, Kind
from bevelbook.store.heads import last_living
from bevelbook.store.kept_states import kept_rows
from bevelbook.store.known_versions import known_records
from bevelbook.store.schema import quoted
from bevelbook.store.showing import show_version
from bevelbook.store.users import references
from bevelbook.store.versions import PLACED, tables_of_removals

_OF_A_FILE: Final = ("note_reject",)
"""Kinds without versions that refer to something; what they belong to is seen to elsewhere."""


class NeededRecord(NamedTuple):
    """A record that is not there, and a reference to it that is."""

    kind: Kind
    row_id: str


def bring_back_needed(connection: sqlite3.Connection) -> list[NeededRecord]:
    """Bring back what is referred to and was removed, and what that refers to; returns what came back.

    Rows from notes go to another build of the diff first, where there is one: which build they belong to is worked out
    again anyway. What no database ever knew stays missing.
    """
    _point_elsewhere(connection)
    back: list[NeededRecord] = []
    while True:
        missing = [one for one in _missing(connection) if one not in back]
        if not missing:
            return back
        brought = [one for one in missing if _bring_back(connection, one)]
        back += brought
        if not brought:
            return back


def is_needed(connection: sqlite3.Connection, kind: Kind, row_id: str) -> bool:
    """Whether any record refers to this one."""
    return any(
        connection.execute(f"SELECT 1 FROM main.{one.table} WHERE {quoted(column)} = ? LIMIT 1", (row_id,)).fetchone()
        for one, column in _references_to(kind)
    )


def _removed(connection: sqlite3.Connection, kind: Kind) -> int:
    """Lay out the removed records of a kind that are not there; returns how many."""
    connection.execute("CREATE TEMP TABLE IF NOT EXISTS gone (id TEXT PRIMARY KEY NOT NULL) WITHOUT ROWID")
    connection.execute("DELETE FROM temp.gone")
    return connection.execute(
        "INSERT INTO temp.gone SELECT DISTINCT h.row_id FROM main.history h WHERE h.table_name = ? "
        f"AND h.content IS NULL AND NOT EXISTS (SELECT 1 FROM main.{kind.table} t WHERE t.id = h.row_id)",
        (kind.table,),
    ).rowcount


def _references_to(kind: Kind) -> Iterator[tuple[Kind, str]]:
    for one in KINDS:
        if one.own or one.name in _OF_A_FILE:
            for column, target in references(one):
                if target is kind and (one.own or column != "note_file"):
                    yield one, column


def _missing(connection: sqlite3.Connection) -> list[NeededRecord]:
    found: dict[NeededRecord, None] = {}
    tables = tables_of_removals(connection)
    for kind in KINDS:
        if kind.table not in tables or not _removed(connection, kind):
            continue
        for one, column in _references_to(kind):
            for row in connection.execute(
                f"SELECT DISTINCT g.id FROM temp.gone g CROSS JOIN main.{one.table} t "
                f"ON t.{quoted(column)} = g.id ORDER BY g.id"
            ):
                found[NeededRecord(kind, row[0])] = None
    return list(found)


def _bring_back(connection: sqlite3.Connection, missing: NeededRecord) -> bool:
    kind, row_id = missing
    if not kind.own:
        return _bring_back_kept(connection, kind, row_id)
    record = known_records(connection, kind, [row_id]).get(row_id)
    last = last_living(record.versions.values()) if record else None
    if record is None or last is None:
        return False
    show_version(connection, record, row_id, last.version, None)
    return True


def _bring_back_kept(connection: sqlite3.Connection, kind: Kind, row_id: str) -> bool:
    known = kept_rows(connection, kind, [row_id]).get(row_id)
    texts = _last_texts(connection, kind, row_id) if known else []
    if not texts:
        return False
    content = object_in(texts[-1]) or {}
    names = ("id", *kind.columns)
    connection.execute(
        f"INSERT INTO main.{kind.table} ({', '.join(map(quoted, names))}) VALUES ({', '.join('?' * len(names))})",
        (row_id, *(content.get(name) for name in kind.columns)),
    )
    return True


def _last_texts(connection: sqlite3.Connection, kind: Kind, row_id: str) -> list[str]:
    rows = connection.execute(
        "SELECT content FROM main.history WHERE table_name = ? AND row_id = ? AND content IS NOT NULL "
        "AND content <> 'null' ORDER BY id",
        (kind.table, row_id),
    )
    return [row[0] for row in rows]


def _point_elsewhere(connection: sqlite3.Connection) -> None:
    """Have rows from notes whose build was removed point to another build of its diff, the first one."""
    build = BY_NAME["build"]
    if not _removed(connection, build):
        return
    first_of: dict[str, str | None] = {}
    for name, columns in PLACED.items():
        if "build" not in columns:
            continue
        kind = BY_NAME[name]
        held = connection.execute(
            f"SELECT t.id, t.build FROM temp.gone g CROSS JOIN main.{kind.table} t ON t.build = g.id "
            "WHERE t.note_file IS NOT NULL AND coalesce(json_extract(t.entered, '$.build'), '') = ''"
        ).fetchall()
        for row_id, build_id in held:
            if build_id not in first_of:
                first_of[build_id] = _build_instead(connection, build_id)
            if first_of[build_id] is not None:
                connection.execute(f"UPDATE main.{kind.table} SET build = ? WHERE id = ?", (first_of[build_id], row_id))


def _build_instead(connection: sqlite3.Connection, gone: str) -> str | None:
    """The first build of the diff that a removed build was of."""
    record = known_records(connection, BY_NAME["build"], [gone]).get(gone)
    last = last_living(record.versions.values()) if record else None
    return None if last is None or last.content is None else first_build(connection, str(last.content.get("diff")))


def first_build(connection: sqlite3.Connection, diff: str) -> str | None:
    """The first build of a diff, by ids; None where it has none."""
    row = connection.execute(
        "SELECT id FROM main.builds WHERE diff = ? ORDER BY built_on, id LIMIT 1", (diff,)
    ).fetchone()
    return None if row is None else str(row[0])
