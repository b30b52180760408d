"""Having the table show of a record what follows from its versions, with the others in its history.

What writes here makes no version and no history of its own: the caller does it while records come in
(``writing.coming_in``).
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from typing import Any, Final, Literal

from bevelbook.records import Kind
from bevelbook.store.heads import Content, comparable, derived_columns, standing
from bevelbook.store.known_versions import Copy, HistoryRow, KnownRecord, without_columns
from bevelbook.store.schema import BOOKKEEPING, columns_of, quoted
from bevelbook.store.versions import after

_BOOKS: Final = tuple(BOOKKEEPING)[2:]
_HISTORY: Final = ("version", "parents", "content", "replaced_in", "replaced_at")


def show(
    connection: sqlite3.Connection, record: KnownRecord, row_id: str, here: Content | None, past: list[HistoryRow]
) -> Literal["shown", "removed"] | None:
    """Show the version of a record that holds, and keep the others in its history; ``here`` is its row and ``past`` its
    history as they are. Says whether it is shown otherwise than before, or not any more; None for neither."""
    kind = record.kind
    stands = standing(kind, record.versions.values())
    shown = stands.shown
    for head in stands.heads:
        if head.content is not None and head != shown:
            _without_derived(connection, record, head.version, head.content)
    wanted = record.history(shown.version if shown else None)
    if wanted != past:
        write_history(connection, kind, row_id, wanted)
    if shown is None:
        if here is None:
            return None
        connection.execute(f"DELETE FROM main.{kind.table} WHERE id = ?", (row_id,))
        return "removed"
    show_version(connection, record, row_id, shown.version, here)
    return "shown" if here is None or comparable(kind, here) != comparable(kind, shown.content or {}) else None


def show_version(
    connection: sqlite3.Connection, record: KnownRecord, row_id: str, version: str, here: Content | None
) -> None:
    """Show a version of a record; what follows from other rows stays as it is here, or is what it last was."""
    kind = record.kind
    content = record.versions[version].content or {}
    parents = record.copies[version].parents
    row: dict[str, Any] = {"version": version, "parents": after(*parents) if parents else None}
    row |= {name: content.get(name) for name in (*_BOOKS, *kind.columns)}
    derived = derived_columns(kind, row)
    if here is not None:
        row |= {name: here[name] for name in derived}
        if any(row[name] != here[name] for name in row):
            sets = ", ".join(f"{quoted(name)} = ?" for name in row)
            connection.execute(f"UPDATE main.{kind.table} SET {sets} WHERE id = ?", (*row.values(), row_id))
        return
    for name in derived:
        if row.get(name) is None:
            row[name] = last_value(record, name)
    names = ("id", *row)
    connection.execute(
        f"INSERT INTO main.{kind.table} ({', '.join(map(quoted, names))}) VALUES ({', '.join('?' * len(names))})",
        (row_id, *row.values()),
    )


def last_value(record: KnownRecord, name: str) -> Any:
    """The last value that a column had in any version of a record."""
    found = sorted(record.versions.values(), key=lambda one: one.key, reverse=True)
    return next((one.content[name] for one in found if one.content and one.content.get(name) is not None), None)


def _without_derived(connection: sqlite3.Connection, record: KnownRecord, version: str, content: Content) -> None:
    """Keep a version that is not shown without what would follow from other rows, if it were."""
    aside = [name for name in sorted(derived_columns(record.kind, content)) if name in content]
    copy = record.copies[version]
    if aside and copy.text is not None and not copy.is_past:
        text = without_columns(connection, copy.text, aside)
        record.copies[version] = Copy(copy.version, copy.parents, text, copy.replaced_in, copy.replaced_at)


def write_history(connection: sqlite3.Connection, kind: Kind, row_id: str, rows: Sequence[HistoryRow]) -> None:
    """Write the history of a record again, in order."""
    connection.execute("DELETE FROM main.history WHERE table_name = ? AND row_id = ?", (kind.table, row_id))
    connection.executemany(
        f"INSERT INTO main.history (table_name, row_id, {', '.join(_HISTORY)}) VALUES (?, ?, ?, ?, ?, ?, ?)",
        ((kind.table, row_id, *row) for row in rows),
    )


def held_rows(connection: sqlite3.Connection, kind: Kind, ids: Sequence[str]) -> dict[str, Content]:
    """The rows of these records as the table has them, without their ids."""
    names = columns_of(kind)
    cursor = connection.cursor()
    cursor.row_factory = None
    rows = cursor.execute(
        f"SELECT {', '.join(map(quoted, names))} FROM main.{kind.table} WHERE id IN (SELECT value FROM json_each(?))",
        (json.dumps(list(ids)),),
    )
    return {row[0]: dict(zip(names[1:], row[1:], strict=True)) for row in rows}
