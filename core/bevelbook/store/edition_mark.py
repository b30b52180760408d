"""The mark of an edition: a copy for others, which nobody writes to. A row of ``about`` says what was left out.

It stays with the file and goes nowhere else: a database that begins with an edition is one to write to.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Final

from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.declare.in_command import in_command

EDITION: Final = "edition"
PEOPLE: Final = "people"
DAYS: Final = "days"
_ALL: Final = "with people and days"
_WITHOUT: Final = "without "
END_OF_DAY: Final = "T23:59:59.999Z"
"""What follows the day in the moment of what an edition does not say when it was written."""


def edition_of(connection: sqlite3.Connection, schema: str = "main") -> frozenset[str] | None:
    """What an edition was made without: ``PEOPLE``, ``DAYS``, both or neither; None for a database that is none.

    Raises sqlite3.Error.
    """
    if not connection.execute(
        f"SELECT 1 FROM {schema}.sqlite_master WHERE type = 'table' AND name = 'about'"
    ).fetchone():
        return None
    row = connection.execute(f"SELECT value FROM {schema}.about WHERE name = ?", (EDITION,)).fetchone()
    if row is None:
        return None
    return frozenset(one for one in (PEOPLE, DAYS) if one in str(row[0]).removeprefix(_WITHOUT).split(", "))


def file_came_with_edition_sql(row: str) -> str:
    """SQL for whether a row of ``note_files`` came with an edition, which leaves out its entry, how it was read and
    what of it was left out; it stays so until the file is read again.

    >>> file_came_with_edition_sql("f")
    "(f.entry IS NULL AND f.options IS NULL AND f.read_at LIKE '%T23:59:59.999Z')"
    """
    return f"({row}.entry IS NULL AND {row}.options IS NULL AND {row}.read_at LIKE '%{END_OF_DAY}')"


def is_version_of_edition_sql(version: str, parents: str, row_id: str) -> str:
    """SQL for whether a version is one that an edition made from what a record says: the first one, without a day and
    with another name than its record has."""
    return f"({parents} IS NULL AND {version} LIKE '00000000-0000-8%' AND {version} <> {row_id})"


def edition_value(without: frozenset[str]) -> str:
    """The same as the row of ``about`` has it.

    >>> edition_value(frozenset({"people", "days"})), edition_value(frozenset())
    ('without days, people', 'with people and days')
    """
    return f"{_WITHOUT}{', '.join(sorted(without))}" if without else _ALL


def refuse_edition(connection: sqlite3.Connection, path: Path) -> None:
    """Raise DatabaseError where a database that is to be written to is an edition."""
    if edition_of(connection) is not None:
        raise DatabaseError(
            "this is an edition, a copy to read: nothing is written into it",
            code="is_edition",
            place=Place(str(path)),
            remedy="Start a database of your own with what it holds: "
            f"'bevelbook --db mine.db new --from {in_command(str(path))}'.",
        )
