"""Writing single records. Each call stands inside a transaction that the caller opened (``opening.transaction``)."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Mapping
from datetime import UTC, datetime

from bevelbook.errors import InputError, Place
from bevelbook.records import Kind
from bevelbook.store.ids import new_id
from bevelbook.store.schema import quoted, search_fill_sql


def now_utc() -> str:
    """The present instant as the database keeps it."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


class Writer:
    """Inserts and updates in the name of ``by``; ``clock`` gives the instant of every stamp."""

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
        """Add a record, declared defaults filled in, and its words to the search; returns its id."""
        row: dict[str, object] = {"id": row_id or new_id(), **kind.defaults, **values}
        if kind.own:
            stamp = self.clock()
            row |= {"created_at": stamp, "updated_at": stamp, "updated_by": self.by}
            if entered:
                row["entered"] = json.dumps(entered, ensure_ascii=False)
        names = ", ".join(map(quoted, row))
        marks = ", ".join("?" * len(row))
        self._run(kind, f"INSERT INTO {kind.table} ({names}) VALUES ({marks})", tuple(row.values()))
        if kind.searched:
            self.connection.execute(search_fill_sql(kind, "WHERE id = ?"), (row["id"],))
        return str(row["id"])

    def update(
        self, kind: Kind, row_id: str, values: Mapping[str, object], *, entered: Mapping[str, str] | None = None
    ) -> bool:
        """Change columns of a record; the old row goes to the history. False where nothing would change."""
        names = list(values)
        old = self.connection.execute(
            f"SELECT {', '.join(map(quoted, [*names, 'entered']))} FROM {kind.table} WHERE id = ?", (row_id,)
        ).fetchone()
        if all(old[name] == values[name] for name in names):
            return False
        row: dict[str, object] = {**values, "updated_at": self.clock(), "updated_by": self.by}
        if entered:
            row["entered"] = json.dumps({**json.loads(old["entered"] or "{}"), **entered}, ensure_ascii=False)
        sets = ", ".join(f"{quoted(name)} = ?" for name in row)
        self._run(kind, f"UPDATE {kind.table} SET {sets} WHERE id = ?", (*row.values(), row_id))
        return True

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
