"""Results of calculators, kept as rows. A kept row is never changed; a calculator's new version makes a new one."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Sequence
from itertools import islice
from typing import Any, Final, NamedTuple

from bevelbook.declare.fields import Field, fields_of
from bevelbook.facts.sql import SQL_TYPE
from bevelbook.plugin.calculator import Calculator
from bevelbook.records import BY_NAME
from bevelbook.store.blanking import said_without_erased
from bevelbook.store.ids import content_id
from bevelbook.store.schema import literal, quoted

KIND: Final = BY_NAME["calculation"]
_ENTRY: Final = "entry"
COLUMNS: Final = ("id", *(name for name in KIND.columns if name != _ENTRY))
"""What a caller gives; the entry is that of the transaction."""
BLOCK_ROWS: Final = 1_000
_NO_DAY: Final = "1970-01-01"
_CURRENT: Final = "(SELECT entry FROM writing)"
_SHAPES: Final = {
    "given": "object",
    "found": "object",
    "rows": "array",
    "uncertainties": "object",
    "origins": "object",
    "reasons": "array",
}
"""The type of each JSON column."""


def calculation_id(calculator: str, version: int, subject_table: str | None, subject_id: str | None, given: str) -> str:
    """The id of a result: equal calculator, version, subject and canonical inputs, with their ±, are one row."""
    return content_id(_NO_DAY, "\0".join((calculator, str(version), subject_table or "", subject_id or "", given)))


def keep(connection: sqlite3.Connection, rows: Iterable[Sequence[object]]) -> int:
    """Insert results (in the order of ``COLUMNS``) that are not there yet, without names that were erased; returns how
    many were new."""
    before = connection.total_changes
    who_at, called = COLUMNS.index("calculated_by"), dict[object, object]()

    def without_erased(row: Sequence[object]) -> tuple[object, ...]:
        who = row[who_at]
        if who not in called:
            called[who] = said_without_erased(connection, who)[0] if isinstance(who, str) else who
        return (*row[:who_at], called[who], *row[who_at + 1 :])

    names, marks = ", ".join(map(quoted, (*COLUMNS, _ENTRY))), ", ".join("?" * len(COLUMNS))
    sql = f"INSERT INTO {KIND.table} ({names}) VALUES ({marks}, {_CURRENT}) ON CONFLICT (id) DO NOTHING"
    waiting = map(without_erased, rows)
    while block := list(islice(waiting, BLOCK_ROWS)):
        connection.executemany(sql, block)
    return connection.total_changes - before


def reinstate(connection: sqlite3.Connection, row_id: str, now: str, by: str | None) -> str:
    """Make a kept result the latest of its calculator and record again, if another came after it; returns its id.

    A mistake that was written down and corrected leaves three results, the first and the last equal. Kept rows never
    change, so the last is a new row.
    """
    latest, is_equal = connection.execute(
        "SELECT n.id, n.given = k.given FROM calculations k JOIN calculations n ON n.calculator = k.calculator "
        "AND n.version = k.version AND n.subject_table = k.subject_table AND n.subject_id = k.subject_id "
        "WHERE k.id = ? ORDER BY n.calculated_at DESC, n.id DESC LIMIT 1",
        (row_id,),
    ).fetchone()
    if is_equal:
        return str(latest)
    again = content_id(_NO_DAY, f"{row_id}\0after\0{latest}")
    values = [
        {"id": ":again", "calculated_at": ":now", "calculated_by": ":by"}.get(name, quoted(name)) for name in COLUMNS
    ]
    connection.execute(
        f"INSERT INTO {KIND.table} ({', '.join(map(quoted, (*COLUMNS, _ENTRY)))}) "
        f"SELECT {', '.join((*values, _CURRENT))} FROM {KIND.table} "
        "WHERE id = :id",
        {"again": again, "now": now, "by": said_without_erased(connection, by)[0], "id": row_id},
    )
    return again


class Misshapen(NamedTuple):
    """A damaged kept result: columns with JSON of the wrong shape, or none."""

    row_id: str
    calculator: str
    subject_table: str | None
    subject_id: str | None
    columns: tuple[str, ...]


def misshapen(connection: sqlite3.Connection) -> list[Misshapen]:
    """Every kept result that another program left damaged, by id."""
    tests = {name: _is_misshapen(name, shape) for name, shape in _SHAPES.items()}
    cursor = connection.cursor()
    cursor.row_factory = None
    found = cursor.execute(
        f"SELECT id, calculator, subject_table, subject_id, {', '.join(tests.values())} FROM main.{KIND.table} "
        f"WHERE {' OR '.join(tests.values())} ORDER BY id"
    )
    return [
        Misshapen(
            row[0], row[1], row[2], row[3], tuple(name for name, is_so in zip(tests, row[4:], strict=True) if is_so)
        )
        for row in found
    ]


def _is_misshapen(name: str, shape: str) -> str:
    """SQL for whether a column holds anything but JSON of that shape; an empty one is fine."""
    column = quoted(name)
    right = f"json_type({column}) = '{shape}'"
    if name == "given":
        inner = (
            f"SELECT 1 FROM json_each({column}) i WHERE i.type = 'object' OR (i.type = 'array' AND EXISTS "
            f"(SELECT 1 FROM json_each(i.value) e WHERE e.type <> 'object'))"
        )
        has_inner = f"instr({column}, '[') + instr(substr({column}, 2), '{{')"
        right = f"iif({right}, NOT iif({has_inner}, EXISTS ({inner}), 0), 0)"
    return f"({column} IS NOT NULL AND NOT iif(json_valid({column}), {right}, 0))"


def view_names(calculator: Calculator[Any, Any]) -> tuple[str, str]:
    """The names of a calculator's two views: one row per result, and one per row of its listing."""
    stem = f"calc_{calculator.name.replace('-', '_')}"
    return stem, f"{stem}_rows"


