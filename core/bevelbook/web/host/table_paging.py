"""How the pages of a table follow one another: the key that decides between equal rows, and what they go on behind.

Datasette goes on behind the last value of a page, as text in an address. A number and bytes are read back from it as
they were. A value of a column without a type is not, so the pages of a table with one are counted through, as those of
a view are.
"""

from __future__ import annotations

import sqlite3
from ast import literal_eval
from collections.abc import Mapping
from contextlib import suppress
from typing import Any, Final, NamedTuple

from bevelbook.facts.views import VIEWS
from bevelbook.records import BY_TABLE
from bevelbook.store.calculation_views import key_of_view
from bevelbook.web.host.private_datasette import TableStatement, escape_sqlite

_KEY_OF_VIEW: Final = {view.name: view.key for view in VIEWS}


class TablePaging(NamedTuple):
    """The key of a table or view, its columns with their types, and whether its pages are counted through."""

    key: tuple[str, ...]
    types: Mapping[str, str]
    counted_through: bool

    def in_order(self, statement: TableStatement, given: Any) -> tuple[str, Any]:
        """The statement of a page in a total order, with what it is given.

        The value to go on behind was written out in full; SQLite before 3.47 does not read every such number as it was.
        """
        goes_on = statement.continued_from
        if goes_on is not None:
            column, name = goes_on
            typed = {escape_sqlite(one): declared for one, declared in self.types.items()}
            given = {**given, name: _read_back(given.get(name), typed.get(column))}
        return statement.in_total_order(self.key), given


def paging_of(connection: sqlite3.Connection, table: str) -> TablePaging:
    """That of a table or view."""
    columns = _rows(connection, "SELECT name, type, pk FROM pragma_table_xinfo(?)", table)
    types = {name: declared.upper() for name, declared, _ in columns}
    key = tuple(name for name, _, place in sorted(columns, key=lambda column: column[2]) if place)
    if _is_view(connection, table):
        return TablePaging(_key_of_view(table, tuple(types)), types, True)
    return TablePaging(key or ("rowid",), types, not all(types.values()))


def definition_if_counted_through(connection: sqlite3.Connection, table: str) -> str | None:
    """The SQL of a table whose pages are counted through though it is a table of the file; None for any other."""
    found = _rows(connection, "SELECT sql FROM main.sqlite_master WHERE type = 'table' AND name = ?", table)
    return str(found[0][0]) if found and paging_of(connection, table).counted_through else None


def _read_back(value: object, declared: str | None) -> object:
    """A value as it was before it became text in an address; any other text stays as it is.

    >>> _read_back("0.30000000000000004", "REAL"), _read_back("b'a'", "BLOB"), _read_back("one", "REAL")
    (0.30000000000000004, b'a', 'one')
    """
    if isinstance(value, str) and declared in ("REAL", "BLOB"):
        with suppress(ValueError, SyntaxError):
            return float(value) if declared == "REAL" else literal_eval(value)
    return value


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
