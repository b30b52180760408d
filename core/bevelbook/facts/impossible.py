"""Impossible numbers in the records: no quantity of a diff is that large or that small, in any unit.

The tool does not accept one, and the tables refuse the large ones; but a program that puts their checks aside may write
any into the file. It counts as not written down, here and in everything computed, so that a sum or a square of it
cannot stop the rest; ``check`` names the record.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Container, Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import DatabaseError
from bevelbook.declare.fields import LARGEST, LARGEST_WORKED_OUT, SMALLEST, Field
from bevelbook.facts.views import VIEWS
from bevelbook.records import BY_TABLE, FACTS, KINDS, Kind

_FACTS_REST_ON: Final = frozenset(
    {"builds", "weighings", "openings", "runs", "run_diffs", "scales", "limits", "blend_parts", "fluids", "bottles"}
)
"""Tables with numbers that facts are worked out from."""
_KEPT_EMPTY: Final = frozenset({"blend_parts"})
"""Kinds that keep their row without the number: a blend with an unknown part is not the blend without that part."""


class Impossible(NamedTuple):
    """An impossible number of a record (by kind and id), in the unit of its field."""

    kind: Kind
    row_id: str
    field: Field
    value: float


@cache
def impossible_sql(kind: Kind, row: str = "") -> str | None:
    """SQL for whether any number of a row is impossible; None if no column of the kind can hold one."""
    return " OR ".join(_beyond(field, row) for field in _numbers(kind)) or None


def impossible_numbers(connection: sqlite3.Connection) -> Iterator[Impossible]:
    """All of them, by kind and record."""
    for kind in _kinds():
        fields = _numbers(kind)
        columns = ", ".join(f'"{field.name}"' for field in fields)
        for row_id, *values in _asked(
            connection, f"SELECT id, {columns} FROM main.{kind.table} WHERE {impossible_sql(kind)} ORDER BY id"
        ):
            for field, value in zip(fields, values, strict=True):
                if value and not _is_possible(field, value):
                    yield Impossible(kind, row_id, field, value)


def _is_possible(field: Field, value: float) -> bool:
    at_least = field.minimum if field.minimum is not None else field.above
    size = value if at_least is not None and at_least >= 0 else abs(value)
    return SMALLEST <= size <= LARGEST


@contextmanager
def impossible_left_out(connection: sqlite3.Connection) -> Iterator[None]:
    """For the duration, facts see the records without such numbers; nothing can be written to their tables."""
    shadows = leave_out_impossible(connection, _FACTS_REST_ON)
    try:
        yield
    finally:
        for table in shadows:
            connection.execute(f"DROP VIEW temp.{table}")


def leave_out_impossible(connection: sqlite3.Connection, tables: Container[str] | None = None) -> list[str]:
    """Make a read-only connection see the records without such numbers; returns the tables that have any.

    A temporary view hides each of these: an optional number is empty in it, and a record that lacks a required one is
    left out; the views of this tool are then read through it too. ``tables`` are those checked, all if None. If no
    number is impossible, which an index shows, this costs next to nothing.
    """
    held = {row[0] for row in _asked(connection, "SELECT name FROM temp.sqlite_master WHERE type = 'view'")}
    asked = (one for one in _kinds() if one.table not in held and (tables is None or one.table in tables))
    found = {row[0] for row in _asked(connection, _any_sql(tuple(asked)))}
    for kind in _kinds():
        if kind.table in found:
            _shadow(connection, kind, _view_sql(connection, kind))
    made = [kind.table for kind in _kinds() if kind.table in found]
    if made and tables is None:  # the views of the file read its tables, and not what hides them
        for view in VIEWS:
            if view.name not in held:
                _shadow(connection, BY_TABLE[made[0]], f"CREATE TEMP VIEW {view.name} AS {view.sql.strip()}")
    return made


@cache
def _any_sql(kinds: tuple[Kind, ...]) -> str:
    """SQL of the tables that have an impossible number, in one statement: opening a file waits for it."""
    return (
        " UNION ALL ".join(
            f"SELECT '{kind.table}' WHERE EXISTS (SELECT 1 FROM main.{kind.table} WHERE {impossible_sql(kind)})"
            for kind in kinds
        )
        or "SELECT 1 WHERE 0"
    )


def facts_are_endless(connection: sqlite3.Connection) -> bool:
    """Whether a fact is a number without an end: only a program that puts the checks aside can have written it."""
    return any(
        _asked(connection, f"SELECT 1 FROM main.{kind.table} WHERE {' OR '.join(map(_is_endless, numbers))} LIMIT 1")
        for kind in FACTS
        if (numbers := [field for field in kind.fields if field.kind == "quantity"])
    )


def _is_endless(field: Field) -> str:
    return f'"{field.name}" NOT BETWEEN {-LARGEST_WORKED_OUT} AND {LARGEST_WORKED_OUT}'


def _shadow(connection: sqlite3.Connection, kind: Kind, sql: str) -> None:
    try:
        connection.execute(sql)
    except sqlite3.DatabaseError as fault:
        if "not authorized" not in str(fault) and "readonly" not in str(fault):
            raise
        raise DatabaseError(
            f"a number of the {kind.table.replace('_', ' ')} is impossible, and it was written while this was open",
            code="impossible_number",
            remedy="Stop serving and start again; 'bevelbook check' names the record.",
        ) from fault


def _view_sql(connection: sqlite3.Connection, kind: Kind) -> str:
    fields = {field.name: field for field in _numbers(kind)}
    names = [row[1] for row in _asked(connection, f"PRAGMA main.table_info({kind.table})")]
    columns = [
        f'iif({_beyond(fields[name], "")}, NULL, "{name}") AS "{name}"' if name in fields else f'"{name}"'
        for name in names
    ]
    needed = [field for field in fields.values() if field.required and kind.table not in _KEPT_EMPTY]
    where = "".join(f" AND NOT ({_beyond(field, '')})" for field in needed)
    return f"CREATE TEMP VIEW {kind.table} AS SELECT {', '.join(columns)} FROM main.{kind.table} WHERE 1{where}"


def _beyond(field: Field, row: str) -> str:
    name = f'{row}"{field.name}"'
    at_least = field.minimum if field.minimum is not None else field.above
    below = "" if at_least is not None and at_least >= 0 else f" AND {name} NOT BETWEEN {-LARGEST} AND {-SMALLEST}"
    return f"({name} <> 0 AND {name} NOT BETWEEN {SMALLEST} AND {LARGEST}{below})"


@cache
def _kinds() -> tuple[Kind, ...]:
    return tuple(kind for kind in KINDS if impossible_sql(kind) is not None)


@cache
def _numbers(kind: Kind) -> tuple[Field, ...]:
    """The numbers of a kind of record."""
    return tuple(field for field in kind.fields if field.kind in ("quantity", "whole")) if kind.own else ()


def _asked(connection: sqlite3.Connection, sql: str) -> list[tuple[Any, ...]]:
    cursor = connection.cursor()
    cursor.row_factory = None
    return cursor.execute(sql).fetchall()
