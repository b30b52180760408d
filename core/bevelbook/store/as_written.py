"""References go by the record that stands for what they name, and keep what was written.

Where two records are one thing (``same_things``), the table ``one_with`` says which stands for it. Every reference to
the other shows the one that stands for it, and the table ``as_written`` has what was written: facts, look-ups, pages
and charts need to know nothing of it. Nobody changes a record by it: no version is made, and the history has what was
written. All of it follows from the records, and is worked out again here.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any, Final, NamedTuple

from bevelbook.declare.fields import Field
from bevelbook.facts import rows_to_place, touched_diffs
from bevelbook.facts.temporary_triggers import make_where_missing
from bevelbook.records import BY_NAME, KINDS, Kind
from bevelbook.store import told_apart
from bevelbook.store.same_things import StandsFor, said_in, stands_for, things_in
from bevelbook.store.schema import literal, quoted
from bevelbook.store.triggers import rewritten_sql

_TABLE: Final = "written_of_others"
REFERRING: Final = tuple(kind for kind in KINDS if kind.joined_references)
"""Kinds with references to what may be one thing under several ids."""


class _Column(NamedTuple):
    """One such reference."""

    kind: Kind
    field: Field

    @property
    def table(self) -> str:
        return self.kind.table

    @property
    def name(self) -> str:
        return quoted(self.field.name)

    @property
    def of_it(self) -> str:
        """SQL: the rows of ``as_written`` of this column."""
        return f"table_name = {literal(self.table)} AND column_name = {literal(self.field.name)}"

    @property
    def others(self) -> str:
        """SQL: the records for which others stand."""
        return f"SELECT id FROM main.one_with WHERE kind = {literal(self.field.target or '')}"

    def shown(self, written: str) -> str:
        """SQL of what is shown where ``written`` stands."""
        stands = f"SELECT stands FROM main.one_with WHERE kind = {literal(self.field.target or '')} AND id = {written}"
        return f"coalesce(({stands}), {written})"

    def is_there(self, written: str) -> str:
        """SQL: whether what was written is there; another program may have removed it."""
        return f"EXISTS (SELECT 1 FROM main.{BY_NAME[self.field.target or ''].table} x WHERE x.id = {written})"


class WrittenNowhere(NamedTuple):
    """Records, by id, in a reference of which another shows in the place of one that is not there any more."""

    kind: Kind
    column: str
    target: Kind
    row_ids: tuple[str, ...]


_COLUMNS: Final = tuple(_Column(kind, field) for kind in REFERRING for field in kind.joined_references)


def watch(connection: sqlite3.Connection) -> None:
    """Start noting whether a reference to a record is written for which another stands, where there is such a one, and
    which names are written."""
    told_apart.watch(connection)
    _watch_references(connection)


def _watch_references(connection: sqlite3.Connection) -> None:
    if connection.execute("SELECT EXISTS (SELECT 1 FROM one_with) OR EXISTS (SELECT 1 FROM as_written)").fetchone()[0]:
        connection.execute(f"CREATE TEMP TABLE IF NOT EXISTS {_TABLE} (one INTEGER PRIMARY KEY)")
        make_where_missing(connection, _triggers())


def look_away(connection: sqlite3.Connection, tables: Iterable[str]) -> None:
    """Stop noting new rows of these tables until the transaction ends: their writer names what stands for each, and
    gives them names that nothing has."""
    told_apart.look_away(connection)
    for table in tables:
        connection.execute(f"DROP TRIGGER IF EXISTS temp.{_trigger('insert', table)}")


@cache
def _triggers() -> dict[str, str]:
    """The SQL of each trigger behind its name."""
    return dict(one for kind in REFERRING for one in _triggers_of(kind))


def _triggers_of(kind: Kind) -> Iterator[tuple[str, str]]:
    columns = ", ".join(map(quoted, kind.shown_otherwise))
    new = ", ".join(f"NEW.{quoted(one.name)}" for one in kind.joined_references)
    noted = f"INSERT OR IGNORE INTO {_TABLE} SELECT 1 WHERE EXISTS (SELECT 1 FROM one_with WHERE id IN ({new}));"
    by_person = "WHEN (SELECT placing FROM writing) IS NULL"
    yield _trigger("insert", kind.table), f"AFTER INSERT ON main.{kind.table} {by_person} BEGIN {noted} END"
    yield (
        _trigger("update", kind.table),
        f"AFTER UPDATE OF {columns} ON main.{kind.table} {by_person} BEGIN {noted}{rewritten_sql(kind)} END",
    )


def _trigger(event: str, table: str) -> str:
    return f"written_by_{event}_of_{table}"


def follow_joins(connection: sqlite3.Connection) -> bool:
    """Work out again what follows from joins and names, where this transaction touched any of it; whether it did.

    Called after writing and before note rows are placed and facts are worked out; :func:`watch` came before.
    """
    stands = stands_for(things_in(connection), said_in(connection))
    is_touched = stands != _held(connection) or _is_noted(connection)
    if is_touched:
        _apply(connection, stands)
    if not told_apart.is_touched(connection):
        return is_touched
    with _nobody_changing(connection):
        return told_apart.tell_apart(connection) or is_touched


def apply_joins(connection: sqlite3.Connection) -> None:
    """Work all of it out again from the records, inside the caller's transaction.

    Where the transaction notes touched diffs, those that come together or part are among them.
    """
    _apply(connection, stands_for(things_in(connection), said_in(connection)))
    with _nobody_changing(connection):
        told_apart.tell_apart(connection, all_of_them=True)


def out_of_step(connection: sqlite3.Connection) -> int:
    """How many references, names, and records for which others stand differ from what follows from the records."""
    stands, held = stands_for(things_in(connection), said_in(connection)), _held(connection)
    differing = sum(stands.get(key) != held.get(key) for key in stands.keys() | held.keys())
    for column in _COLUMNS:
        (count,) = connection.execute(
            f"SELECT (SELECT count(*) FROM main.{column.table} t WHERE t.{column.name} IN ({column.others})) + "
            f"(SELECT count(*) FROM as_written a LEFT JOIN main.{column.table} t ON t.id = a.row_id "
            f"WHERE {column.of_it} AND {column.is_there('a.written')} AND (t.id IS NULL "
            f"OR t.{column.name} IS NOT {column.shown('a.written')} OR {column.shown('a.written')} = a.written))"
        ).fetchone()
        differing += count
    return differing + told_apart.not_told_apart(connection)


def written_nowhere(connection: sqlite3.Connection) -> Iterator[WrittenNowhere]:
    """The references that were written with a record that is not there, which only another program can have removed.

    No foreign key finds them, as they show another record in its place.
    """
    for column in _COLUMNS:
        found = connection.execute(
            f"SELECT row_id FROM as_written WHERE {column.of_it} AND NOT {column.is_there('written')} "
            "ORDER BY table_name, row_id"
        ).fetchall()
        if found:
            target = BY_NAME[column.field.target or ""]
            yield WrittenNowhere(column.kind, column.field.name, target, tuple(row[0] for row in found))


def written_references(
    connection: sqlite3.Connection, kind: Kind, row_ids: Collection[str]
) -> dict[str, dict[str, Any]]:
    """What was written where records show something else, by the record's id and the column: references to what is one
    with another record, and names that two have."""
    found: dict[str, dict[str, Any]] = {}
    if kind.shown_otherwise:
        for row_id, column, written in connection.execute(
            "SELECT row_id, column_name, written FROM as_written WHERE table_name = ? "
            "AND row_id IN (SELECT value FROM json_each(?))",
            (kind.table, json.dumps(list(row_ids))),
        ):
            found.setdefault(row_id, {})[column] = written
    return found


def _held(connection: sqlite3.Connection) -> StandsFor:
    return {(kind, row_id): stands for kind, row_id, stands in connection.execute("SELECT * FROM one_with")}


def _is_noted(connection: sqlite3.Connection) -> bool:
    return _is_temporary(connection, _TABLE) and bool(
        connection.execute(f"SELECT count(*) FROM temp.{_TABLE}").fetchone()[0]
    )


def _is_temporary(connection: sqlite3.Connection, table: str) -> bool:
    found = connection.execute("SELECT 1 FROM temp.sqlite_master WHERE type = 'table' AND name = ?", (table,))
    return found.fetchone() is not None


def _apply(connection: sqlite3.Connection, stands: StandsFor) -> None:
    held = _held(connection)
    changed = {key for key in stands.keys() | held.keys() if stands.get(key) != held.get(key)}
    connection.executemany("DELETE FROM one_with WHERE kind = ? AND id = ?", sorted(changed & held.keys()))
    connection.executemany(
        "INSERT INTO one_with (kind, id, stands) VALUES (?, ?, ?)",
        [(*key, stands[key]) for key in sorted(changed & stands.keys())],
    )
    if stands or connection.execute("SELECT EXISTS (SELECT 1 FROM as_written)").fetchone()[0]:
        with _nobody_changing(connection):
            for column in _COLUMNS:
                _show(connection, column)
    if _is_temporary(connection, _TABLE):
        connection.execute(f"DELETE FROM temp.{_TABLE}")
    diffs = {row_id for kind, row_id in changed if kind == "diff"}
    diffs |= {now for key in changed if key[0] == "diff" for now in (stands.get(key), held.get(key)) if now}
    _touch(connection, diffs)
    _watch_references(connection)


@contextmanager
def _nobody_changing(connection: sqlite3.Connection) -> Iterator[None]:
    """For the duration, what is written makes no version, and search and facts follow it, also in a block."""
    placing, bulk = connection.execute("SELECT placing, bulk FROM writing").fetchone() or (None, None)
    connection.execute("UPDATE writing SET placing = 1, bulk = NULL")
    try:
        yield
    finally:
        connection.execute("UPDATE writing SET placing = ?, bulk = ?", (placing, bulk))


def _show(connection: sqlite3.Connection, column: _Column) -> None:
    """Have one reference of all records show what stands for what was written in it."""
    written = f"SELECT row_id FROM as_written WHERE {column.of_it}"
    if connection.execute(f"SELECT 1 FROM as_written WHERE {column.of_it} LIMIT 1").fetchone() is not None:
        connection.execute(
            f"DELETE FROM as_written WHERE {column.of_it} AND row_id NOT IN (SELECT id FROM main.{column.table})"
        )
        shown = column.shown("a.written")
        connection.execute(
            f"UPDATE main.{column.table} SET {column.name} = w.shown FROM (SELECT a.row_id, {shown} AS shown "
            f"FROM as_written a WHERE {column.of_it} AND {column.is_there('a.written')}) w "
            f"WHERE id IN ({written}) AND id = w.row_id AND {column.name} IS NOT w.shown"
        )
        connection.execute(
            f"DELETE FROM as_written WHERE {column.of_it} AND {column.shown('written')} = written "
            f"AND {column.is_there('written')}"
        )
    # Asked first: to compile the change with all its triggers takes far longer than to see that there is none.
    others = f"main.{column.table} WHERE {column.name} IN ({column.others})"
    if connection.execute(f"SELECT 1 FROM {others} LIMIT 1").fetchone() is None:
        return
    connection.execute(
        f"INSERT OR IGNORE INTO as_written (table_name, row_id, column_name, written) "
        f"SELECT {literal(column.table)}, id, {literal(column.field.name)}, {column.name} FROM {others}"
    )
    connection.execute(
        f"UPDATE main.{column.table} SET {column.name} = {column.shown(column.name)} "
        f"WHERE {column.name} IN ({column.others})"
    )


def _touch(connection: sqlite3.Connection, diffs: set[str]) -> None:
    """Have facts and note rows of diffs that came together or parted be worked out again."""
    if not diffs:
        return
    others = "SELECT id FROM one_with WHERE kind = 'diff'"
    connection.execute(f"DELETE FROM diff_facts WHERE diff IN ({others})")
    if _is_temporary(connection, "touched"):
        touched_diffs.touch(connection, sorted(diffs))
    if _is_temporary(connection, "rows_to_place"):
        rows_to_place.note_all_days(connection, sorted(diffs))
