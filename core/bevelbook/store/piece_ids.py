"""Ids of the pieces of a build that are made by hand, so that two laptops make the same one for the same piece.

A seal fitting, a part, a shim and a part of a blend are known by the build, by what or where they are, and by their
number among those alike.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from typing import Any, Final

from bevelbook.records import Kind
from bevelbook.store.ids import id_within

ALIKE_BY: Final = {
    "seal_fitting": ("place",),
    "build_part": ("part", "place"),
    "build_shim": ("place",),
    "blend_part": ("bottle", "fluid", "viscosity_cst"),
}
"""For each kind of piece the columns by which two of one build are alike."""


def piece_id(kind: Kind, values: Mapping[str, object], number: int) -> str:
    """The id of a piece of ``values["build"]``, ``number`` counting those alike from 1."""
    alike = "\0".join(str(values.get(column) or "") for column in ALIKE_BY[kind.name])
    return id_within(str(values["build"]), f"{kind.name}\0{alike}", number)


def new_piece_id(connection: sqlite3.Connection, kind: Kind, values: Mapping[str, object]) -> str | None:
    """The id for a new piece: the first number that no piece alike in its build has. None for other kinds.

    A piece that was moved from there may still have the id of a free number, which is then left out.
    """
    if kind.name not in ALIKE_BY:
        return None
    columns = ALIKE_BY[kind.name]
    same = " AND ".join(f"{column} IS ?" for column in columns)
    alike = connection.execute(
        f"SELECT * FROM {kind.table} WHERE build = ? AND {same}",
        (values["build"], *(values.get(column) for column in columns)),
    ).fetchall()
    taken = set(numbers(kind, alike).values())
    number = 1
    while number in taken or _exists(connection, kind, piece_id(kind, values, number)):
        number += 1
    return piece_id(kind, values, number)


def numbers(kind: Kind, alike: Iterable[Mapping[str, Any] | sqlite3.Row]) -> dict[str, int]:
    """The numbers of records of one owner that are alike, by id.

    A piece keeps the number that its id was made from, also if the one before it is removed; others take the free
    numbers in the order in which they were written down. Rows of one sheet are in the order of their days and lines.
    """
    pieces = sorted(alike, key=lambda row: _written_in_order(kind, row))
    found: dict[str, int] = {}
    if kind.name in ALIKE_BY:
        ids = {row["id"] for row in pieces}
        for number in range(1, len(pieces) + 20) if pieces else ():
            made = piece_id(kind, dict(pieces[0]), number)
            if made in ids:
                found[made] = number
    free = (number for number in range(1, 2 * len(pieces) + 20) if number not in set(found.values()))
    for row in pieces:
        if row["id"] not in found:
            found[row["id"]] = next(free)
    return found


def _written_in_order(kind: Kind, row: Mapping[str, Any] | sqlite3.Row) -> tuple[str, str, int, str]:
    of_notes = (row[kind.day] or "", row["note_line"] or 0) if kind.day and row["note_file"] else ("", 0)
    return (row["created_at"] or "", *of_notes, row["id"])


def _exists(connection: sqlite3.Connection, kind: Kind, row_id: str) -> bool:
    return connection.execute(f"SELECT 1 FROM {kind.table} WHERE id = ?", (row_id,)).fetchone() is not None