def key_of_view(view: str, columns: Sequence[str]) -> tuple[str, ...]:
    """The columns in which no two rows of a calculator's view are equal; empty for another view.

    >>> key_of_view("calc_blend", ("calculation", "verdict")), key_of_view("shelf", ("diff",))
    (('calculation',), ())
    """
    if not view.startswith("calc_") or "calculation" not in columns:
        return ()
    return ("calculation", "place") if "place" in columns else ("calculation",)


def ensure_views(connection: sqlite3.Connection, calculator: Calculator[Any, Any]) -> None:
    """Make the typed views of a calculator, again if its columns differ from those of the views."""
    whole, listed = view_names(calculator)
    wanted = {whole: _view_sql(calculator, whole)}
    if calculator.listing_out:
        wanted[listed] = _rows_view_sql(calculator, listed)
    for name, sql in wanted.items():
        there = connection.execute("SELECT sql FROM sqlite_master WHERE type = 'view' AND name = ?", (name,)).fetchone()
        if there and there[0] == sql:
            continue
        if there:
            connection.execute(f"DROP VIEW {quoted(name)}")
        connection.execute(sql)


def view_columns(calculator: Calculator[Any, Any]) -> list[tuple[str, str, Field]]:
    """Columns of the calculator's view: name, JSON source (``found`` or ``given``) and field."""
    outputs = [(field.name, "found", field) for field in calculator.outputs]
    taken = {name for name, _, _ in outputs}
    inputs = [
        (f"given_{field.name}" if field.name in taken else field.name, "given", field)
        for field in calculator.inputs
        if field.kind != "listing"
    ]
    return [*outputs, *inputs]


def _view_sql(calculator: Calculator[Any, Any], name: str) -> str:
    columns = ", ".join(
        f"{_typed(side, field)} AS {quoted(column)}" for column, side, field in view_columns(calculator)
    )
    return (
        f"CREATE VIEW {quoted(name)} AS SELECT id AS calculation, subject_table, subject_id, verdict, {columns}, "
        f"version, calculated_at, calculated_by FROM latest_calculations WHERE calculator = {literal(calculator.name)}"
    )


def _rows_view_sql(calculator: Calculator[Any, Any], name: str) -> str:
    listing = calculator.listing_out
    item = listing.item if listing else None
    columns = ", ".join(f"{_typed('entry.value', field)} AS {quoted(field.name)}" for field in fields_of(item))
    return (
        f"CREATE VIEW {quoted(name)} AS SELECT c.id AS calculation, c.subject_table, c.subject_id, "
        f"CAST(entry.key + 1 AS INTEGER) AS place, {columns} FROM latest_calculations c, json_each(c.rows) entry "
        f"WHERE c.calculator = {literal(calculator.name)}"
    )


def _typed(source: str, field: Field) -> str:
    """SQL for a value out of JSON, with the type of its field: other tools see it, and a comparison goes by it.

    What should be a number and is none (another program may have written it) is empty, not 0.
    """
    path = literal(f"$.{field.name}")
    value = f"json_extract({source}, {path})"
    if field.kind in SQL_TYPE:
        value = f"iif(json_type({source}, {path}) IN ('integer', 'real'), {value}, NULL)"
    return f"CAST({value} AS {SQL_TYPE.get(field.kind, 'TEXT')})"


_ENCODER: Final = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def as_json(value: object) -> str:
    """JSON as stored: compact, keys in the order declared, words unescaped."""
    return _ENCODER.encode(value)
