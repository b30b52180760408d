"""The words for every column of a table or view, and the field that it comes from."""

from __future__ import annotations

import sqlite3
from functools import cache
from typing import Final

from bevelbook.declare.fields import Field
from bevelbook.facts.views import VIEWS, View, view_sql
from bevelbook.records import BY_NAME, BY_TABLE, FACTS, KINDS, Kind
from bevelbook.store.schema import quoted, schema_sql

TECHNICAL: Final = {
    "id": "Id of the row",
    "version": "Version of the record: the entry that made it, or the id that an import gives it",
    "parents": "Versions before it, as JSON; empty in a first version",
    "entered": "Values as they were typed, as JSON",
    "note_file": "Imported file it came from",
    "note_line": "Line in that file",
    "created_at": "When it was made (UTC)",
    "updated_at": "When it was last changed (UTC)",
    "updated_by": "Who changed it last",
}
"""Columns that every table of records has in addition to its own."""
SHARED: Final = {
    "build": "The build",
    "run": "The run",
    "run_diff": "The diff in the run",
    "diff": "The diff",
    "calculation": "The row in calculations",
    "note_file": TECHNICAL["note_file"],
    "line": "Line in that file",
    "made": "What the row became",
    "place": "Place in the listing, from 1",
}
"""Columns of views that mean the same in every view."""
_TYPES: Final = "types_of_a_view"
_ALL_KINDS: Final = BY_TABLE | {kind.table: kind for kind in FACTS}
_KINDS_TRIED: Final = ("build", "run", "run_diff", "weighing", "opening", "calculation", "venue", "fluid")


def columns_of_kind(kind: Kind) -> dict[str, str]:
    """The columns of a table by name, each with what it holds."""
    if kind.fact:
        return {field.name: field.described() for field in kind.fields}
    columns = {"id": TECHNICAL["id"]} | {field.name: field.described() for field in kind.fields}
    if kind.own:
        columns |= {name: about for name, about in TECHNICAL.items() if name not in columns}
    return columns


def columns_of_view_in_words(view: View) -> dict[str, str]:
    """The columns of a view by name, each with what it holds."""
    return {name: view.columns.get(name) or _described(name) for name in columns_of_view(view.name)}


def _described(column: str) -> str:
    field = field_anywhere(column)
    if field:
        return field.described()
    return SHARED.get(column) or TECHNICAL[column]


@cache
def field_anywhere(column: str) -> Field | None:
    """The field that a column of a view comes from: the first record that declares the name."""
    if column in SHARED or column in TECHNICAL:
        return None
    for kind in (*(BY_NAME[name] for name in _KINDS_TRIED), *FACTS, *KINDS):
        if column in kind.columns:
            return kind.field(column)
    return None


def declared_field(table: str | None, column: str) -> Field | None:
    """The field of a column of a table, or None for views and technical columns."""
    kind = _ALL_KINDS.get(table or "")
    return kind.field(column) if kind and column in kind.columns else None


@cache
def _empty_schema() -> dict[str, dict[str, str]]:
    connection = sqlite3.connect(":memory:")
    for statement in (*schema_sql(), *view_sql()):
        connection.execute(statement)
    found = {view.name: types_of_view(connection, view.name) for view in VIEWS}
    connection.close()
    return found


def columns_of_view(name: str) -> tuple[str, ...]:
    """The columns of a declared view, in order."""
    return tuple(_empty_schema()[name])


def types_of_declared_view(name: str) -> dict[str, str]:
    """The columns of a declared view, each with its type as in :func:`types_of_view`."""
    return _empty_schema()[name]


def types_of_view(connection: sqlite3.Connection, name: str) -> dict[str, str]:
    """The columns of any view that a connection sees, each with its type: ``REAL``, ``INT``, ``TEXT`` or nothing.

    SQLite before 3.41 does not say the type of a column that is worked out; of a table that is made from the view it
    does. That table is a temporary one without rows.
    """
    connection.execute(f"CREATE TEMP TABLE {_TYPES} AS SELECT * FROM {quoted(name)} LIMIT 0")
    try:
        return {row[1]: row[2] for row in connection.execute(f"PRAGMA temp.table_info({_TYPES})").fetchall()}
    finally:
        connection.execute(f"DROP TABLE temp.{_TYPES}")
