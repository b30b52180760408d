"""The structure of a schema: columns, keys, checks and indexes, independent of the SQL text.

SQLite keeps the text of CREATE TABLE with later additions, so equal tables may differ in text.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Final, NamedTuple

from bevelbook.declare.late_pattern import late_pattern

_TEXTS_REMEMBERED: Final = 256
"""More than there are tables: the same are looked at again and again where files are compared."""
_SHADOWS: Final = ("_data", "_idx", "_docsize", "_config", "_content")
_WORD: Final = late_pattern(r"= '((?:[^']|'')*)'")
_QUOTED: Final = late_pattern(r"'(?:[^']|'')*'|\"((?:[^\"]|\"\")*)\"|\[([^\]]*)\]|\s+")


class TableColumn(NamedTuple):
    name: str
    type: str
    required: bool
    default: str | None
    key: int


class Reference(NamedTuple):
    column: str
    table: str
    target: str | None
    on_update: str
    on_delete: str


class Index(NamedTuple):
    """An index: columns with direction and collation, and the condition on its rows."""

    columns: tuple[tuple[str, bool, str], ...]
    unique: bool
    where: str


class TableStructure(NamedTuple):
    """One table; ``virtual`` is the SQL of a virtual table, such as a full-text index."""

    columns: tuple[TableColumn, ...]
    references: frozenset[Reference]
    checks: frozenset[str]
    indexes: tuple[tuple[str, Index], ...]
    strict: bool
    without_rowid: bool
    virtual: str | None

    def column(self, name: str) -> TableColumn | None:
        """A column by name."""
        return next((column for column in self.columns if column.name == name), None)

    def checks_of(self, name: str) -> frozenset[str]:
        """The checks that mention a column."""
        return frozenset(check for check in self.checks if re.search(rf"\b{re.escape(name)}\b", _outside_texts(check)))

    def words_of(self, name: str) -> tuple[str, ...]:
        """The words that a column's checks allow; empty if they name none."""
        checks = sorted(self.checks_of(name))
        return tuple(word.replace("''", "'") for check in checks for word in _WORD.findall(check))


def structure(connection: sqlite3.Connection) -> dict[str, TableStructure]:
    """All tables of a database by name, except SQLite's own and the data tables of full-text indexes."""
    cursor = connection.cursor()
    cursor.row_factory = None
    texts = dict(cursor.execute("SELECT name, sql FROM main.sqlite_master WHERE type = 'table'"))
    indexes = dict(cursor.execute("SELECT name, sql FROM main.sqlite_master WHERE type = 'index' AND sql NOT NULL"))
    virtual = {name for name, sql in texts.items() if sql.upper().startswith("CREATE VIRTUAL")}
    hidden = {name + shadow for name in virtual for shadow in _SHADOWS}
    flags = {
        name: (bool(strict), bool(without_rowid))
        for name, without_rowid, strict in cursor.execute(
            "SELECT name, wr, strict FROM pragma_table_list WHERE schema = 'main'"
        )
    }
    return {
        name: _table(cursor, name, sql, indexes, *flags[name], is_virtual=name in virtual)
        for name, sql in texts.items()
        if name not in hidden and not name.startswith(("sqlite_", "_sqlite_"))
    }


def _table(
    cursor: sqlite3.Cursor,
    name: str,
    sql: str,
    indexes: Mapping[str, str],
    strict: bool,
    without_rowid: bool,
    *,
    is_virtual: bool,
) -> TableStructure:
    columns = tuple(
        TableColumn(column, type_, bool(required), default, key)
        for column, type_, required, default, key in cursor.execute(
            'SELECT name, type, "notnull", dflt_value, pk FROM pragma_table_xinfo(?) ORDER BY cid', (name,)
        )
    )
    if is_virtual:
        return TableStructure(columns, frozenset(), frozenset(), (), strict, without_rowid, normalised(sql))
    references = frozenset(
        Reference(*row)
        for row in cursor.execute(
            'SELECT "from", "table", "to", on_update, on_delete FROM pragma_foreign_key_list(?)', (name,)
        )
    )
    return TableStructure(
        columns, references, _checks_in(sql), tuple(_indexes(cursor, name, indexes)), strict, without_rowid, None
    )


def _indexes(cursor: sqlite3.Cursor, table: str, texts: Mapping[str, str]) -> Iterator[tuple[str, Index]]:
    """The indexes of a table that were made by CREATE INDEX; ``texts`` are those of all, by name."""
    found = cursor.execute(
        "SELECT l.name, l.\"unique\" FROM pragma_index_list(?) l WHERE l.origin = 'c' ORDER BY l.name", (table,)
    ).fetchall()
    for name, unique in found:
        if name not in texts:
            continue
        sql = texts[name]
        columns = cursor.execute(
            'SELECT coalesce(name, \'\'), "desc", coll FROM pragma_index_xinfo(?) WHERE "key" ORDER BY seqno', (name,)
        )
        where = re.split(r"\bWHERE\b", sql, maxsplit=1, flags=re.IGNORECASE)[1:]
        shape = tuple((column, bool(downwards), collation) for column, downwards, collation in columns)
        yield name, Index(shape, bool(unique), normalised(where[0]) if where else "")


@lru_cache(_TEXTS_REMEMBERED)
def _checks_in(sql: str) -> frozenset[str]:
    return frozenset(checks(sql))


def checks(sql: str) -> Iterator[str]:
    """The conditions of every CHECK in a CREATE TABLE, with spaces and quotes normalised.

    >>> list(checks("CREATE TABLE t (a REAL CHECK (\\"a\\" >  0), b TEXT CHECK (b IN ('CHECK (x)', ')')))"))
    ['a > 0', "b IN ('CHECK (x)', ')')"]
    """
    blank = re.sub(r"'(?:[^']|'')*'", lambda text: "'" + "x" * (len(text[0]) - 2) + "'", sql)
    for start in re.finditer(r"\bCHECK\s*\(", blank, flags=re.IGNORECASE):
        depth = 1
        for place in range(start.end(), len(blank)):
            depth += {"(": 1, ")": -1}.get(blank[place], 0)
            if depth == 0:
                yield normalised(sql[start.end() : place])
                break


def normalised(sql: str) -> str:
    """SQL with single spaces and unquoted names; string literals are unchanged.

    >>> normalised("  \\"kind\\" IS NULL  OR kind = 'two  words' ")
    "kind IS NULL OR kind = 'two  words'"
    """

    def plain(found: re.Match[str]) -> str:
        text = found[0]
        if text.startswith("'"):
            return text
        return " " if text.isspace() else (found[1] or found[2] or "")

    return _QUOTED.sub(plain, sql).strip()


def _outside_texts(sql: str) -> str:
    return re.sub(r"'(?:[^']|'')*'", "''", sql)
