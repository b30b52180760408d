"""What is read through a view is read as this version declares it, whatever the file says of that view.

A view holds nothing, so a reader needs none of those in the file. Where one differs, is missing or is something else,
temporary views with the declared texts hide all of them. They are gone with the connection; the file stays as it is.
"""

from __future__ import annotations

import re
import sqlite3
from typing import Final

from bevelbook.declare.errors import DatabaseError
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.facts.views import view_sql
from bevelbook.store.schema import ALL_KINDS

_CREATE: Final = "CREATE VIEW "
_WORKED_OUT: Final = late_pattern(r"\bAS\b", re.IGNORECASE)
_TEXT: Final = late_pattern(r"'(?:[^']|'')*'")
_TABLES: Final = frozenset(kind.table for kind in ALL_KINDS)


def read_through_own_views(connection: sqlite3.Connection) -> bool:
    """Hide the views of the file where any is not as declared; True where that was done.

    Raises DatabaseError where a table of records is a view, or works out a column in place of holding it.
    """
    cursor = connection.cursor()
    cursor.row_factory = None
    wanted = {sql.split(maxsplit=3)[2]: sql for sql in view_sql()}
    held = {}
    for sort, name, sql in cursor.execute(
        "SELECT type, name, sql FROM main.sqlite_master WHERE type IN ('view', 'table')"
    ).fetchall():
        if name in wanted:
            held[name] = sql if sort == "view" else None
        elif name.casefold() in _TABLES and (
            sort == "view" or not sql.startswith("CREATE TABLE") or _WORKED_OUT.search(_TEXT.sub("", sql))
        ):
            raise DatabaseError(
                f"{name} in it is not the table that it has to be",
                code="schema_changed",
                found=sql,
                remedy="Another program changed how this database is made. Go back to a backup copy, or take its rows "
                "out into a new one: 'bevelbook export --rescue FOLDER'.",
            )
    if held == wanted:
        return False
    for sql in wanted.values():
        cursor.execute(f"CREATE TEMP VIEW {sql.removeprefix(_CREATE)}")
    return True
