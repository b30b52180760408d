"""How the tables, indexes, triggers and views of a file differ from the declarations: tables by what they come to,
triggers and views by their text. What other programs keep under names of their own does not count."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing
from functools import cache
from typing import NamedTuple

from bevelbook.store import keeping
from bevelbook.store.edition_mark import edition_of
from bevelbook.store.migrate import declared_triggers_and_views, held_triggers_and_views
from bevelbook.store.schema import schema_sql
from bevelbook.store.structure import TableStructure, structure


class OfOthers(NamedTuple):
    """What other programs keep in the file: of which sort, and its name."""

    sort: str
    name: str


class _DeclaredSchema(NamedTuple):
    tables: Mapping[str, TableStructure]
    names: frozenset[str]


@cache
def _declared() -> _DeclaredSchema:
    with closing(sqlite3.connect(":memory:")) as made:
        for statement in schema_sql():
            made.execute(statement)
        return _DeclaredSchema(
            structure(made), frozenset(row[0] for row in made.execute("SELECT name FROM sqlite_master"))
        )


def count_declared(connection: sqlite3.Connection) -> int:
    """How many tables, indexes, triggers and views the file has."""
    return int(connection.execute("SELECT count(*) FROM main.sqlite_master").fetchone()[0])


def schema_differences(connection: sqlite3.Connection) -> Iterator[str]:
    """Each difference, in words. Raises sqlite3.Error."""
    wanted, held = _declared().tables, structure(connection)
    for name in sorted(wanted):
        if name not in held:
            yield f"the table {name} is missing"
        elif held[name] != wanted[name]:
            yield from _of_table(name, held[name], wanted[name])
    declared, there = declared_triggers_and_views(), held_triggers_and_views(connection)
    if edition_of(connection) is not None:
        declared = {key: sql for key, sql in declared.items() if _stays_in_an_edition(*key)}
    for key in sorted(declared.keys() | there.keys()):
        sort, name = key
        if key not in there:
            yield f"the {sort} {name} is missing"
        elif key not in declared:
            yield f"the {sort} {name} is none of ours, and is on a table or under a name of ours"
        elif there[key] != declared[key]:
            yield f"the {sort} {name} is not as it is declared"
    yield from _unreadable_views(connection)


def of_other_programs(connection: sqlite3.Connection) -> list[OfOthers]:
    """Tables, views and triggers that the declarations do not know, and that stand in nobody's way."""
    known = _declared().names | {name for _, name in declared_triggers_and_views()}
    rows = connection.execute(
        "SELECT type, name FROM main.sqlite_master WHERE type <> 'index' AND name NOT LIKE 'sqlite!_%' ESCAPE '!' "
        "AND name NOT LIKE '!_sqlite!_%' ESCAPE '!' ORDER BY name"
    ).fetchall()
    return [OfOthers(sort, name) for sort, name in rows if name not in known and not name.startswith("calc_")]


def _stays_in_an_edition(sort: str, name: str) -> bool:
    """Nobody writes to an edition, so it has no triggers, nor the views that these alone read."""
    return sort != "trigger" and name not in keeping.HIDDEN


def _of_table(name: str, held: TableStructure, wanted: TableStructure) -> Iterator[str]:
    columns, declared = ({one.name: one for one in table.columns} for table in (held, wanted))
    for column in declared:
        if column not in columns:
            yield f"the table {name} lacks the column {column}"
        elif columns[column] != declared[column]:
            yield f"the column {name}.{column} is made otherwise: another type, default or key"
    for column in columns.keys() - declared.keys():
        yield f"the table {name} has a column of another program: {column}"
    if columns.keys() == declared.keys() and [*columns] != [*declared]:
        yield f"the columns of {name} stand in another order"
    for check in sorted(wanted.checks - held.checks):
        yield f"the table {name} lacks the check {check}"
    for check in sorted(held.checks - wanted.checks):
        yield f"the table {name} has a check that is not declared: {check}"
    for one in sorted(wanted.references - held.references, key=str):
        yield f"the table {name} does not look after its reference {one.column} to {one.table}"
    for one in sorted(held.references - wanted.references, key=str):
        yield f"the table {name} has a reference that is not declared: {one.column} to {one.table}"
    indexes, of_declared = dict(held.indexes), dict(wanted.indexes)
    for index in sorted(indexes.keys() | of_declared.keys()):
        if index not in indexes:
            yield f"the index {index} is missing"
        elif index not in of_declared:
            yield f"the table {name} has an index that is not declared: {index}"
        elif indexes[index] != of_declared[index]:
            yield f"the index {index} is not as it is declared"
    if (held.strict, held.without_rowid, held.virtual) != (wanted.strict, wanted.without_rowid, wanted.virtual):
        yield f"the table {name} is made otherwise"


def _unreadable_views(connection: sqlite3.Connection) -> Iterator[str]:
    """Views of kept results, which follow from the calculators that are there: each must be readable."""
    views = connection.execute(
        "SELECT name FROM main.sqlite_master WHERE type = 'view' AND name LIKE 'calc!_%' ESCAPE '!' ORDER BY name"
    ).fetchall()
    for (name,) in views:
        quoted_name = '"' + str(name).replace('"', '""') + '"'
        try:
            connection.execute(f"SELECT * FROM main.{quoted_name} LIMIT 0").fetchall()
        except sqlite3.OperationalError as fault:
            yield f"the view {name} cannot be read: {fault}"
