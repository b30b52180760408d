"""Which diffs a transaction touches: temporary triggers note them, so that no way of writing can forget to.

The triggers belong to the connection that writes and are not in the file. An import, which writes in bulk, names its
diffs itself.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from typing import Final

from bevelbook.facts.temporary_triggers import make_where_missing

_TABLE: Final = "touched"
_OF_A_BUILD: Final = "SELECT diff FROM builds WHERE id = {row}.build"
_BY: Final[dict[str, tuple[str, ...]]] = {
    "builds": ("SELECT {row}.diff",),
    "weighings": (_OF_A_BUILD,),
    "openings": (_OF_A_BUILD,),
    "run_diffs": (_OF_A_BUILD,),
    "blend_parts": (_OF_A_BUILD,),
    "seal_fittings": (_OF_A_BUILD,),
    "diffs": ("SELECT {row}.id",),
    "bench_jobs": ("SELECT {row}.diff",),
    "limits": ("SELECT id FROM diffs WHERE {row}.diff IS NULL OR id = {row}.diff",),
    "runs": ("SELECT b.diff FROM run_diffs x JOIN builds b ON b.id = x.build WHERE x.run = {row}.id",),
    "note_files": (
        "SELECT b.diff FROM weighings w JOIN builds b ON b.id = w.build WHERE w.note_file = {row}.id",
        "SELECT b.diff FROM runs r JOIN run_diffs x ON x.run = r.id JOIN builds b ON b.id = x.build "
        "WHERE r.note_file = {row}.id",
    ),
    "fluids": ("SELECT diff FROM builds WHERE fluid = {row}.id",),
    "bottles": ("SELECT diff FROM builds WHERE bottle = {row}.id",),
    "scales": (
        "SELECT diff FROM builds WHERE scale = {row}.id",
        "SELECT b.diff FROM weighings w JOIN builds b ON b.id = w.build WHERE w.scale = {row}.id",
        "SELECT b.diff FROM openings o JOIN builds b ON b.id = o.build WHERE o.scale = {row}.id",
    ),
}
"""For each table that facts depend on, how a row of it leads to diffs."""
_ONCE_FOLLOWED: Final = frozenset({"build_parts"})
"""Facts do not depend on these any more; that the triggers in the file say so costs a change of every file."""
TABLES: Final = frozenset(_BY) | _ONCE_FOLLOWED
"""The tables after whose change by another program all facts are worked out again."""
_ONLY_CHANGED: Final = frozenset({"runs", "note_files", "fluids", "bottles", "scales"})
"""A new row of these does not lead to a diff yet: what points to it is written later."""
_LEADS_TO_ALL: Final = "limits"
"""A row of it without a diff leads to all of them."""
_ONLY_COLUMN: Final = {"note_files": "name"}
"""Of these a change of one column alone is followed: a file that is imported again is written over, by its old name."""


def watch(connection: sqlite3.Connection) -> None:
    """Start noting which diffs are touched."""
    connection.execute(f"CREATE TEMP TABLE IF NOT EXISTS {_TABLE} (diff TEXT PRIMARY KEY NOT NULL) WITHOUT ROWID")
    connection.execute(f"DELETE FROM temp.{_TABLE}")
    make_where_missing(connection, _triggers())


def look_away(connection: sqlite3.Connection, tables: Iterable[str]) -> None:
    """Stop noting new rows of these tables until the transaction ends; their writer names the diffs.

    Even a trigger that does nothing costs a tenth of the time that a row takes.
    """
    for table in tables:
        connection.execute(f"DROP TRIGGER IF EXISTS temp.{_trigger('INSERT', table)}")


def touch(connection: sqlite3.Connection, diffs: Iterable[str]) -> None:
    """Note diffs by their ids, as an import does."""
    connection.executemany(f"INSERT OR IGNORE INTO temp.{_TABLE} VALUES (?)", ((diff,) for diff in diffs))


def touch_new_rows(connection: sqlite3.Connection, last_rowids: Mapping[str, int]) -> None:
    """Note the diffs of all rows of these tables after a rowid each, which were written without the triggers."""
    for table, last in last_rowids.items():
        for way in _BY.get(table, ()) if table not in _ONLY_CHANGED else ():
            diffs = (
                f"SELECT DISTINCT ({way.format(row='r')}) AS diff FROM main.{table} r WHERE r.rowid > ?1"
                if table != _LEADS_TO_ALL
                else f"SELECT id AS diff FROM diffs WHERE id IN (SELECT d.id FROM main.{table} r JOIN diffs d "
                "ON r.diff IS NULL OR d.id = r.diff WHERE r.rowid > ?1)"
            )
            connection.execute(
                f"INSERT OR IGNORE INTO temp.{_TABLE} SELECT diff FROM ({diffs}) WHERE diff IS NOT NULL", (last,)
            )


def diffs_of_file(connection: sqlite3.Connection, note_file: str) -> set[str]:
    """The ids of all diffs that have a record from a file of notes."""
    found = connection.execute(
        "SELECT diff FROM builds WHERE note_file = :file "
        "UNION SELECT b.diff FROM weighings w JOIN builds b ON b.id = w.build WHERE w.note_file = :file "
        "UNION SELECT b.diff FROM run_diffs x JOIN builds b ON b.id = x.build WHERE x.note_file = :file",
        {"file": note_file},
    )
    return {row[0] for row in found}


@cache
def _triggers() -> dict[str, str]:
    """The SQL of each trigger behind its name."""
    return dict(_each_trigger())


def _each_trigger() -> Iterator[tuple[str, str]]:
    for table, ways in _BY.items():
        events = [("UPDATE", ("OLD", "NEW")), ("DELETE", ("OLD",))]
        if table not in _ONLY_CHANGED:
            events.append(("INSERT", ("NEW",)))
        for event, rows in events:
            of = f" OF {_ONLY_COLUMN[table]}" if event == "UPDATE" and table in _ONLY_COLUMN else ""
            selects = [way.format(row=row) for way in ways for row in rows]
            yield (
                _trigger(event, table),
                f"AFTER {event}{of} ON main.{table} WHEN (SELECT bulk FROM writing) IS NULL BEGIN "
                + " ".join(f"INSERT OR IGNORE INTO {_TABLE} {select};" for select in dict.fromkeys(selects))
                + _gone(table, event)
                + " END",
            )


def _trigger(event: str, table: str) -> str:
    return f"touched_by_{event.lower()}_of_{table}"


_FACTS_OF: Final = {
    "builds": ("build_facts", "build"),
    "run_diffs": ("run_diff_facts", "run_diff"),
    "diffs": ("diff_facts", "diff"),
}


def _gone(table: str, event: str) -> str:
    """Facts are deleted with their record, and under its old id."""
    if event == "INSERT" or table not in _FACTS_OF:
        return ""
    facts, key = _FACTS_OF[table]
    is_gone = " AND NEW.id <> OLD.id" if event == "UPDATE" else ""
    return f" DELETE FROM {facts} WHERE {key} = OLD.id{is_gone};"
