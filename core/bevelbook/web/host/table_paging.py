"""How the pages of a table follow one another: the key that decides between equal rows, and what they go on behind.

Datasette goes on behind the last value of a page, as text in an address. A value without a type, or of bytes, does not
come back from there as it was, so the pages of a table with such a column are counted through, as those of a view are.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Any, Final, NamedTuple

from bevelbook.facts.views import VIEWS
from bevelbook.records import BY_TABLE
from bevelbook.store.calculations import key_of_view
from bevelbook.web.host.private_datasette import TableStatement, escape_sqlite

_KEY_OF_VIEW: Final = {view.name: view.key for view in VIEWS}
_OUT_OF_TEXT: Final = ("INT", "CHAR", "CLOB", "TEXT", "REAL", "FLOA", "DOUB")
"""What the type of a column holds whose values come back from text as they were."""


class TablePaging(NamedTuple):
    """The key of a table or view, its columns with their types, and whether its pages are counted through."""

    key: tuple[str, ...]
    types: Mapping[str, str]
    counted_through: bool

    def in_order(self, statement: TableStatement, given: Any) -> tuple[str, Any]:
        """The statement of a page in a total order, with what it is given.

        A value to go on behind was written out in full, and SQLite does not read every such number as it was.
        """
        goes_on = statement.continued_from
        if goes_on is not None:
            column, name = goes_on
            typed = {escape_sqlite(one): declared for one, declared in self.types.items()}
            if typed.get(column) == "REAL" and isinstance(given.get(name), str):
                given = {**given, name: float(given[name])}
        return statement.in_total_order(self.key), given


def paging_of(connection: sqlite3.Connection, table: str) -> TablePaging:
    """That of a table or view."""
    columns = _rows(connection, "SELECT name, type, pk FROM pragma_table_xinfo(?)", table)
    types = {name: declared.upper() for name, declared, _ in columns}
    key = tuple(name for name, _, place in sorted(columns, key=lambda column: column[2]) if place)
    if _is_view(connection, table):
        return TablePaging(_key_of_view(table, tuple(types)), types, True)
    untyped = any(not any(known in declared for known in _OUT_OF_TEXT) for declared in types.values())
    return TablePaging(key or ("rowid",), types, untyped)


def definition_if_counted_through(connection: sqlite3.Connection, table: str) -> str | None:
    """The SQL of a table whose pages are counted through though it is a table of the file; None for any other."""
    found = _rows(connection, "SELECT sql FROM main.sqlite_master WHERE type = 'table' AND name = ?", table)
    return str(found[0][0]) if found and paging_of(connection, table).counted_through else None


def _is_view(connection: sqlite3.Connection, table: str) -> bool:
    """Whether the name stands for a view, also for one that hides a table from this connection."""
    asked = "SELECT 1 FROM (SELECT * FROM temp.sqlite_master UNION ALL SELECT * FROM main.sqlite_master) "
    return bool(_rows(connection, f"{asked} WHERE type = 'view' AND name = ?", table))


def _key_of_view(view: str, columns: tuple[str, ...]) -> tuple[str, ...]:
    if view in BY_TABLE:
        return ("id",)
    return _KEY_OF_VIEW.get(view) or key_of_view(view, columns) or columns


def _rows(connection: sqlite3.Connection, sql: str, name: str) -> list[Any]:
    cursor = connection.cursor()
    cursor.row_factory = None
    return cursor.execute(sql, (name,)).fetchall()
