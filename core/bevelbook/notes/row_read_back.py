"""A note row read back from the database: from the records that it made, and from the cells kept beside them."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Any, Final, NamedTuple

from bevelbook.declare.vocabulary import CLOSED_MASS, CLOSED_MASS_WRITTEN, WRITTEN
from bevelbook.kept_json import object_in
from bevelbook.notes.bulk import BUILD, RUN, RUN_DIFF, WEIGHING, Bulk, extra_id
from bevelbook.notes.note_columns import LOOSE, NAMES, REFERRED, filled
from bevelbook.records import BY_NAME
from bevelbook.store.schema import quoted

DIGITS: Final = {"build": BUILD, "weighing": WEIGHING, "run": RUN, "run_diff": RUN_DIFF}
"""The last digit of the ids of a row's records, by kind."""


class HeldCells(NamedTuple):
    """The cells of a note row: values and names by column, the ids of what they name, and the columns of which a
    person set a field by hand."""

    values: dict[str, Any]
    ids: dict[str, Any]
    by_hand: frozenset[str] = frozenset()

    def staged(self, named: tuple[str, ...]) -> tuple[Any, ...]:
        """The row as it is staged with all columns, followed by the ids of what it names and a None."""
        return (*(self.values.get(name) for name in NAMES), *(self.ids.get(name) for name in named), None)


def cells_beside(connection: sqlite3.Connection, note_file: str, line: int) -> dict[str, Any]:
    """The cells that are kept beside a row because none of its records takes them."""
    row = connection.execute("SELECT cells FROM note_extras WHERE id = ?", (extra_id(note_file, line),)).fetchone()
    return (object_in(row[0]) or {}) if row else {}


def cells_of(bulk: Bulk, held: Mapping[str, str], diff: str, day: str, note_file: str, line: int) -> HeldCells:
    """The cells of a row; ``held`` are the ids of its records by kind, ``diff`` is the id of its diff."""
    connection = bulk.connection
    beside = cells_beside(connection, note_file, line)
    values: dict[str, Any] = {name: value for name, value in beside.items() if name in LOOSE}
    ids: dict[str, Any] = {
        name: bulk.id_known(name, values, day, {}) for name in values if name in REFERRED and name != "bottle"
    }
    by_hand: set[str] = set()
    for kind_name, row_id in held.items():
        columns = _columns(connection, kind_name, row_id)
        entered, *found = connection.execute(
            f"SELECT {', '.join(map(quoted, ['entered', *columns]))} FROM {BY_NAME[kind_name].table} WHERE id = ?",
            (row_id,),
        ).fetchone()
        typed = (object_in(entered) or {}) if entered else {}
        by_hand |= {name for column, name in columns.items() if column in typed}
        for name, value in zip(columns.values(), found, strict=True):
            if value is not None:
                (ids if name in REFERRED else values)[name] = value
    ids["diff"], values["date"] = diff, day
    for name, row_id in ids.items():
        if row_id is not None:
            values[name] = _name(connection, REFERRED[name], row_id)
    if values.get("bottle") is not None and "bottle" not in ids:
        ids["bottle"] = bulk.id_known("bottle", values, day, ids)
    return HeldCells(values, ids, frozenset(by_hand))


ORIGINS: Final = {"weighing": "basis_from", "run_diff": "temp_place"}
"""The column of a record that says from which of several note columns another was filled, by kind."""


def columns_of_record(kind_name: str, origin: str | None) -> dict[str, str]:
    """The columns of a record that its row fills, each with the note column; ``origin`` is what its column of
    ``ORIGINS`` says.

    The temperature of a diff in a run may be in the column of a place. The mass of a weighing may be that of the closed
    diff, and what was on the scale may be written there.
    """
    columns = dict(filled(kind_name))
    if kind_name == "run_diff" and origin is not None:
        columns["diff_temp_c"] = f"{origin}_diff_temp_c"
    if kind_name == "weighing" and origin in (CLOSED_MASS, CLOSED_MASS_WRITTEN):
        columns["mass_g"] = "closed_mass_g"
    if kind_name == "weighing" and origin in (WRITTEN, CLOSED_MASS_WRITTEN):
        columns["mass_basis"] = "mass_basis"
    return columns


def _columns(connection: sqlite3.Connection, kind_name: str, row_id: str) -> dict[str, str]:
    origin = None
    if kind_name in ORIGINS:
        asked = f"SELECT {ORIGINS[kind_name]} FROM {BY_NAME[kind_name].table} WHERE id = ?"
        (origin,) = connection.execute(asked, (row_id,)).fetchone()
    return columns_of_record(kind_name, origin)


def _name(connection: sqlite3.Connection, kind_name: str, row_id: str) -> str:
    kind = BY_NAME[kind_name]
    asked = f"SELECT {quoted(kind.label or 'id')} FROM {kind.table} WHERE id = ?"
    return str(connection.execute(asked, (row_id,)).fetchone()[0])
