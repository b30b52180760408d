"""Changing the records of an imported file that was read again: added, removed, changed."""

from __future__ import annotations

import sqlite3
from typing import Final, NamedTuple

from bevelbook.declare.errors import InputError, Place
from bevelbook.notes.bulk import Bulk
from bevelbook.notes.note_columns import STORED, WORKED_OUT
from bevelbook.records import BY_NAME
from bevelbook.store.schema import quoted, selected_columns
from bevelbook.store.versions import PLACED, after, note_version
from bevelbook.store.writing import Writer

ORDER = tuple(WORKED_OUT)
_NUMBERED: Final = {"build": "diff", "run": "run_on"}
"""The records that are numbered, with what within."""
Values = tuple[object, ...]


class Planned(Bulk):
    """Collects the records of a file that is read again, without writing them."""

    def __init__(self, connection: sqlite3.Connection, *, note_file: str, stamp: str, by: str | None) -> None:
        super().__init__(connection, note_file=note_file, stamp=stamp, by=by, dry=True, again=True)
        self.records: dict[str, dict[str, tuple[int, Values]]] = {name: {} for name in ORDER}

    def flush(self) -> None:
        for name, rows in self._rows.items():
            self.records[name] |= {row[0]: (row[1], row[2:]) for row in rows}
            rows.clear()


class Change(NamedTuple):
    """One record that would change: ``what`` is added, removed or changed."""

    what: str
    kind: str
    row_id: str
    line: int | None
    values: Values
    columns: tuple[str, ...] = ()


def changes(connection: sqlite3.Connection, planned: Planned) -> list[Change]:
    """How the records of a file would change. Labels, which are for people, do not change."""
    found: list[Change] = []
    for name in ORDER:
        kind, columns = BY_NAME[name], STORED[name]
        listed = ", ".join(map(quoted, columns))
        cursor = connection.cursor()
        cursor.row_factory = None
        held = {
            row[0]: (row[1], row[2:])
            for row in cursor.execute(
                f"SELECT id, note_line, {listed} FROM {kind.table} WHERE note_file = ?", (planned.note_file,)
            )
        }
        for row_id, (line, values) in planned.records[name].items():
            if row_id not in held:
                found.append(Change("added", name, row_id, line, values))
                continue
            other = tuple(
                column
                for column, old, new in zip(columns, held[row_id][1], values, strict=True)
                if old != new and column != "label"
            )
            if other:
                found.append(Change("changed", name, row_id, line, values, other))
        found += [
            Change("removed", name, row_id, line, values)
            for row_id, (line, values) in held.items()
            if row_id not in planned.records[name]
        ]
    return _numbered(found, planned)


def _numbered(found: list[Change], planned: Planned) -> list[Change]:
    """The changes, those that add a build or a run with the next free number: in the plan the records that keep their
    label have taken one each."""
    first: dict[tuple[str, object], int] = {}
    for kind in _NUMBERED:
        for _, values in planned.records[kind].values():
            of, number = _of_label(kind, values)
            first[kind, of] = min(number, first.get((kind, of), number))
    added = [place for place, one in enumerate(found) if one.what == "added" and one.kind in _NUMBERED]
    for place in sorted(added, key=lambda place: _of_label(found[place].kind, found[place].values)[1]):
        one = found[place]
        of, _ = _of_label(one.kind, one.values)
        number = first[one.kind, of]
        first[one.kind, of] = number + 1
        at = STORED[one.kind].index("label")
        label = f"{str(one.values[at]).rpartition('/')[0]}/{number}"
        found[place] = one._replace(values=(*one.values[:at], label, *one.values[at + 1 :]))
    return found


def _of_label(kind: str, values: Values) -> tuple[object, int]:
    """What the records of a kind are numbered within, a diff or a day, and the number in a label."""
    columns = STORED[kind]
    _, _, number = str(values[columns.index("label")]).rpartition("/")
    return values[columns.index(_NUMBERED[kind])], int(number)


def apply(bulk: Bulk, writer: Writer, planned: Planned, found: list[Change]) -> None:
    """Make the changes, inside the caller's transaction. Replaced versions go to the history.

    Raises InputError if a record made by hand refers to one that would be removed.
    """
    for name, label, line in planned.new_names:
        bulk.name_id(name, label, line)
    for one in found:
        if one.what == "added" and one.line is not None:
            bulk.taker(one.kind)((one.row_id, one.line, *one.values))
    bulk.finish()
    for one in found:
        if one.what == "changed":
            change_record(writer, one)
    for name in reversed(ORDER):
        for one in found:
            if one.what == "removed" and one.kind == name:
                _remove(bulk.connection, one)


def change_record(writer: Writer, one: Change) -> None:
    """Change a record to the version that the same sheet, read the same way, gives in any database.

    Its build follows from all rows of the diff: that is set without a version.
    """
    kind = BY_NAME[one.kind]
    values = dict(zip(STORED[one.kind], one.values, strict=True))
    changed = {name: values[name] for name in one.columns}
    placed = {name: changed.pop(name) for name in PLACED.get(one.kind, ()) if name in changed}
    if changed:
        names = ("version", *kind.columns)
        row = writer.connection.execute(
            f"SELECT {selected_columns(kind.table, names)} FROM {kind.table} WHERE id = ?", (one.row_id,)
        ).fetchone()
        held = dict(zip(names, row, strict=True))
        version = note_version(kind, after(str(held["version"])), held | changed)
        writer.update(kind, one.row_id, changed, version=version)
    if placed:
        writer.place(kind, one.row_id, placed)


def _remove(connection: sqlite3.Connection, one: Change) -> None:
    try:
        connection.execute(f"DELETE FROM {BY_NAME[one.kind].table} WHERE id = ?", (one.row_id,))
    except sqlite3.IntegrityError as fault:
        raise InputError(
            f"line {one.line} would no longer make its {one.kind.replace('_', ' ')}, but other records refer to it",
            code="record_in_use",
            place=Place(line=one.line),
            found=one.row_id,
            remedy="Move or remove those first. Nothing was changed.",
        ) from fault
