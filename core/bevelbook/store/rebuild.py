"""The statements that change a table with rows: SQLite can add a column, but cannot change a check or the order.

A table is made under another name, filled in row order with the old rowids, and renamed to the old name.
They run as part of a step (see ``migrate``), with foreign keys off and without triggers and views.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from bevelbook.store.schema import literal, quoted


def rebuild_sql(
    create: str, values: Mapping[str, str], indexes: Sequence[str] = (), *, rowids: bool = True
) -> list[str]:
    """The statements that rebuild a table.

    ``create`` is its new CREATE TABLE, ``values`` what each new column is filled with: SQL over the columns of the old
    table. ``rowids`` is false for a table without them.
    """
    head, name, rest = _split(create)
    new = f"{name}_new"
    columns = {**({"rowid": "rowid"} if rowids else {}), **{quoted(column): sql for column, sql in values.items()}}
    order = " ORDER BY rowid" if rowids else ""
    return [
        f"{head}{new}{rest}",
        f"INSERT INTO {new} ({', '.join(columns)}) SELECT {', '.join(columns.values())} FROM {name}{order}",
        f"DROP TABLE {name}",
        f"ALTER TABLE {new} RENAME TO {name}",
        *indexes,
    ]


def _split(create: str) -> tuple[str, str, str]:
    head = "CREATE TABLE "
    name, bracket, rest = create.removeprefix(head).partition(" (")
    return head, name, bracket + rest


def translated(column: str, words: Mapping[str, str]) -> str:
    """SQL for a column's value with words replaced by others."""
    if not words:
        return quoted(column)
    pairs = " ".join(f"WHEN {literal(old)} THEN {literal(new)}" for old, new in words.items())
    return f"CASE {quoted(column)} {pairs} ELSE {quoted(column)} END"
