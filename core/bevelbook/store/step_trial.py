"""Tries the next step before it is written: on an empty database of the last step, and the SQL for old rows on two
rows.

Whatever fails here would fail in every team's database, where nobody can fix the step.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing
from functools import lru_cache
from typing import Final

from bevelbook.declare.errors import InputError
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.store.last_step import LAST_STEP
from bevelbook.store.migrate import SchemaStep
from bevelbook.store.schema import quoted
from bevelbook.store.structure import TableColumn, TableStructure, structure

_PIECES: Final = late_pattern(
    r"'(?:[^']|'')*'|\"(?:[^\"]|\"\")*\"|`[^`]*`|\[[^\]]*\]|(?P<mark>--|/\*|[();])|.", re.DOTALL
)
_ASKING: Final = (sqlite3.SQLITE_SELECT, sqlite3.SQLITE_FUNCTION, sqlite3.SQLITE_RECURSIVE)
_SAMPLES: Final[Mapping[str, object]] = {"REAL": 1.0, "INTEGER": 1, "TEXT": "x"}
_DAY: Final = "2026-05-03"
_FAULTS: Final = (sqlite3.Error, sqlite3.Warning, ValueError)


def stepped(steps: Sequence[SchemaStep]) -> sqlite3.Connection:
    """An empty database in memory after these steps. Raises InputError naming a step that cannot run."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    if steps:
        connection.deserialize(_after(tuple(steps)))
    return connection


@lru_cache(maxsize=LAST_STEP + 1)
def _after(steps: tuple[SchemaStep, ...]) -> bytes:
    """The content of an empty database after these steps: each trial begins with it, and making it takes longest."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as connection:
        if steps[:-1]:
            connection.deserialize(_after(steps[:-1]))
        for step in steps[-1:]:
            for statement in step.statements:
                try:
                    connection.execute(statement)
                except _FAULTS as fault:
                    raise _refused(
                        f"step {step.number} cannot run: {fault}, in {' '.join(statement.split())[:120]!r}",
                        f"Fix steps/{step.number:04d}.sql, or delete it and write it again.",
                    ) from fault
        return connection.serialize()


def try_step(steps: Sequence[SchemaStep], statements: Sequence[str], after: Mapping[str, TableStructure]) -> None:
    """Raise InputError if the statements cannot follow these steps, or do not lead to the tables of ``after``."""
    split = next((one for one in statements if ";\n" in one), None)
    if split is not None:
        raise _refused(
            f"a line may not end in ';' inside of a statement: {' '.join(split.split())[:120]!r}",
            "Leave the line break out of the options for words and old rows.",
        )
    with closing(stepped([*steps, SchemaStep(0, "the next one", tuple(statements))])) as connection:
        made = structure(connection)
    other = sorted(name for name in {*made, *after} if made.get(name) != after.get(name))
    if other:
        raise _refused(f"the step does not make the table {other[0]} as it is declared", "Write this step by hand.")


def try_for_old_rows(
    steps: Sequence[SchemaStep], tables: Mapping[str, TableStructure], table: str, column_sql: str, expression: str
) -> None:
    """Raise InputError unless this SQL is one expression over a row of the old table, and fits the new column.

    It is evaluated for two made-up rows: one with only the required columns, and one with everything. If it queries
    other tables, which are empty here, only its syntax is checked.
    """
    option = f"--for-old-rows {table}.{_name_of(column_sql)}={expression}"
    if not _is_one_piece(expression):
        raise _refused(f"{option}: that is not one SQL expression", "Give one value, without ';' and comments.")
    with closing(stepped(steps)) as connection:
        connection.execute("PRAGMA foreign_keys = OFF")
        _lay_out_rows(connection, table, tables[table])
        connection.execute(f"CREATE TABLE the_column ({column_sql}) STRICT")
        read: set[str] = set()

        def only_ask(action: int, first: str | None, column: str | None, *_: str | None) -> int:
            if action == sqlite3.SQLITE_READ and first and (column or first != table):
                read.add(first)
            return sqlite3.SQLITE_OK if action in (*_ASKING, sqlite3.SQLITE_READ) else sqlite3.SQLITE_DENY

        connection.set_authorizer(only_ask)
        try:
            found = connection.execute(f"SELECT ({expression}) FROM {table}").fetchall()
        except _FAULTS as fault:
            raise _refused(f"{option}: {fault}", "Give one SQL expression over a row of that table.") from fault
        finally:
            connection.set_authorizer(None)
        if len(found) != len(_ROWS):
            raise _refused(f"{option}: it is one value for all rows together", "Give a value for each row.")
        if read <= {table}:
            for (value,), words in zip(found, _ROWS, strict=True):
                _try_value(connection, value, option, words if read else "")


_ROWS: Final = (" in a row with only the required columns", " in a row with everything")


def _try_value(connection: sqlite3.Connection, value: object, option: str, where: str) -> None:
    try:
        connection.execute("INSERT INTO the_column VALUES (?)", (value,))
    except _FAULTS as fault:
        raise _refused(
            f"{option}: the column does not take {'NULL' if value is None else repr(value)}{where}",
            f"Give what fits it ({str(fault).replace('the_column.', '')}).",
        ) from fault


def _lay_out_rows(connection: sqlite3.Connection, table: str, held: TableStructure) -> None:
    """Put two made-up rows into the table, without its checks."""
    connection.execute(f"DROP TABLE {table}")
    columns = ", ".join(f"{quoted(column.name)} {column.type}" for column in held.columns)
    connection.execute(f"CREATE TABLE {table} ({columns})")
    marks = ", ".join("?" * len(held.columns))
    for everything in (False, True):
        values = [_sample(held, one) if one.required or everything else None for one in held.columns]
        connection.execute(f"INSERT INTO {table} VALUES ({marks})", values)


def _sample(held: TableStructure, column: TableColumn) -> object:
    words = held.words_of(column.name)
    if words:
        return words[0]
    checks = " ".join(held.checks_of(column.name))
    if "date(" in checks:
        return _DAY
    return "{}" if "json_valid(" in checks else _SAMPLES.get(column.type, "x")


def _is_one_piece(sql: str) -> bool:
    """Whether SQL stays inside the brackets put around it."""
    depth = 0
    for mark in _marks(sql):
        if mark not in "()":
            return False
        depth += 1 if mark == "(" else -1
        if depth < 0:
            return False
    return depth == 0 and bool(sql.strip())


def _marks(sql: str) -> Iterator[str]:
    return (found["mark"] for found in _PIECES.finditer(sql) if found["mark"])


def _name_of(column_sql: str) -> str:
    return column_sql.split()[0].strip('"')


def _refused(message: str, remedy: str) -> InputError:
    return InputError(message, code="schema_refused", remedy=remedy)
