"""Writing single records. Each call needs a transaction that the caller opened (``opening.transaction``)."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager

from bevelbook.declare.errors import InputError, Place
from bevelbook.kept_json import object_in
from bevelbook.records import Kind
from bevelbook.store import entries
from bevelbook.store.erased_names import with_erased_names
from bevelbook.store.ids import new_id, now_utc
from bevelbook.store.keeping import MEETING
from bevelbook.store.schema import quoted, selected_columns
from bevelbook.store.versions import after, parents_of_return


class Writer:
    """Inserts and updates in the name of ``by``; ``clock`` gives the time of every stamp.

    Its writes are versions of the transaction's entry. Outside an entry they are marked as another program's.
    """

    def __init__(self, connection: sqlite3.Connection, by: str | None, clock: Callable[[], str] = now_utc) -> None:
        self.connection = connection
        self.by = by
        self.clock = clock

    def insert(
        self,
        kind: Kind,
        values: Mapping[str, object],
        *,
        row_id: str | None = None,
        entered: Mapping[str, str] | None = None,
    ) -> str:
        """Add a record with declared defaults filled in; returns its id. Raises InputError if it does not fit."""
        row: dict[str, object] = {"id": row_id or new_id(), **kind.defaults, **values}
        if kind.own:
            version = entries.current(self.connection)
            if version is not None:
                row["version"] = version
            parents = parents_of_return(self.connection, kind, row_id, version) if row_id else None
            if parents is not None:
                row["parents"] = parents
            stamp = self.clock()
            row |= {"created_at": stamp, "updated_at": stamp, "updated_by": self.by}
            if entered:
                row["entered"] = json.dumps(entered, ensure_ascii=False)
            row = with_erased_names(self.connection, kind, row)
        names = ", ".join(map(quoted, row))
        marks = ", ".join("?" * len(row))
        self._run(kind, f"INSERT INTO {kind.table} ({names}) VALUES ({marks})", tuple(row.values()))
        return str(row["id"])

    def update(
        self,
        kind: Kind,
        row_id: str,
        values: Mapping[str, object],
        *,
        entered: Mapping[str, str] | None = None,
        version: str | None = None,
        even_if_equal: bool = False,
    ) -> bool:
        """Change columns of a record; its past version goes to the history. False if nothing would change, unless a
        version is wanted ``even_if_equal``.

        An entry makes one version of a record, however often it changes it. ``version`` is given if the new version is
        not the entry's. Raises InputError for an unknown record, or if the values do not fit.
        """
        values = with_erased_names(self.connection, kind, values)
        names = list(values)
        old = self.connection.execute(
            f"SELECT {selected_columns(kind.table, [*names, 'entered', 'version'])} FROM {kind.table} WHERE id = ?",
            (row_id,),
        ).fetchone()
        if old is None:
            raise InputError(
                f"there is no such {kind.name.replace('_', ' ')}",
                code="no_record",
                place=Place(column=kind.table),
                found=row_id,
                remedy="Nothing was changed.",
            )
        *before, typed, old_version = old
        if before == [values[name] for name in names] and not even_if_equal:
            return False
        row: dict[str, object] = {**values, "updated_at": self.clock(), "updated_by": self.by}
        if entered:
            row["entered"] = json.dumps({**(object_in(typed) or {}), **entered}, ensure_ascii=False)
        row = with_erased_names(self.connection, kind, row)
        new_version = version or entries.current(self.connection)
        if new_version not in (None, old_version):
            row |= {"version": new_version, "parents": after(old_version)}
        self._set(kind, row_id, row)
        return True

    def remove(self, kind: Kind, row_id: str) -> None:
        """Remove a record; the history keeps its last version."""
        self.connection.execute(f"DELETE FROM {kind.table} WHERE id = ?", (row_id,))

    def place(self, kind: Kind, row_id: str, values: Mapping[str, object]) -> None:
        """Set columns of a record that follow from other rows: this is not a version, and nobody's change."""
        with placing(self.connection):
            self._set(kind, row_id, values)

    def _set(self, kind: Kind, row_id: str, row: Mapping[str, object]) -> None:
        sets = ", ".join(f"{quoted(name)} = ?" for name in row)
        self._run(kind, f"UPDATE {kind.table} SET {sets} WHERE id = ?", (*row.values(), row_id))

    def _run(self, kind: Kind, sql: str, values: tuple[object, ...]) -> None:
        try:
            self.connection.execute(sql, values)
        except sqlite3.IntegrityError as fault:
            raise InputError(
                f"the {kind.name.replace('_', ' ')} does not fit the table's checks",
                code="refused_by_check",
                place=Place(column=kind.table),
                found=str(fault),
                remedy="Nothing was changed.",
            ) from fault


@contextmanager
def placing(connection: sqlite3.Connection) -> Iterator[None]:
    """For the duration, changes of records make no version and no history."""
    connection.execute("UPDATE writing SET placing = 1")
    try:
        yield
    finally:
        connection.execute("UPDATE writing SET placing = NULL")


@contextmanager
def coming_in(connection: sqlite3.Connection) -> Iterator[None]:
    """For the duration, records are written as another database has them: without a version and without history."""
    connection.execute("UPDATE writing SET placing = ?", (MEETING,))
    try:
        yield
    finally:
        connection.execute("UPDATE writing SET placing = NULL")
