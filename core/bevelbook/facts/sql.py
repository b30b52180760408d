"""Rows of a query as dictionaries, with any row factory of the connection, and the types that numbers have in SQL."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    import sqlite3

Row = dict[str, Any]

SQL_TYPE: Final = {"quantity": "REAL", "whole": "INTEGER"}
"""Of each kind of field that holds numbers; every other is text."""


def rows(connection: sqlite3.Connection, sql: str, given: Sequence[object] | Mapping[str, object] = ()) -> list[Row]:
    """The result of a query, row by row."""
    cursor = connection.execute(sql, given)
    names = [column[0] for column in cursor.description]
    return [dict(zip(names, row, strict=True)) for row in cursor]
