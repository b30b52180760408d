"""The full-text search of each table: compared with its records, and refilled if it is wrong."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from itertools import zip_longest

from bevelbook.records import Kind
from bevelbook.store.schema import ALL_KINDS, quoted, search_fill_sql, search_sql, search_table

_WORDS = "SELECT term, doc, col, offset FROM temp.{}"
_TEMPORARY = ("words_held", "words_wanted", "search_wanted")


def wrong_searches(connection: sqlite3.Connection, kinds: Sequence[Kind] = ALL_KINDS) -> list[Kind]:
    """The kinds of record whose search does not match the words of their records. Writes nothing.

    The connection may be read-only: the correct search is made in a temporary table and compared word by word.
    """
    return [kind for kind in kinds if kind.searched and not _is_right(connection, kind)]


def _is_right(connection: sqlite3.Connection, kind: Kind) -> bool:
    index = search_table(kind)
    columns = ", ".join(map(quoted, kind.searched))
    try:
        wanted = search_sql(kind).replace(f"TABLE {index}", "TABLE temp.search_wanted")
        connection.execute(wanted.replace(f"content={quoted(kind.table)}", "content=''"))
        connection.execute(
            f"INSERT INTO temp.search_wanted (rowid, {columns}) SELECT rowid, {columns} FROM main.{kind.table}"
        )
        connection.execute("CREATE VIRTUAL TABLE temp.words_wanted USING fts5vocab(temp, search_wanted, instance)")
        return _holds(connection, index)
    finally:
        for name in _TEMPORARY:
            connection.execute(f"DROP TABLE IF EXISTS temp.{name}")


def _holds(connection: sqlite3.Connection, index: str) -> bool:
    """Whether an index holds the words of ``temp.words_wanted``; one that cannot be read does not."""
    cursors = connection.cursor(), connection.cursor()
    for cursor in cursors:
        cursor.row_factory = None
    try:
        connection.execute(f"CREATE VIRTUAL TABLE temp.words_held USING fts5vocab(main, {index}, instance)")
        held = cursors[0].execute(_WORDS.format("words_held"))
        wanted = cursors[1].execute(_WORDS.format("words_wanted"))
        return all(one == other for one, other in zip_longest(held, wanted)) and _has_same_lengths(connection, index)
    except sqlite3.DatabaseError as fault:
        if "locked" in str(fault) or "interrupted" in str(fault):
            raise
        return False
    finally:
        for cursor in cursors:
            cursor.close()


def _has_same_lengths(connection: sqlite3.Connection, index: str) -> bool:
    """Whether it knows of each row how many words it has: by that what is found is put in order."""
    held, wanted = f"main.{index}_docsize", "temp.search_wanted_docsize"
    return not connection.execute(
        f"SELECT EXISTS (SELECT id, sz FROM {held} EXCEPT SELECT id, sz FROM {wanted}) "
        f"OR EXISTS (SELECT id, sz FROM {wanted} EXCEPT SELECT id, sz FROM {held})"
    ).fetchone()[0]


def fill_search(connection: sqlite3.Connection, kind: Kind) -> None:
    """Make a table's search again from its records, inside the caller's transaction."""
    index = search_table(kind)
    try:
        connection.execute(f"INSERT INTO {index} ({index}) VALUES ('rebuild')")
        connection.execute(f"INSERT INTO {index} ({index}, rank) VALUES ('integrity-check', 1)")
    except sqlite3.DatabaseError:
        connection.execute(f"DROP TABLE IF EXISTS {index}")
        connection.execute(search_sql(kind))
        connection.execute(search_fill_sql(kind))
