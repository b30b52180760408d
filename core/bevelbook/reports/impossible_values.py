"""Impossible numbers in the records, each as a finding about its record."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from math import isinf
from typing import Final

from bevelbook.declare.in_command import in_command
from bevelbook.facts.impossible import Impossible, impossible_numbers
from bevelbook.plugin.check import Finding
from bevelbook.records import BY_NAME, Kind

_NAMED: Final = frozenset({"build", "run", "diff", "fluid", "scale"})
"""Kinds that commands name by label; the others are named by id."""


def impossible_values(connection: sqlite3.Connection) -> Iterator[Finding]:
    """A finding for each such number: it counts as not written down until somebody corrects it."""
    for one in impossible_numbers(connection):
        yield _finding(connection, one)


def _finding(connection: sqlite3.Connection, one: Impossible) -> Finding:
    label = _label(connection, one.kind, one.row_id)
    unit = "" if one.field.unit in (None, "1") else f" {one.field.unit}"
    value = "infinite" if isinf(one.value) else f"{one.value:g}{unit}"
    kind = one.kind.name.replace("_", " ")
    name = in_command(label or one.row_id)
    return Finding(
        code="impossible_value",
        severity="caution",
        words=f"its {one.field.words} is {value}, which is impossible: it counts as not written down",
        remedy=f"Correct it: 'bevelbook record {one.kind.name.replace('_', '-')} {name} {one.field.stem}=...'.",
        subject_table=one.kind.table,
        subject_id=one.row_id,
        subject_label=label or _owned(connection, one.kind, one.row_id) or f"{kind} {one.row_id}",
    )


def _label(connection: sqlite3.Connection, kind: Kind, row_id: str) -> str | None:
    if kind.name not in _NAMED:
        return None
    row = connection.execute(f"SELECT {kind.label} FROM main.{kind.table} WHERE id = ?", (row_id,)).fetchone()
    return str(row[0]) if row and row[0] else None


def _owned(connection: sqlite3.Connection, kind: Kind, row_id: str) -> str | None:
    """``weighing of rear-a/2`` for a record of a build."""
    if "build" not in kind.columns:
        return None
    build = BY_NAME["build"]
    row = connection.execute(
        f"SELECT b.label FROM main.{kind.table} t JOIN main.{build.table} b ON b.id = t.build WHERE t.id = ?", (row_id,)
    ).fetchone()
    return f"{kind.name.replace('_', ' ')} of {row[0]}" if row and row[0] else None
