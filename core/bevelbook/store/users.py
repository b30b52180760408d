"""Which records use others: by a reference, or because a finding about them was put by."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Set
from typing import NamedTuple

from bevelbook.records import BY_NAME, BY_TABLE, KINDS, Kind
from bevelbook.store.schema import literal, quoted

Going = Mapping[str, Set[str]]
"""Ids by table."""


class Use(NamedTuple):
    """A record that uses another, and the column in which it does."""

    kind: Kind
    row_id: str
    column: str
    used: Kind
    used_id: str


def references(kind: Kind) -> list[tuple[str, Kind]]:
    """The columns of a kind that refer to another record, with the kind that they refer to; its kept file too."""
    found = [(field.name, BY_NAME[field.target]) for field in kind.fields if field.kind == "reference" and field.target]
    return [*found, ("note_file", BY_NAME["note_file"])] if kind.own else found


def users_of(connection: sqlite3.Connection, going: Going) -> Iterator[Use]:
    """The records outside ``going`` that use one of its records.

    They use what they were written with, also where another one stands for it. What belongs to a kept file is not
    among them, nor are kept results.
    """
    for kind in KINDS:
        for column, used in references(kind) if kind.own else ():
            if used.name == "note_file" or not going.get(used.table):
                continue
            asked = "IN (SELECT value FROM json_each(:going))"
            written = f"SELECT row_id, written FROM as_written WHERE table_name = {literal(kind.table)} " + (
                f"AND column_name = {literal(column)}"
            )
            found = connection.execute(
                f"SELECT id, {quoted(column)} FROM {kind.table} WHERE {quoted(column)} {asked} "
                f"AND id NOT IN (SELECT row_id FROM ({written})) "
                f"UNION ALL SELECT row_id, written FROM ({written}) WHERE written {asked} ORDER BY 1",
                {"going": json.dumps(sorted(going[used.table]))},
            )
            yield from (
                Use(kind, row[0], column, used, row[1]) for row in found if row[0] not in going.get(kind.table, ())
            )
    put_by = BY_NAME["put_by"]
    for row_id, table, subject in connection.execute(f"SELECT id, subject_table, subject_id FROM {put_by.table}"):
        if subject in going.get(table, ()) and row_id not in going.get(put_by.table, ()):
            yield Use(put_by, row_id, "subject_id", BY_TABLE[table], subject)


def results_about(connection: sqlite3.Connection, going: Going) -> list[tuple[str, str, str, str | None]]:
    """Kept results about these records: their ids, the table and id of their subject, and their entry."""
    found: list[tuple[str, str, str, str | None]] = []
    for table, ids in going.items():
        found += connection.execute(
            "SELECT id, subject_table, subject_id, entry FROM calculations "
            "WHERE subject_table = ? AND subject_id IN (SELECT value FROM json_each(?)) ORDER BY id",
            (table, json.dumps(sorted(ids))),
        )
    return [(row[0], row[1], row[2], row[3]) for row in found]


def living(connection: sqlite3.Connection, kind: Kind, ids: Iterable[str]) -> set[str]:
    """Which of these records there are now."""
    found = connection.execute(
        f"SELECT id FROM {kind.table} WHERE id IN (SELECT value FROM json_each(?))", (json.dumps(list(ids)),)
    )
    return {str(row[0]) for row in found}
