"""Values in the tables that the declarations refuse: rows that a program wrote past the checks, each by its id.

The checks are those of the declarations, not those of the file: a table that was made otherwise hides nothing.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Final

from bevelbook.records import Kind
from bevelbook.store.schema import literal, quoted, table_sql
from bevelbook.store.structure import checks

_MOMENTS: Final = frozenset({"created_at", "updated_at", "made_at", "read_at", "kept_at", "calculated_at"})
"""Columns that hold when something was written: a day and a time, UTC."""
_A_MOMENT: Final = "[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T*"


def count_rows(connection: sqlite3.Connection, kind: Kind) -> int:
    """How many rows a table has. Raises sqlite3.Error."""
    return int(connection.execute(f"SELECT count(*) FROM main.{kind.table}").fetchone()[0])


def values_refused(connection: sqlite3.Connection, kind: Kind) -> Iterator[str]:
    """Each such row of a table with what is wrong with it, by id. Raises sqlite3.Error for a table that cannot be
    read."""
    tests = {check: f"NOT ({check})" for check in dict.fromkeys(checks(table_sql(kind)))}
    key = kind.columns[0] if kind.fact else "id"
    for field in kind.fields:
        name = quoted(field.name)
        if field.required:
            tests[f"{field.name} is empty"] = f"{name} IS NULL"
        wanted = {"quantity": ("real", "null"), "whole": ("integer", "null")}.get(field.kind, ("text", "null"))
        tests[f"{field.name} has another type than {wanted[0]}"] = (
            f"typeof({name}) NOT IN ({', '.join(map(literal, wanted))})"
        )
    names = [row[1] for row in connection.execute(f"PRAGMA main.table_info({kind.table})")]
    for name in filter(_MOMENTS.__contains__, names):
        tests[f"{name} is not a day with a time"] = (
            f"({name} IS NOT NULL AND NOT ({name} GLOB {literal(_A_MOMENT)} AND datetime({name}) IS NOT NULL))"
        )
    cursor = connection.cursor()
    cursor.row_factory = None
    wrong = " OR ".join(f"coalesce({test}, 0)" for test in tests.values())
    rows = cursor.execute(f"SELECT {key} FROM main.{kind.table} WHERE {wrong} ORDER BY {key}").fetchall()
    each = ", ".join(f"coalesce({test}, 0)" for test in tests.values())
    for (row_id,) in rows:
        found = cursor.execute(f"SELECT {each} FROM main.{kind.table} WHERE {key} IS ?", (row_id,)).fetchone() or ()
        said = "; ".join(test for test, is_so in zip(tests, found, strict=False) if is_so)
        yield f"{kind.table.replace('_', ' ')} {row_id}: not so as it must be: {said or 'one of its values'}"
