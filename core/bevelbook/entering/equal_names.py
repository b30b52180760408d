"""A name is for one record: a second of the same name is refused unless it was asked for."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Any, Final

from bevelbook.declare.errors import InputError, shown, with_article
from bevelbook.reading.labels import folded_label
from bevelbook.records import Kind
from bevelbook.records.joins import TOLD_APART_KINDS
from bevelbook.store.lookup import label_of
from bevelbook.store.schema import quoted, selected_columns
from bevelbook.store.told_apart import written_name_sql

NAMED_ONCE: Final = (
    "person",
    "car",
    "venue",
    "event",
    "scale",
    "seal",
    "diff",
    "fluid",
    "bottle",
    "idea",
    "build",
    "run",
    "stock_part",
)
"""Kinds whose label names one record, of a bottle with its fluid, of an event with its first day. The labels of builds
and runs count where somebody typed them."""
_BESIDE_NAME: Final = {"bottle": "fluid", "event": "first_on"}


class EqualNameError(InputError):
    """There is such a record already: its kind, and the name by which it can be changed.

    ``another_may_be`` is whether a second one can be asked for. Whoever shows the error says how.
    """

    def __init__(self, what: str, kind: Kind, name: str, *, another_may_be: bool) -> None:
        super().__init__(what, code="already_there")
        self.kind = kind
        self.name = name
        self.another_may_be = another_may_be


def may_be_another(kind: Kind) -> bool:
    """Whether a second record like one that is there can be asked for: a build is opened only once."""
    return kind.name != "opening"


def name_key(kind: Kind, values: Mapping[str, Any]) -> tuple[object, ...] | None:
    """What only one record of a kind has: its folded name, of a bottle with its fluid, of an event with its first day,
    of an opening its build.

    None for kinds of which several may have one name, and for a record without a name.
    """
    if kind.name == "opening":
        return (values.get("build"),) if values.get("build") is not None else None
    if kind.name not in NAMED_ONCE or kind.label is None or values.get(kind.label) is None:
        return None
    return (folded_label(str(values[kind.label])), values.get(_BESIDE_NAME.get(kind.name, "")))


def refuse_equal_name(
    connection: sqlite3.Connection,
    kind: Kind,
    values: Mapping[str, Any],
    row_id: str | None = None,
    *,
    another: bool = False,
) -> None:
    """Raise EqualNameError if another record than ``row_id`` has the name that these values give.

    Names are compared as people mean them (``folded_label``); that
    they only look alike is said (``similar_name``). ``another`` lets a second one in; a build that is open cannot be
    opened once more even so.
    """
    if kind.name == "opening":
        _refuse_second_opening(connection, kind, values, row_id)
    if another or kind.name not in NAMED_ONCE or kind.label is None:
        return
    beside = _BESIDE_NAME.get(kind.name)
    columns = [beside] if beside else []
    named = {name: _of_it(connection, kind, name, values, row_id) for name in (kind.label, *columns)}
    if named[kind.label] is None or values.keys().isdisjoint(named if kind.name == "event" else (kind.label,)):
        return
    key = name_key(kind, named)
    written = written_name_sql(kind, kind.table) if kind.name in TOLD_APART_KINDS else quoted(kind.label)
    asked = f"{written} AS {quoted(kind.label)}, {selected_columns(kind.table, ['id', *columns])}"
    for row in connection.execute(f"SELECT {asked} FROM {kind.table} ORDER BY id"):
        if row["id"] != row_id and name_key(kind, dict(row)) == key:
            called = label_of(connection, kind, row["id"])
            noun = with_article(kind.name.replace("_", " "))
            raise EqualNameError(f"there is {noun} named {shown(called)} already", kind, called, another_may_be=True)


def _refuse_second_opening(
    connection: sqlite3.Connection, kind: Kind, values: Mapping[str, Any], row_id: str | None
) -> None:
    row = connection.execute(
        "SELECT o.id, o.opened_on, b.label FROM openings o JOIN builds b ON b.id = o.build "
        "WHERE o.build = ? AND o.id IS NOT ? ORDER BY o.id",
        (values.get("build"), row_id),
    ).fetchone()
    if row is not None:
        raise EqualNameError(
            f"{row['label']} is open already, since {row['opened_on']}",
            kind,
            label_of(connection, kind, row["id"]),
            another_may_be=False,
        )


def _of_it(
    connection: sqlite3.Connection, kind: Kind, column: str, values: Mapping[str, Any], row_id: str | None
) -> Any:
    """What a record has in a column with these values written into it."""
    if column in values or row_id is None:
        return values.get(column)
    return connection.execute(f"SELECT {column} FROM {kind.table} WHERE id = ?", (row_id,)).fetchone()[0]
