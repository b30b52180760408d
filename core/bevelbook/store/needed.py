"""Records that were removed in one place and are needed by what another place kept: they come back with their last
content, as a clash, until none is missing."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Final, NamedTuple

from bevelbook.kept_json import object_in
from bevelbook.records import BY_NAME, KINDS, Kind
from bevelbook.store.diffs_of_rows import RowToPlace, placed_by_us, put_on_builds, rows_kept, rows_of_removed_builds
from bevelbook.store.heads import last_living
from bevelbook.store.kept_states import kept_rows
from bevelbook.store.known_versions import known_records
from bevelbook.store.schema import literal, quoted
from bevelbook.store.showing import show_version
from bevelbook.store.users import references
from bevelbook.store.versions import PLACED, tables_of_removals

_OF_A_FILE: Final = ("note_reject",)
"""Kinds without versions that refer to something; what they belong to is seen to elsewhere."""


class NeededRecord(NamedTuple):
    """A record that is not there, and a reference to it that is."""

    kind: Kind
    row_id: str


class WhatCameBack(NamedTuple):
    """What came back, and the builds, by id, from which or to which rows from notes went."""

    records: tuple[NeededRecord, ...]
    builds: frozenset[str]


def bring_back_needed(connection: sqlite3.Connection) -> WhatCameBack:
    """Bring back what is referred to and was removed, and what that refers to.

    Rows from notes need no certain build: which they belong to is worked out again (``diffs_of_rows``). They go to a
    build of their diff where one stands; where none does, the first of those that were removed comes back. What no
    database ever knew stays missing.
    """
    back = _bring_back_all(connection, but_builds_of_notes=True)
    builds = put_on_builds(connection, _rows_to_place(connection), to_removed=True)
    return WhatCameBack((*back, *_bring_back_all(connection)), frozenset(builds))


def _bring_back_all(connection: sqlite3.Connection, *, but_builds_of_notes: bool = False) -> list[NeededRecord]:
    back: list[NeededRecord] = []
    while True:
        missing = [one for one in _missing(connection, but_builds_of_notes) if one not in back]
        brought = [one for one in missing if _bring_back(connection, one)]
        if not brought:
            return back
        back += brought


def is_needed(connection: sqlite3.Connection, kind: Kind, row_id: str) -> bool:
    """Whether any record refers to this one, as it was written.

    One that shows it only in the place of another does not; one that shows another in its place does: parted again, or
    sent to another laptop, it names this one.
    """
    return any(
        connection.execute(statement, (row_id,)).fetchone()
        for one, column in _references_to(kind)
        for statement in _users_sql(one, column)
    )


def _users_sql(kind: Kind, column: str) -> Iterator[str]:
    """SQL: a record of a kind in whose reference an id was written."""
    plain = f"SELECT 1 FROM main.{kind.table} t WHERE t.{quoted(column)} = ?"
    if column not in kind.shown_otherwise:
        yield f"{plain} LIMIT 1"
        return
    of_it = f"a.table_name = {literal(kind.table)} AND a.column_name = {literal(column)}"
    yield f"{plain} AND NOT EXISTS (SELECT 1 FROM main.as_written a WHERE {of_it} AND a.row_id = t.id) LIMIT 1"
    yield f"SELECT 1 FROM main.as_written a WHERE {of_it} AND a.written = ? LIMIT 1"


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


def _missing(connection: sqlite3.Connection, but_builds_of_notes: bool) -> list[NeededRecord]:
    found: dict[NeededRecord, None] = {}
    tables = tables_of_removals(connection)
    for kind in KINDS:
        if kind.table not in tables or not _removed(connection, kind):
            continue
        for one, column in _references_to(kind):
            is_placed = column in PLACED.get(one.name, ())
            for row in connection.execute(
                f"SELECT DISTINCT g.id FROM temp.gone g CROSS JOIN main.{one.table} t ON t.{quoted(column)} = g.id "
                + (f"WHERE NOT {placed_by_us(column)} " if but_builds_of_notes and is_placed else "")
                + "ORDER BY g.id"
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


def _rows_to_place(connection: sqlite3.Connection) -> list[RowToPlace]:
    """The rows from notes whose build was removed, and those of which it is kept of which diff they are."""
    rows = rows_kept(connection)
    if _removed(connection, BY_NAME["build"]):
        rows += rows_of_removed_builds(connection, "temp.gone")
    return list({one.id: one for one in rows}.values())
