"""Whether the versions of each record hang together: each follows one that is known, is what an entry wrote, and says
in JSON what the record was; and whether what stands side by side is what the table of clashes says."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Final

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.kept_json import object_in
from bevelbook.records import BY_NAME, BY_TABLE, KINDS, Kind
from bevelbook.store.clashes import clashes_of, may_clash, row_of
from bevelbook.store.ids import is_content_id, is_content_id_sql
from bevelbook.store.kept_past import NONE_BEFORE, NOT_VERSIONED
from bevelbook.store.schema import ANOTHER_PROGRAM, columns_of, literal, quoted
from bevelbook.store.versions import entry_of, parents_in

_BEFORE_ENTRIES: Final = late_pattern(r"[0-9a-f]{64}-\d+(?:-removed)?")
"""Versions of the history of a database that had no entries yet."""
_HistoryRow = tuple[str, str, str | None, str | None, str | None, str | None]
"""Row id, version, parents, content, replaced_in, replaced_at."""


def count_versions(connection: sqlite3.Connection) -> int:
    """How many versions there are in all: those that tables show, and those before."""
    count = int(connection.execute("SELECT count(*) FROM main.history").fetchone()[0])
    for kind in KINDS:
        if kind.own:
            count += int(connection.execute(f"SELECT count(*) FROM main.{kind.table}").fetchone()[0])
    return count


def broken_chains(connection: sqlite3.Connection) -> Iterator[str]:
    """Each record whose versions do not hang together, in words. The connection may be read-only."""
    cursor = connection.cursor()
    cursor.row_factory = None
    entries = {str(row[0]) for row in cursor.execute("SELECT id FROM main.entries")}
    for kind in KINDS:
        if not kind.derived:
            yield from _of_kind(connection, kind, entries)
    known = {kind.table for kind in KINDS if not kind.derived}
    for table, count in cursor.execute(
        "SELECT table_name, count(*) FROM main.history GROUP BY table_name ORDER BY table_name"
    ).fetchall():
        if table not in known:
            yield f"the history has {count:,} versions of {table}, a table without records"
    yield from _entries_gone(connection)
    yield from _clashes_otherwise(connection)


def _of_kind(connection: sqlite3.Connection, kind: Kind, entries: set[str]) -> Iterator[str]:
    cursor = connection.cursor()
    cursor.row_factory = None
    asked = (
        "SELECT row_id, version, parents, content, replaced_in, replaced_at FROM main.history WHERE table_name = ? "
        "ORDER BY row_id, id"
    )
    shown_of = f"SELECT version, parents FROM main.{kind.table} WHERE id = ?"
    looking = connection.cursor()
    looking.row_factory = None
    for row_id, rows in groupby(cursor.execute(asked, (kind.table,)), key=lambda row: str(row[0])):
        past: list[_HistoryRow] = list(rows)
        if kind.own:
            shown = looking.execute(shown_of, (row_id,)).fetchone()
            for fault in _faults_of(kind, past, shown, entries):
                yield f"{_words(kind)} {row_id} {fault}"
        else:
            for fault in _faults_of_kept(past):
                yield f"{_words(kind)} {row_id} {fault}"
    if not kind.own:
        return
    for (row_id,) in cursor.execute(
        f"SELECT id FROM main.{kind.table} t WHERE parents IS NOT NULL AND NOT EXISTS (SELECT 1 FROM main.history h "
        f"WHERE h.table_name = {literal(kind.table)} AND h.row_id = t.id) ORDER BY id"
    ).fetchall():
        yield f"{_words(kind)} {row_id} follows a version that is not there: its past is gone"
    for version, count in cursor.execute(
        f"SELECT version, count(*) FROM main.{kind.table} t WHERE parents IS NULL "
        f"AND NOT {is_content_id_sql('version')} GROUP BY version ORDER BY version"
    ).fetchall():
        if _is_without_entry(version, entries):
            yield f"{count:,} of the {_words(kind)} were written by the entry {entry_of(version)}, which is gone"


def _faults_of(
    kind: Kind, past: list[_HistoryRow], shown: tuple[str, str | None] | None, entries: set[str]
) -> Iterator[str]:
    versions = [(version, parents) for _, version, parents, *_ in past]
    if shown is not None:
        versions.append(shown)
    known = {version for version, _ in versions}
    followed: set[str] = set()
    followers: dict[str, list[str]] = {}
    for version, parents in versions:
        if parents is not None and not _is_list(parents):
            yield f"has a version {version} of which it cannot be read what it followed"
            continue
        before = parents_in(parents) - {version}
        followed |= before
        for one in before:
            followers.setdefault(one, []).append(version)
        for one in sorted(before - known):
            yield f"has a version {version} that followed {one}, and that one is gone"
        if _is_without_entry(version, entries):
            yield f"has a version {version}, and the entry that wrote it is gone"
    for _, version, _, content, replaced_in, replaced_at in past:
        if content is not None and object_in(content) is None:
            yield f"has a version {version} whose content is not JSON"
        if replaced_in is not None and _is_without_entry(replaced_in, entries):
            yield f"has a version {version} that the entry {replaced_in} replaced, which is gone"
        if content is not None and replaced_at is not None and version not in followed:
            yield f"has a version {version} that was replaced, and what replaced it is gone"
        if content is not None and replaced_at is None and version in followed:
            yield f"has a version {version} that another followed, and does not say when it was replaced"
        if replaced_in is not None and not _may_replace(replaced_in, entries, followers.get(version, ())):
            yield f"has a version {version} that the entry {replaced_in} replaced, and what follows it is of another"
    if shown is None and all(content is not None for _, _, _, content, _, _ in past):
        yield f"is gone from the {_words(kind)}, and the history does not say that it was removed"
    if shown is not None and shown[0] in followed and not any(row[3] is None for row in past):
        yield "is shown as it was before a later version"


def _may_replace(entry: str, entries: set[str], followers: Sequence[str]) -> bool:
    """Whether an entry may have replaced a version that these followed: one of them is its own, or does not say by its
    name which entry wrote it, as those of notes and of other programs."""
    named = [entry_of(one) for one in followers]
    return entry not in entries or not all(one in entries for one in named) or entry in named or not named


def _faults_of_kept(past: list[_HistoryRow]) -> Iterator[str]:
    for _, version, _, content, _, _ in past:
        if version == NOT_VERSIONED and content not in (None, NONE_BEFORE) and object_in(content) is None:
            yield "was something before that is not JSON"


def _is_list(text: str) -> bool:
    try:
        found = json.loads(text)
    except ValueError:
        return False
    return isinstance(found, list) and all(isinstance(one, str) for one in found)


def _is_without_entry(version: str, entries: set[str]) -> bool:
    """Whether a version names an entry that is not there. Those of an import are named by their content."""
    return not (
        entry_of(version) in entries
        or version.startswith(ANOTHER_PROGRAM)
        or is_content_id(version)
        or _BEFORE_ENTRIES.fullmatch(version)
    )


def _entries_gone(connection: sqlite3.Connection) -> Iterator[str]:
    """What names an entry that is not there: kept files and results, and entries that took one back."""
    for table, column in (("note_files", "entry"), ("calculations", "entry"), ("entries", "took_back")):
        (count,) = connection.execute(
            f"SELECT count(*) FROM main.{table} WHERE {column} IS NOT NULL AND {column} NOT IN (SELECT id FROM "
            "main.entries)"
        ).fetchone()
        if count:
            yield f"{count:,} of the {_words(BY_TABLE[table])} name an entry that is gone"


def _clashes_otherwise(connection: sqlite3.Connection) -> Iterator[str]:
    found = {(one.kind.table, one.row_id): row_of(one) for one in clashes_of(connection, may_clash(connection))}
    named = ", ".join(map(quoted, columns_of(BY_NAME["clash"])))
    held = {
        (row[1], row[2]): tuple(row)
        for row in connection.execute(f"SELECT {named} FROM main.{BY_NAME['clash'].table} ORDER BY id")
    }
    for table, row_id in sorted(key for key in found.keys() | held.keys() if found.get(key) != held.get(key)):
        yield f"{table.replace('_', ' ')} {row_id}: the list of clashes is not what its versions say"


def _words(kind: Kind) -> str:
    return kind.table.replace("_", " ")
