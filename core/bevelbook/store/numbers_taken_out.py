"""Numbers that no diff can have, in a database whose tables did not refuse them yet: taken out before the steps, which
would else stop at them.

An optional number is empty then. One that a record must have becomes the least that there is, which counts as not
written down either (``facts/impossible.py``), and ``check`` names it. What was there is kept in the history, as any
change by another program is: the tool itself never took such a number.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from hashlib import blake2b
from typing import Any, Final, NamedTuple

from bevelbook.store.kept_past import NOT_VERSIONED
from bevelbook.store.schema import ANOTHER_PROGRAM, quoted

LAST_STEP_WITHOUT_BOUNDS: Final = 4
_LARGEST: Final = 1e12
"""The bound of that step, as ``declare.fields`` had it."""
_LEAST: Final = 1e-300
_NUMBERS: Final = ("REAL", "INTEGER")
_NOW: Final = "strftime('%Y-%m-%dT%H:%M:%fZ', 'now')"
_NOT_OF_A_RECORD: Final = ("version", "parents")


class _NumberColumn(NamedTuple):
    name: str
    type: str
    is_needed: bool


def take_out_impossible(connection: sqlite3.Connection, tables: Iterable[str]) -> tuple[str, ...]:
    """Take them out of these tables, as far as they are there; returns in words which: ``weighings 019e runs``.

    Runs inside the caller's transaction, without triggers.
    """
    cursor = connection.cursor()
    cursor.row_factory = None
    held = {row[0]: row[1] for row in cursor.execute("SELECT name, wr FROM pragma_table_list WHERE schema = 'main'")}
    found: list[str] = []
    cursor.execute("PRAGMA ignore_check_constraints = ON")  # a row may have other faults, which a step then names
    try:
        for table in sorted(one for one in tables if held.get(one) == 0):
            found += _taken_out(cursor, table)
    finally:
        cursor.execute("PRAGMA ignore_check_constraints = OFF")
    return tuple(found)


def _taken_out(cursor: sqlite3.Cursor, table: str) -> Iterator[str]:
    columns = cursor.execute('SELECT name, type, "notnull", pk FROM pragma_table_info(?)', (table,)).fetchall()
    names = [row[0] for row in columns]
    numbers = [_NumberColumn(name, of, bool(needed)) for name, of, needed, key in columns if of in _NUMBERS and not key]
    if "id" not in names or not numbers:
        return
    beyond = " OR ".join(f"{quoted(one.name)} NOT BETWEEN {-_LARGEST!r} AND {_LARGEST!r}" for one in numbers)
    selected = ", ".join(map(quoted, names))
    for row in cursor.execute(f"SELECT {selected} FROM {table} WHERE {beyond} ORDER BY id").fetchall():
        was = dict(zip(names, row, strict=True))
        new: dict[str, object] = {
            one.name: _instead(one, was[one.name])
            for one in numbers
            if was[one.name] is not None and not -_LARGEST <= was[one.name] <= _LARGEST
        }
        _keep(cursor, table, was)
        if "version" in was and "parents" in was:
            made = blake2b(f"{was['version']}\0{sorted(new)}".encode(), digest_size=8).hexdigest()
            new |= {"version": f"{ANOTHER_PROGRAM} {made}", "parents": json.dumps([was["version"]])}
        put = ", ".join(f"{quoted(name)} = ?" for name in new)
        cursor.execute(f"UPDATE {table} SET {put} WHERE id = ?", (*new.values(), was["id"]))
        yield f"{table} {was['id']} {' '.join(name for name in new if name not in _NOT_OF_A_RECORD)}"


def _instead(number: _NumberColumn, value: float) -> float | None:
    if not number.is_needed:
        return None
    return _LEAST if number.type == "REAL" else int(_LARGEST if value > 0 else -_LARGEST)


def _keep(cursor: sqlite3.Cursor, table: str, was: Mapping[str, Any]) -> None:
    """Put a row into the history as it was, in the form of its step."""
    of_history = {row[0] for row in cursor.execute("SELECT name FROM pragma_table_info('history')")}
    if "old" in of_history:
        old = _json(was)
        made = blake2b(old.encode(), digest_size=32).hexdigest()
        cursor.execute(
            "INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at) "
            f"VALUES (?, ?, 'changed', ?, ?, {_NOW})",
            (table, was["id"], old, made),
        )
        return
    content = _json({name: value for name, value in was.items() if name not in ("id", *_NOT_OF_A_RECORD)})
    has_version = "version" in was and "parents" in was
    version, parents = (was["version"], was["parents"]) if has_version else (NOT_VERSIONED, None)
    cursor.execute(
        "INSERT INTO history (table_name, row_id, version, parents, content, replaced_at) "
        f"VALUES (?, ?, ?, ?, ?, {_NOW})",
        (table, was["id"], version, parents, content),
    )


def _json(values: Mapping[str, Any]) -> str:
    """A row as JSON; infinity, which JSON lacks, as a number too large for a float."""
    said = (f"{json.dumps(name)}:{_value(value)}" for name, value in values.items())
    return f"{{{','.join(said)}}}"


def _value(value: object) -> str:
    if isinstance(value, float) and abs(value) == float("inf"):
        return "9e999" if value > 0 else "-9e999"
    return json.dumps(value, ensure_ascii=False)
