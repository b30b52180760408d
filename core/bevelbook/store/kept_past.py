"""The past of rows that have no versions: kept files with their rejects and cells, and kept results.

Triggers keep the past of records. These rows are changed and removed only here and by an import, which keep what was
there in the history, in the name of the entry that is being written.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import Final

from bevelbook.records import BY_NAME, Kind
from bevelbook.store.schema import literal, quoted

NOT_VERSIONED: Final = "not versioned"
"""The version of such a row in the history."""
NONE_BEFORE: Final = "null"
"""The content in the history of a row that was not there before."""
_NOW: Final = "strftime('%Y-%m-%dT%H:%M:%fZ', 'now')"
_ENTRY: Final = "(SELECT entry FROM writing)"
_OF_A_FILE: Final = (("note_file", "id"), ("note_reject", "note_file"), ("note_extra", "note_file"))
_READ_AT: Final = "$.read_at"


def keep_past(connection: sqlite3.Connection, kind: Kind, where: str, values: Sequence[object]) -> None:
    """Keep rows as they are before the entry changes them, each once an entry. ``where`` is SQL about the row ``r``.

    Nothing is kept outside an entry, when nobody could take it back.
    """
    content = ", ".join(f"{literal(name)}, r.{quoted(name)}" for name in kind.columns)
    connection.execute(
        "INSERT INTO history (table_name, row_id, version, parents, content, replaced_in, replaced_at) "
        f"SELECT {literal(kind.table)}, r.id, {literal(NOT_VERSIONED)}, NULL, json_object({content}), {_ENTRY}, {_NOW} "
        f"FROM {kind.table} r WHERE ({where}) AND {_ENTRY} IS NOT NULL AND NOT EXISTS (SELECT 1 FROM history h "
        f"WHERE h.table_name = {literal(kind.table)} AND h.row_id = r.id AND h.replaced_in = {_ENTRY}) ORDER BY r.id",
        values,
    )


def keep_past_of(connection: sqlite3.Connection, kind: Kind, row_id: str) -> None:
    """Keep one row as it is before the entry changes it, or keep that there was none."""
    keep_past(connection, kind, "r.id = ?", (row_id,))
    connection.execute(
        "INSERT INTO history (table_name, row_id, version, parents, content, replaced_in, replaced_at) "
        f"SELECT ?1, ?2, {literal(NOT_VERSIONED)}, NULL, {literal(NONE_BEFORE)}, {_ENTRY}, {_NOW} "
        f"WHERE {_ENTRY} IS NOT NULL AND NOT EXISTS (SELECT 1 FROM {kind.table} WHERE id = ?2) AND NOT EXISTS "
        f"(SELECT 1 FROM history h WHERE h.table_name = ?1 AND h.row_id = ?2 AND h.replaced_in = {_ENTRY})",
        (kind.table, row_id),
    )


def remove_kept(connection: sqlite3.Connection, kind: Kind, where: str, values: Sequence[object]) -> None:
    """Remove rows; the history keeps what they were, and that they were removed."""
    keep_past(connection, kind, where, values)
    connection.execute(
        "INSERT INTO history (table_name, row_id, version, parents, content, replaced_in, replaced_at) "
        f"SELECT {literal(kind.table)}, r.id, {_ENTRY}, json_array({literal(NOT_VERSIONED)}), NULL, NULL, NULL "
        f"FROM {kind.table} r WHERE ({where}) AND {_ENTRY} IS NOT NULL ORDER BY r.id",
        values,
    )
    connection.execute(f"DELETE FROM {kind.table} AS r WHERE {where}", values)


def keep_past_of_file(connection: sqlite3.Connection, note_file: str) -> None:
    """Keep a file that is read again as it is now: its row, the lines left out and the cells of unknown columns."""
    for name, column in _OF_A_FILE:
        keep_past(connection, BY_NAME[name], f"r.{column} = ?", (note_file,))


def is_file_as_before(connection: sqlite3.Connection, note_file: str, last: int) -> bool:
    """Whether all that was kept in the history since a row of it is that file, with its lines left out and cells of
    unknown columns, and these are again as they were, but for the time of reading."""
    since = connection.execute("SELECT count(*) FROM main.history WHERE id > ?", (last,)).fetchone()[0]
    equal = held = 0
    for name, column in _OF_A_FILE:
        kind = BY_NAME[name]
        content = ", ".join(f"{literal(one)}, r.{quoted(one)}" for one in kind.columns)
        equal += connection.execute(
            f"SELECT count(*) FROM main.history h JOIN {kind.table} r ON r.id = h.row_id "
            f"WHERE h.id > ? AND h.table_name = {literal(kind.table)} AND h.version = {literal(NOT_VERSIONED)} "
            f"AND r.{column} = ? AND json_remove(json_object({content}), {literal(_READ_AT)}) "
            f"= json_remove(h.content, {literal(_READ_AT)})",
            (last, note_file),
        ).fetchone()[0]
        held += connection.execute(f"SELECT count(*) FROM {kind.table} WHERE {column} = ?", (note_file,)).fetchone()[0]
    return bool(since == equal == held)
