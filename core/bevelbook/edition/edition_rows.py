"""The rows of an edition on their way: taken from the database into a copy aside, which is then changed kind by kind.

What an edition never has is left behind here: entries and the past, clashes, rejected rows; photographs and kept files
unless they are asked for.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from typing import Any, Final

from bevelbook.records import BY_NAME, KINDS, Kind
from bevelbook.store.schema import FILE_TABLES, columns_of, quoted, selected_columns

BLOCK_ROWS: Final = 2_000
_NEVER: Final = frozenset({"entry", "clash", "note_reject", "erasure", "note_diff"})
_OF_FILES: Final = frozenset({"photo", "picture"})
_OF_NOTES: Final = frozenset({"note_file", "note_extra"})
JSON_COLUMNS: Final = {
    "calculation": ("given", "found", "rows", "uncertainties", "origins", "reasons"),
}
"""Columns of JSON whose texts people read."""
INSTANTS: Final = frozenset({"begun_at", "until_at", "done_at", "kept_at", "calculated_at", "read_at"})
"""Fields that are a moment in UTC, besides when a record was made."""
NAMES_A_RECORD: Final = {
    "join": ("one", "other"),
    "put_by": ("subject_id",),
    "calculation": ("subject_id",),
}
"""Columns with the id of a record that no field declares as a reference."""
_FOR_PROGRAMS: Final = {
    "put_by": frozenset({"code", "subject_table"}),
    "calculation": frozenset({"calculator", "subject_table", "package", "package_version"}),
    "bench_step": frozenset({"step"}),
    "bench_job": frozenset({"at_step"}),
    "picture": frozenset({"came_sha256"}),
    "note_file": frozenset({"sha256", "options", "entry", "name", "part"}),
    "note_extra": frozenset({"cells"}),
}
"""Texts that nobody wrote in words."""


def kinds_of_edition(*, with_files: bool, with_notes: bool) -> tuple[Kind, ...]:
    """The kinds of record in an edition; ``with_notes`` where it says from which sheet a row came."""
    left = _NEVER | (frozenset() if with_files else _OF_FILES) | (frozenset() if with_notes else _OF_NOTES)
    return tuple(kind for kind in KINDS if kind.name not in left)


def texts_of(kind: Kind) -> tuple[str, ...]:
    """The columns of a kind that hold words of people."""
    aside = {
        *INSTANTS,
        *JSON_COLUMNS.get(kind.name, ()),
        *NAMES_A_RECORD.get(kind.name, ()),
        *_FOR_PROGRAMS.get(kind.name, ()),
    }
    return tuple(field.name for field in kind.fields if field.kind == "text" and field.name not in aside)


def json_of(kind: Kind) -> tuple[str, ...]:
    """The columns of a kind with JSON in which words of people may be: also what was typed for a record."""
    return (*JSON_COLUMNS.get(kind.name, ()), *(("entered",) if kind.own else ()))


def references_of(kind: Kind) -> dict[str, str]:
    """The declared references of a kind: the table that each column names a record of."""
    return {
        field.name: BY_NAME[field.target].table for field in kind.fields if field.kind == "reference" and field.target
    }


def take_rows(source: sqlite3.Connection, aside: sqlite3.Connection, kinds: tuple[Kind, ...], with_files: bool) -> None:
    """Copy the rows of these kinds, which records are one, and the bytes of files where they are wanted."""
    for kind in kinds:
        _copy(source, aside, kind.table, columns_of(kind))
    _copy(source, aside, "one_with", ("kind", "id", "stands"))
    if with_files:
        for table in FILE_TABLES:
            names = [row[0] for row in aside.execute(f"SELECT name FROM pragma_table_info('{table}') ORDER BY cid")]
            _copy(source, aside, table, tuple(names))


def _copy(source: sqlite3.Connection, aside: sqlite3.Connection, table: str, columns: tuple[str, ...]) -> None:
    cursor = source.cursor()
    cursor.row_factory = None
    cursor.execute(f"SELECT {selected_columns('t', columns)} FROM main.{table} t")
    marks = ", ".join("?" * len(columns))
    while block := cursor.fetchmany(BLOCK_ROWS if table not in FILE_TABLES else 1):
        aside.executemany(f"INSERT INTO {table} ({', '.join(map(quoted, columns))}) VALUES ({marks})", block)


Row = dict[str, Any]


def rows_of(aside: sqlite3.Connection, kind: Kind) -> Iterator[tuple[int, Row]]:
    """The rows of a kind with their rowids, in blocks, so that they can be changed on the way."""
    columns = columns_of(kind)
    cursor = aside.cursor()
    cursor.row_factory = None
    last = -1
    asked = f"SELECT rowid, {selected_columns('t', columns)} FROM {kind.table} t WHERE rowid > ? ORDER BY rowid LIMIT ?"
    while block := cursor.execute(asked, (last, BLOCK_ROWS)).fetchall():
        for found in block:
            yield found[0], dict(zip(columns, found[1:], strict=True))
        last = block[-1][0]


def change_rows(aside: sqlite3.Connection, kind: Kind, change: Callable[[Row], None]) -> None:
    """Let every row of a kind be changed, and write those that were."""
    columns = columns_of(kind)
    sets = ", ".join(f"{quoted(name)} = ?" for name in columns)
    waiting: list[tuple[object, ...]] = []
    for rowid, row in rows_of(aside, kind):
        before = tuple(row.values())
        change(row)
        after = tuple(row[name] for name in columns)
        if after != before:
            waiting.append((*after, rowid))
        if len(waiting) >= BLOCK_ROWS:
            aside.executemany(f"UPDATE {kind.table} SET {sets} WHERE rowid = ?", waiting)
            waiting.clear()
    aside.executemany(f"UPDATE {kind.table} SET {sets} WHERE rowid = ?", waiting)
