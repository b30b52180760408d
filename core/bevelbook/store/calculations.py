"""Results of calculators, kept as rows. A kept row is never changed; a calculator's new version makes a new one."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import islice
from typing import Final, NamedTuple

from bevelbook.records import BY_NAME
from bevelbook.store.ids import content_id
from bevelbook.store.schema import quoted

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


def again_id(row_id: str, latest: str) -> str:
    """The id of a result that is kept again after another one came."""
    return content_id(_NO_DAY, f"{row_id}\0after\0{latest}")


class KeptThere(NamedTuple):
    """What a row that is kept already says, where another was to be kept under its id."""

    row_id: str
    found: str
    rows: str | None
    verdict: str
    calculated_at: str
    fingerprint: str | None


def keep(
    connection: sqlite3.Connection,
    rows: Iterable[Sequence[object]],
    not_the_same: Callable[[Sequence[object], KeptThere], object] | None = None,
) -> int:
    """Insert results (in the order of ``COLUMNS``) that are not there yet, without names that were erased; returns how
    many were new. ``not_the_same`` is called for each that is there already with another text of its outputs, verdict
    or fingerprint."""
    from bevelbook.store.erased_names import said_without_erased

    before = connection.total_changes
    who_at, called = COLUMNS.index("calculated_by"), dict[object, object]()

    def without_erased(row: Sequence[object]) -> Sequence[object]:
        who = row[who_at]
        if who not in called:
            called[who] = said_without_erased(connection, who)[0] if isinstance(who, str) else who
        if called[who] == who:
            return row
        return (*row[:who_at], called[who], *row[who_at + 1 :])

    names, marks = ", ".join(map(quoted, (*COLUMNS, _ENTRY))), ", ".join("?" * len(COLUMNS))
    sql = f"INSERT INTO {KIND.table} ({names}) VALUES ({marks}, {_CURRENT}) ON CONFLICT (id) DO NOTHING"
    waiting = map(without_erased, rows)
    while block := list(islice(waiting, BLOCK_ROWS)):
        came = connection.total_changes
        connection.executemany(sql, block)
        if not_the_same is not None and connection.total_changes - came < len(block):
            for row, there in _kept_otherwise(connection, block):
                not_the_same(row, there)
    return connection.total_changes - before


def _kept_otherwise(
    connection: sqlite3.Connection, rows: Sequence[Sequence[object]]
) -> Iterator[tuple[Sequence[object], KeptThere]]:
    """Those of the rows under whose id another text is kept, each with what is."""
    columns = [COLUMNS.index(name) for name in ("found", "rows", "verdict", "fingerprint")]
    there = kept_there(connection, [str(row[0]) for row in rows])
    for row in rows:
        held = there[str(row[0])]
        if [row[place] for place in columns] != [held.found, held.rows, held.verdict, held.fingerprint]:
            yield row, held


def kept_there(connection: sqlite3.Connection, ids: Sequence[str]) -> dict[str, KeptThere]:
    """What is kept under these ids."""
    cursor = connection.cursor()
    cursor.row_factory = None
    asked = (
        f"SELECT {', '.join(f'k.{name}' for name in ('id', *KeptThere._fields[1:]))} FROM json_each(?) j "
        f"CROSS JOIN main.{KIND.table} k ON k.id = j.value"
    )
    return {row[0]: KeptThere(*row) for row in cursor.execute(asked, (json.dumps(ids),))}


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
    from bevelbook.store.erased_names import said_without_erased

    again = again_id(row_id, str(latest))
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


_ENCODER: Final = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def as_json(value: object) -> str:
    """JSON as stored: compact, keys in the order declared, words unescaped."""
    return _ENCODER.encode(value)
