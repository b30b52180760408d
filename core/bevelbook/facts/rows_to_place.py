"""Which diffs have note rows that may belong to another build now: temporary triggers note them, as for the facts.

A build that was added, changed or removed counts for the rows of its day and after it. A record that goes, or that no
longer refers to a build from notes, may have kept that build from being placed again: then all rows of the diff count.
The triggers belong to the connection that writes and are not in the file. An import places its diffs itself.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from functools import cache
from typing import Final

from bevelbook.facts.temporary_triggers import make_where_missing
from bevelbook.records import BY_NAME, KINDS, Kind

_TABLE: Final = "rows_to_place"
_BY_HAND: Final = "WHEN (SELECT bulk IS NULL AND placing IS NULL FROM writing)"
_ALL_DAYS: Final = "''"
_BUILDS: Final = {"INSERT": ("NEW",), "UPDATE": ("OLD", "NEW"), "DELETE": ("OLD",)}
_FOUND: Final = f"""
SELECT t.diff FROM (SELECT diff, min(day) AS day FROM temp.{_TABLE} GROUP BY diff) t
WHERE EXISTS (SELECT 1 FROM builds b WHERE b.diff = t.diff AND b.built_on >= t.day AND b.note_file IS NOT NULL)
   OR EXISTS (SELECT 1 FROM builds b CROSS JOIN weighings w ON w.build = b.id
              WHERE b.diff = t.diff AND w.note_file IS NOT NULL AND coalesce(w.weighed_on, '') >= t.day)
   OR EXISTS (SELECT 1 FROM builds b CROSS JOIN run_diffs x ON x.build = b.id CROSS JOIN runs r ON r.id = x.run
              WHERE b.diff = t.diff AND x.note_file IS NOT NULL AND r.run_on >= t.day)
ORDER BY t.diff
"""


def watch(connection: sqlite3.Connection) -> None:
    """Start noting which diffs have rows to place."""
    connection.execute(
        f"CREATE TEMP TABLE IF NOT EXISTS {_TABLE} (diff TEXT NOT NULL, day TEXT NOT NULL, PRIMARY KEY (diff, day)) "
        "WITHOUT ROWID"
    )
    clear(connection)
    make_where_missing(connection, _triggers())


def look_away(connection: sqlite3.Connection) -> None:
    """Stop noting new builds until the transaction ends, as an import does for the facts."""
    connection.execute("DROP TRIGGER IF EXISTS temp.to_place_by_insert_of_builds")


def clear(connection: sqlite3.Connection) -> None:
    """Forget what was noted: the rows were placed."""
    connection.execute(f"DELETE FROM temp.{_TABLE}")


def note_all_days(connection: sqlite3.Connection, diffs: Iterable[str]) -> None:
    """Note diffs (by id) whose rows of all days may belong to another build now."""
    connection.executemany(f"INSERT OR IGNORE INTO temp.{_TABLE} VALUES (?, {_ALL_DAYS})", ((one,) for one in diffs))


def are_any_builds_touched(connection: sqlite3.Connection) -> bool:
    """Whether any diff was noted, also one without note rows."""
    return connection.execute(f"SELECT 1 FROM temp.{_TABLE} LIMIT 1").fetchone() is not None


def diffs_with_rows_to_place(connection: sqlite3.Connection) -> list[str]:
    """The diffs (by id) that were noted and have note rows on those days."""
    return [row[0] for row in connection.execute(_FOUND)]


@cache
def _triggers() -> dict[str, str]:
    """The SQL of each trigger behind its name."""
    return dict(_each_trigger())


def _each_trigger() -> Iterator[tuple[str, str]]:
    for event, rows in _BUILDS.items():
        selects = [f"SELECT {row}.diff, {row}.built_on" for row in rows]
        if event != "INSERT":
            selects += _of_used(BY_NAME["build"])
        yield _trigger(event, "builds", selects)
    for kind in KINDS:
        selects = _of_used(kind) if kind.own and kind.name != "build" else []
        if kind.name == "run":
            selects.append(
                f"SELECT b.diff, {_ALL_DAYS} FROM run_diffs x JOIN builds b ON b.id = x.build "
                "WHERE x.run = OLD.id AND x.note_file IS NOT NULL"
            )
        if selects:
            yield from (_trigger(event, kind.table, selects) for event in ("UPDATE", "DELETE"))


def _of_used(kind: Kind) -> list[str]:
    """The diffs of the builds that a record of a kind referred to, where it or the build is from notes."""
    return [
        f'SELECT b.diff, {_ALL_DAYS} FROM builds b WHERE b.id = OLD."{field.name}" '
        "AND (OLD.note_file IS NOT NULL OR b.note_file IS NOT NULL)"
        for field in kind.fields
        if field.kind == "reference" and field.target == "build"
    ]


def _trigger(event: str, table: str, selects: list[str]) -> tuple[str, str]:
    noted = " ".join(f"INSERT OR IGNORE INTO {_TABLE} {select};" for select in selects)
    return f"to_place_by_{event.lower()}_of_{table}", f"AFTER {event} ON main.{table} {_BY_HAND} BEGIN {noted} END"
