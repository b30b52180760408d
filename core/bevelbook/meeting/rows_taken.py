"""Rows out of a copy of somebody else's database into a clean one, by declared columns alone.

The connection to the copy may read these and nothing else. A value has the type that its column declares, a text is
UTF-8 without NUL, and the whole is at most what the file has room for: rows come in the order of their keys, each
once, so that pages that point to each other can not go on for ever.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from functools import cache
from pathlib import Path
from time import monotonic
from typing import Any, Final

from bevelbook.declare.errors import DatabaseError
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.meeting.refusing import refuse_damaged, refuse_row, refuse_too_big
from bevelbook.meeting.their_schema import OurTable
from bevelbook.records import BY_TABLE
from bevelbook.store.schema import quoted
from bevelbook.store.sqlite_errors import explained
from bevelbook.store.text_not_utf8 import is_undecoded

LONGEST_BYTES: Final = 60_000_000
"""Of one value, a kept file or a picture; of a row too."""
LIMITS: Final = {
    sqlite3.SQLITE_LIMIT_LENGTH: LONGEST_BYTES,
    sqlite3.SQLITE_LIMIT_SQL_LENGTH: 1_000_000,
    sqlite3.SQLITE_LIMIT_COLUMN: 500,
    sqlite3.SQLITE_LIMIT_EXPR_DEPTH: 500,
    sqlite3.SQLITE_LIMIT_VDBE_OP: 250_000,
    sqlite3.SQLITE_LIMIT_VARIABLE_NUMBER: 500,
    sqlite3.SQLITE_LIMIT_ATTACHED: 0,
    sqlite3.SQLITE_LIMIT_TRIGGER_DEPTH: 0,
    sqlite3.SQLITE_LIMIT_WORKER_THREADS: 0,
}
_DEFENSIVE: Final = 1010
"""SQLITE_DBCONFIG_DEFENSIVE (sqlite.org/c3ref/c_dbconfig_defensive.html)."""
_BLOCK: Final = 500
_OPERATIONS: Final = 200_000
_TYPES: Final[Mapping[str, type[Any]]] = {"TEXT": str, "REAL": float, "INTEGER": int, "BLOB": bytes}
_NONE: Final = type(None)
SECONDS_FOR_ANY: Final = 120.0
SECONDS_PER_MB: Final = 1.0
"""How long reading may take: a hundred times what a sound file needs on a small machine; our own figures."""


def limit(connection: sqlite3.Connection) -> None:
    """Set on a connection to a copy what no sound database reaches, and that nothing of its schema is trusted."""
    for name, most in LIMITS.items():
        connection.setlimit(name, most)
    setconfig = getattr(connection, "setconfig", None)
    if setconfig is not None:  # from Python 3.12 on
        setconfig(_DEFENSIVE, True)
    if _may_distrust():
        connection.execute("PRAGMA trusted_schema = OFF")
    connection.execute("PRAGMA cell_size_check = ON")
    connection.execute("PRAGMA mmap_size = 0")


@cache
def _may_distrust() -> bool:
    """Whether our own tables can be read without trusting a schema: SQLite before 3.41 refuses json_valid() then.

    Nothing of a schema is worked out in either case; this only bars the way once more.
    """
    with closing(sqlite3.connect(":memory:")) as connection:
        connection.execute("PRAGMA trusted_schema = OFF")
        try:
            connection.execute("CREATE TABLE t (a TEXT CHECK (json_valid(a)))")
        except sqlite3.Error:
            return False
    return True


@contextmanager
def within_time(connection: sqlite3.Connection, size_bytes: int, path: Path) -> Iterator[None]:
    """Stop what takes longer than any sound file of that size. Raises DatabaseError, for errors of SQLite as well;
    sqlite3.Error where the disk takes no more of what is written."""
    seconds = SECONDS_FOR_ANY + SECONDS_PER_MB * size_bytes / 1e6
    until = monotonic() + seconds
    connection.set_progress_handler(lambda: monotonic() > until, _OPERATIONS)
    try:
        yield
    except sqlite3.Error as fault:
        if "interrupted" in str(fault):
            raise refuse_too_big(
                path, "reading it takes too long", wanted=f"at most {seconds:,.0f} seconds for its size"
            ) from fault
        if "too big" in str(fault):
            raise refuse_too_big(
                path, "a value in it is too long", wanted=f"at most {LONGEST_BYTES / 1e6:g} MB"
            ) from fault
        said = explained(fault, Path(path.name))
        if said.code == "disk_full":  # nothing is written to what was sent
            raise
        if said.code not in ("locked", "disk_fault"):
            raise refuse_damaged(path, found=str(fault)) from fault
        raise said from fault
    except UnicodeDecodeError as fault:  # a message of SQLite that quotes a damaged name
        raise refuse_damaged(path, "its list of tables is damaged") from fault
    finally:
        connection.set_progress_handler(None, 0)


def only_check(connection: sqlite3.Connection) -> None:
    """Let the connection read its list of tables, its settings, and look for damaged pages; in the checks of our own
    tables, which this works out, there are only functions that every SQLite has.
    """
    allowed = (sqlite3.SQLITE_SELECT, sqlite3.SQLITE_READ)

    def may(action: int, first: str | None, second: str | None, _database: str | None, inside: str | None) -> int:
        if action == sqlite3.SQLITE_FUNCTION:
            return sqlite3.SQLITE_OK if second in IN_OUR_CHECKS else sqlite3.SQLITE_DENY
        if action == sqlite3.SQLITE_PRAGMA:
            return sqlite3.SQLITE_OK if first in _LOOKING else sqlite3.SQLITE_DENY
        return sqlite3.SQLITE_OK if action in allowed and inside is None else sqlite3.SQLITE_DENY

    connection.set_authorizer(may)


IN_OUR_CHECKS: Final = frozenset({"json_valid", "date", "abs"})
_LOOKING: Final = frozenset({"application_id", "user_version", "encoding", "integrity_check", "quick_check"})


def only_read(connection: sqlite3.Connection, tables: Mapping[str, OurTable]) -> None:
    """Let the connection read the declared columns of these tables, and do nothing else."""
    columns = {name: {column.name for column in table.structure.columns} for name, table in tables.items()}

    def may(action: int, first: str | None, second: str | None, database: str | None, inside: str | None) -> int:
        if action == sqlite3.SQLITE_SELECT and inside is None:
            return sqlite3.SQLITE_OK
        is_ours = first in columns and (not second or second in columns[first] or second == "ROWID")
        is_asked = action == sqlite3.SQLITE_READ and inside is None and database in (None, "", "main")
        return sqlite3.SQLITE_OK if is_asked and is_ours else sqlite3.SQLITE_DENY

    connection.set_authorizer(may)


def take_rows(
    theirs: sqlite3.Connection, clean: sqlite3.Connection, tables: Mapping[str, OurTable], size_bytes: int, path: Path
) -> None:
    """Copy all rows of these tables into tables of the same name. Raises DatabaseError, sqlite3.Error."""
    room = [size_bytes]
    for name, table in tables.items():
        columns = [column.name for column in table.structure.columns]
        types = [_TYPES[column.type] for column in table.structure.columns]
        has_rowid = not table.structure.without_rowid
        keyed = [(column.key, number) for number, column in enumerate(table.structure.columns) if column.key]
        key = [number for _, number in sorted(keyed)]
        is_rowid = has_rowid and any(types[number] is int for number in key)
        written = [*(["rowid"] if has_rowid and not is_rowid else []), *columns]
        listed = ", ".join(f"{name}.{quoted(column)}" for column in columns)
        asked = f"SELECT {f'{name}.rowid' if has_rowid else 'NULL'}, {listed} FROM main.{name} NOT INDEXED"
        put = f"INSERT INTO {name} ({', '.join(map(quoted, written))}) VALUES ({', '.join('?' * len(written))})"
        before: tuple[Any, ...] | None = None
        first = 0 if len(written) > len(columns) else 1
        texts = [number for number, type_ in enumerate(types, start=1) if type_ is str]
        for block in _blocks(theirs, asked, texts, name, path):
            before = _refuse_other_order(block, before, [0] if has_rowid else [one + 1 for one in key], name, path)
            _refuse_values(block, columns, types, room, name, path)
            rows = block if first == 0 else [row[1:] for row in block]
            _put(clean, put, written, rows, name, path)


def _blocks(
    connection: sqlite3.Connection, asked: str, texts: Sequence[int], table: str, path: Path
) -> Iterator[list[tuple[Any, ...]]]:
    cursor = connection.cursor()
    cursor.row_factory = None
    try:
        cursor.execute(asked)
        while block := cursor.fetchmany(_BLOCK):
            yield block
    except sqlite3.Error as fault:
        if is_undecoded(fault):
            raise _not_utf8(connection, asked, texts, table, path) from fault
        raise
    finally:
        cursor.close()


def _refuse_other_order(
    block: Sequence[tuple[Any, ...]], before: tuple[Any, ...] | None, key: Sequence[int], table: str, path: Path
) -> tuple[Any, ...]:
    """Keys rise from row to row, as SQLite keeps them: a row that does not belong there is a damaged page."""
    for row in block:
        here = tuple(row[number] for number in key)
        try:
            is_after = before is None or before < _bytes_of(here)
        except TypeError as fault:
            raise refuse_damaged(path, f"a key of the table {table} is damaged") from fault
        if not is_after:
            raise refuse_damaged(path, f"the rows of the table {table} are not in order, as in a damaged file")
        before = _bytes_of(here)
    assert before is not None
    return before


def _bytes_of(key: tuple[Any, ...]) -> tuple[Any, ...]:
    return tuple(part.encode() if isinstance(part, str) else part for part in key)


def _refuse_values(
    block: Sequence[tuple[Any, ...]],
    columns: Sequence[str],
    types: Sequence[type[Any]],
    room: list[int],
    table: str,
    path: Path,
) -> None:
    """A type other than the column's, NUL in a text, and more than the file has room for."""
    for number, (column, values) in enumerate(zip(columns, list(zip(*block, strict=True))[1:], strict=True)):
        kinds = set(map(type, values)) - {_NONE}
        if not kinds:
            continue
        if kinds != {types[number]}:
            row = next(row for row in block if type(row[number + 1]) not in (types[number], _NONE))
            found = type(row[number + 1]).__name__
            raise refuse_row(
                path,
                table,
                row[1],
                f"has a {_WORDS.get(found, found)} in {column} where a {_WORDS[types[number].__name__]} belongs",
            )
        if types[number] in (str, bytes):
            texts = [value for value in values if value is not None]
            room[0] -= sum(map(len, texts))
            if types[number] is str and "\0" in "".join(texts):
                row = next(row for row in block if row[number + 1] is not None and "\0" in row[number + 1])
                raise refuse_row(path, table, row[1], f"has the character NUL in {column}")
    if room[0] < 0:
        raise refuse_damaged(path, "it claims to hold more than its size has room for, as a damaged file does")


