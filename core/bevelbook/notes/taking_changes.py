"""Changing the records of an earlier row to what a later state of its sheet says.

The records keep their ids, so that what refers to them stays; the old values go to the history, and fields that a
person typed stay. The row belongs to the later file from then on; in the earlier one its line is marked, so that
reading that file again does not bring the old row back.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from contextlib import nullcontext
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import InputError, Place
from bevelbook.notes.bulk import Bulk, Current, extra_id
from bevelbook.notes.changed_rows import CHANGED_LATER, ChangedRow
from bevelbook.notes.placed_again import Remaking
from bevelbook.notes.staging import Stage
from bevelbook.records import BY_NAME
from bevelbook.store.ids import content_id
from bevelbook.store.kept_past import keep_past_of, remove_kept
from bevelbook.store.schema import selected_columns
from bevelbook.store.versions import after, note_version
from bevelbook.store.writing import placing

_NO_DAY: Final = "1970-01-01"


class Prepared(NamedTuple):
    """A changed row with its cells and the ids of what they name, as :class:`~.placing.RowMaker` takes them."""

    row: ChangedRow
    cells: tuple[Any, ...]


def prepare_changes(stage: Stage, bulk: Bulk, changed: Iterable[ChangedRow]) -> list[Prepared]:
    """The cells of changed rows; what they name is added where it is not there yet, so call it before the end of the
    bulk."""
    by_line = {one.line: one for one in sorted(changed, key=lambda one: (one.day, one.line))}
    found: list[Prepared] = []
    for line, row in stage.on_lines(by_line):
        cells = stage.spread(row)
        values = dict(zip(stage.columns, cells, strict=True))
        ids = bulk.ids_of(values, line)
        found.append(Prepared(by_line[line], (*cells, *ids.values(), None)))
    return found


def take_changes(bulk: Bulk, prepared: Iterable[Prepared]) -> set[str]:
    """Change the earlier rows, inside the caller's transaction; returns their diffs, which are to be placed again.

    Raises InputError if a row would lose a record that others refer to or that a person typed.
    """
    remaking = Remaking(bulk.connection, bulk.by)
    diffs: set[str] = set()
    for row, cells in prepared:
        before, versions = _before(bulk.connection, row), _versions(bulk.connection, row)
        if not remaking.remake_row(row.held, cells, before, bulk.note_file, row.line):
            raise InputError(
                f"line {row.line} {row.words()}; it would no longer make a record that others refer to",
                code="record_in_use",
                place=Place(line=row.line),
                found=row.file,
                remedy="Move or remove what refers to it first. Nothing was imported.",
            )
        _rehome(bulk.connection, row, bulk.note_file, versions)
        _mark_earlier(bulk.connection, row, bulk.note_file)
        diffs.add(row.diff)
    remaking.write()
    return diffs


def _before(connection: sqlite3.Connection, one: ChangedRow) -> Current | None:
    """The build to compare the oil with: for a row that makes a build one without any, else the build that it is on."""
    if "build" in one.held:
        return Current("", one.diff, one.day, None, None, None)
    kind = "weighing" if "weighing" in one.held else "run_diff"
    row = connection.execute(
        "SELECT b.id, b.diff, b.built_on, b.fluid, b.viscosity_cst, b.mass_basis "
        f"FROM {BY_NAME[kind].table} x JOIN builds b ON b.id = x.build WHERE x.id = ?",
        (one.held[kind],),
    ).fetchone()
    return Current(*row)


def _versions(connection: sqlite3.Connection, one: ChangedRow) -> dict[str, str]:
    """The versions of the records of a row, by kind."""
    return {
        kind: connection.execute(f"SELECT version FROM {BY_NAME[kind].table} WHERE id = ?", (row_id,)).fetchone()[0]
        for kind, row_id in one.held.items()
    }


def _rehome(connection: sqlite3.Connection, one: ChangedRow, note_file: str, versions: Mapping[str, str]) -> None:
    """Let the later file have the records of a row; one that is still in its old version gets a new one, so that the
    history has its old file."""
    for kind_name, row_id in one.held.items():
        kind = BY_NAME[kind_name]
        names = ("version", *kind.columns)
        row = connection.execute(
            f"SELECT {selected_columns(kind.table, names)} FROM {kind.table} WHERE id = ?", (row_id,)
        ).fetchone()
        if row is None:
            continue
        held = dict(zip(names, row, strict=True))
        values: dict[str, object] = {"note_file": note_file, "note_line": one.line}
        if held["version"] == versions[kind_name]:
            parents = after(str(held["version"]))
            values |= {"version": note_version(kind, parents, held), "parents": parents}
        sets = ", ".join(f"{name} = ?" for name in values)
        with nullcontext() if "version" in values else placing(connection):
            connection.execute(f"UPDATE {kind.table} SET {sets} WHERE id = ?", (*values.values(), row_id))


def _mark_earlier(connection: sqlite3.Connection, one: ChangedRow, note_file: str) -> None:
    """Mark the line in the earlier file; what was kept beside it goes."""
    extra, reject = BY_NAME["note_extra"], BY_NAME["note_reject"]
    remove_kept(connection, extra, "r.id = ?", (extra_id(one.file_id, one.line_before),))
    row_id = content_id(_NO_DAY, f"changed\0{one.file_id}\0{one.line_before}")
    keep_past_of(connection, reject, row_id)
    connection.execute(
        "INSERT INTO note_rejects (id, note_file, line, status, reason, words, raw, closed_by, closed_line) "
        "VALUES (?, ?, ?, 'skipped', ?, 'a later state of the sheet changed this row', '[]', ?, ?)",
        (row_id, one.file_id, one.line_before, CHANGED_LATER, note_file, one.line),
    )
