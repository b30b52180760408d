"""What a database holds, table by table, as counts and one hash: by that a copy is held against what it was made of."""

from __future__ import annotations

import marshal
import sqlite3
from collections.abc import Iterator, Mapping
from hashlib import sha256
from pathlib import Path
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.meeting.their_schema import tables_of_step
from bevelbook.records import BY_NAME, KINDS
from bevelbook.store.damaged_pages import damaged_pages, is_about_a_value
from bevelbook.store.last_step import LAST_STEP
from bevelbook.store.schema import ALL_KINDS, FILE_TABLES, quoted
from bevelbook.store.values_refused import values_refused
from bevelbook.store.version_chains import broken_chains

_FORM: Final = 2
"""The form in which marshal writes a row: equal rows give equal bytes up to this one."""
_ALL: Final = 1_000_000
"""So many sentences of SQLite are read: values in the wrong place never hide a damaged page behind them."""
_PLAIN: Final = ("history", "about", "as_written", "also_called")
_ENOUGH: Final = 3
"""How many of SQLite's sentences about a damaged file are repeated."""


class HeldContent(NamedTuple):
    """The rows of each table, and a hash over all of them."""

    rows: Mapping[str, int]
    digest: str


def held_content(connection: sqlite3.Connection) -> HeldContent:
    """What is in every table of the file, read row by row, so that memory does not grow with it. Raises sqlite3.Error.

    Virtual tables are left out: what they are made of lies in plain tables beside them.
    """
    kept, connection.text_factory = connection.text_factory, bytes
    try:
        cursor = connection.cursor()
        cursor.row_factory = None
        listed = cursor.execute(
            "SELECT name FROM main.sqlite_master WHERE type = 'table' AND sql NOT LIKE 'CREATE VIRTUAL%' ORDER BY name"
        )
        rows: dict[str, int] = {}
        whole = sha256()
        for name in [str(row[0], "utf-8") for row in listed.fetchall()]:
            whole.update(name.encode())
            count = 0
            for row in cursor.execute(f"SELECT * FROM main.{quoted(name)} NOT INDEXED"):
                whole.update(marshal.dumps(row, _FORM))
                count += 1
            rows[name] = count
        return HeldContent(rows, whole.hexdigest())
    finally:
        connection.text_factory = kept


class FaultsHeld(NamedTuple):
    """What is wrong with what a file holds, though all of it can be read: values that the tables do not take,
    references to what is gone, and records whose versions do not hang together. A copy has it too."""

    values: int = 0
    references: int = 0
    versions: int = 0

    @property
    def are_any(self) -> bool:
        """Whether there is any."""
        return any(self)

    def words(self) -> Iterator[str]:
        """Each of them, for people."""
        if self.references:
            refers = "refers" if self.references == 1 else "refer"
            yield f"{counted(self.references, 'row')} {refers} to something that is gone"
        if self.values:
            does = "does" if self.values == 1 else "do"
            yield f"{counted(self.values, 'value')} {does} not belong where {'it is' if does == 'does' else 'they are'}"
        if self.versions:
            does = "does" if self.versions == 1 else "do"
            yield f"the past of {counted(self.versions, 'record')} {does} not hang together"


def refuse_unsound(connection: sqlite3.Connection, path: Path, remedy: str) -> int:
    """Raise DatabaseError ("damaged") where SQLite finds the file not whole, or a table of records is missing; else
    how many values do not belong where they are. Raises sqlite3.Error."""
    found = damaged_pages(connection, _ALL)
    damage = [one for one in found if not is_about_a_value(one)]
    missing = sorted(_tables_needed(connection) - _tables_there(connection)) if not damage else []
    damage += [f"the table {one} is missing" for one in missing]
    if damage:
        raise DatabaseError(
            "the file is damaged",
            code="damaged",
            place=Place(str(path)),
            found="; ".join(damage[:_ENOUGH]),
            remedy=remedy,
        )
    return len(found)


def faults_held(connection: sqlite3.Connection, values: int) -> FaultsHeld:
    """What is wrong with what a whole file holds; ``values`` is what :func:`refuse_unsound` found. Of an older version
    the versions, and what a CHECK refuses, are not looked at. Raises sqlite3.Error."""
    references = sum(1 for _ in connection.execute("PRAGMA main.foreign_key_check"))
    if _step_of(connection) != LAST_STEP:
        return FaultsHeld(values, references)
    kept, connection.row_factory = connection.row_factory, sqlite3.Row
    try:
        there = _tables_there(connection)  # one that follows from others may be missing: it is made again
        refused = sum(1 for kind in ALL_KINDS if kind.table in there for _ in values_refused(connection, kind))
        versions = sum(1 for _ in broken_chains(connection)) if BY_NAME["clash"].table in there else 0
        return FaultsHeld(max(values, refused), references, versions)
    finally:
        connection.row_factory = kept


def _step_of(connection: sqlite3.Connection) -> int:
    return int(connection.execute("PRAGMA main.user_version").fetchone()[0])


def _tables_needed(connection: sqlite3.Connection) -> set[str]:
    """The tables with what people wrote, at the step of a file."""
    step = _step_of(connection)
    if step == LAST_STEP:
        return {*(kind.table for kind in KINDS if not kind.derived), *_PLAIN, *FILE_TABLES}
    return set(tables_of_step(step)) if 0 < step < LAST_STEP else set()


def _tables_there(connection: sqlite3.Connection) -> set[str]:
    return {str(row[0]) for row in connection.execute("SELECT name FROM main.sqlite_master WHERE type = 'table'")}