_WORDS: Final = {"str": "text", "int": "whole number", "float": "number", "bytes": "file"}


def _put(
    clean: sqlite3.Connection,
    put: str,
    names: Sequence[str],
    rows: Sequence[tuple[Any, ...]],
    table: str,
    path: Path,
) -> None:
    last: tuple[Any, ...] = ()

    def one_by_one() -> Iterator[tuple[Any, ...]]:
        nonlocal last
        for row in rows:
            last = row
            yield row

    try:
        clean.executemany(put, one_by_one())
    except (sqlite3.IntegrityError, sqlite3.DataError) as fault:
        named = next((value for value in last if isinstance(value, str)), "")
        label = BY_TABLE[table].label if table in BY_TABLE else None
        called = last[names.index(label)] if label in names else None
        raise refuse_row(path, table, named, _said(fault), called=called) from fault


def _said(fault: sqlite3.Error) -> str:
    """What a row breaks, in words."""
    found = _BROKEN.search(str(fault))
    if found is None:
        return "does not fit what belongs there"
    if found["what"] == "UNIQUE":
        return "is there twice"
    column = found["column"]
    return f"lacks {column}" if found["what"] == "NOT NULL" else f"has something in {column} that cannot be there"


_BROKEN: Final = late_pattern(r"(?P<what>CHECK|NOT NULL|UNIQUE) constraint failed: \W*(?:\w+\.)?(?P<column>\w+)")


def _not_utf8(
    connection: sqlite3.Connection, asked: str, texts: Sequence[int], table: str, path: Path
) -> DatabaseError:
    """The fault that names the first text that is not UTF-8."""
    before = connection.text_factory
    connection.text_factory = bytes
    cursor = connection.cursor()
    cursor.row_factory = None
    try:
        for row in cursor.execute(asked):
            for held in (row[number] for number in texts):
                if isinstance(held, bytes) and not _is_utf8(held):
                    named = row[1].decode(errors="backslashreplace") if isinstance(row[1], bytes) else row[1]
                    return refuse_row(path, table, named, "has text that is not UTF-8")
    finally:
        connection.text_factory = before
    return refuse_damaged(path, f"the table {table} has text that is not UTF-8")


def _is_utf8(held: bytes) -> bool:
    try:
        held.decode()
    except UnicodeDecodeError:
        return False
    return True
