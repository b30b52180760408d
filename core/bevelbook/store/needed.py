"""Records that were removed in one place and are needed by what another place kept: they come back with their last
content, as a clash, until none is missing."""

from __future__ import annotations

import json
import sqlite3
from collections import defaultdict
from collections.abc import Iterator, Sequence, Set
from typing import Final, NamedTuple

from bevelbook.kept_json import object_in
from bevelbook.records import BY_NAME, KINDS, Kind
from bevelbook.store.heads import last_living
from bevelbook.store.kept_states import kept_rows
from bevelbook.store.known_versions import known_records
from bevelbook.store.same_things import said_in, stands_for, things_in
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


def bring_back_needed(connection: sqlite3.Connection) -> list[NeededRecord]:
    """Bring back what is referred to and was removed, and what that refers to; returns what came back.

    Rows from notes whose build was removed need no certain one: which they belong to is worked out again. They go to
    another build of the diff where one stands, whatever name or id the diff has there; where none does, the first
    of those that were removed comes back. What no database ever knew stays missing.
    """
    back = _bring_back_all(connection, but_builds_of_notes=True)
    _point_elsewhere(connection)
    return back + _bring_back_all(connection)


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


def placed_by_us(column: str) -> str:
    """SQL: whether row ``t`` is from notes and no person set this column."""
    typed = f"iif(json_valid(t.entered), json_extract(t.entered, '$.{column}'), NULL)"
    return f"(t.note_file IS NOT NULL AND {typed} IS NULL)"


def _point_elsewhere(connection: sqlite3.Connection) -> None:
    """Have rows from notes whose build was removed point to the first build of its diff that stands; where none does,
    to the first of those that were removed."""
    build = BY_NAME["build"]
    if not _removed(connection, build):
        return
    held = [
        (kind, *row)
        for kind in (BY_NAME[name] for name, columns in PLACED.items() if "build" in columns)
        for row in connection.execute(
            f"SELECT t.id, t.build FROM temp.gone g CROSS JOIN main.{kind.table} t ON t.build = g.id "
            f"WHERE {placed_by_us('build')} ORDER BY t.id"
        )
    ]
    instead = _builds_instead(connection, {build_id for _, _, build_id in held})
    for kind, row_id, build_id in held:
        if instead.get(build_id, build_id) != build_id:
            connection.execute(f"UPDATE main.{kind.table} SET build = ? WHERE id = ?", (instead[build_id], row_id))


def _builds_instead(connection: sqlite3.Connection, wanted: Set[str]) -> dict[str, str]:
    """For removed builds the build of the diff to which rows from notes go instead, by the build's id."""
    if not wanted:
        return {}
    gone = [str(row[0]) for row in connection.execute("SELECT id FROM temp.gone ORDER BY id")]
    removed = _last_of_builds(connection, gone)
    stands = stands_for(things_in(connection), said_in(connection))
    diffs = defaultdict[str, list[str]](list)
    for (diff,) in connection.execute("SELECT DISTINCT diff FROM main.builds ORDER BY diff"):
        diffs[stands.get(("diff", diff), diff)].append(diff)
    firsts: dict[str, str] = {}
    for _, row_id, diff in sorted((day, row_id, diff) for row_id, (diff, day) in removed.items()):
        firsts.setdefault(stands.get(("diff", diff), diff), row_id)
    found = {}
    for row_id in sorted(wanted & removed.keys()):
        diff = removed[row_id][0]
        stood_for = stands.get(("diff", diff), diff)
        found[row_id] = first_build(connection, *diffs[stood_for]) or firsts[stood_for]
    return found


def _last_of_builds(connection: sqlite3.Connection, ids: Sequence[str]) -> dict[str, tuple[str, str]]:
    """The diff and the day that builds had last, by id; those that never had any are left out."""
    found = {}
    for row_id, record in known_records(connection, BY_NAME["build"], ids).items():
        last = last_living(record.versions.values())
        if last is not None and last.content is not None:
            found[row_id] = str(last.content.get("diff")), str(last.content.get("built_on"))
    return found


def first_build(connection: sqlite3.Connection, *diffs: str) -> str | None:
    """The first build of a diff, under whichever of these ids; None where it has none."""
    row = connection.execute(
        "SELECT id FROM main.builds WHERE diff IN (SELECT value FROM json_each(?)) ORDER BY built_on, id LIMIT 1",
        (json.dumps(diffs),),
    ).fetchone()
    return None if row is None else str(row[0])
