"""What a database of somebody else is made of, compared with how this tool made it at that step: as text, without
running or reading any of it but SQLite's own list of tables.

What is read later are the declared columns of tables whose text is ours. All else is left behind and named: triggers,
views, tables, indexes, columns that another program added.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing
from functools import cache
from pathlib import Path
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import shown
from bevelbook.facts.views import view_sql
from bevelbook.meeting.refusing import refuse_damaged, refuse_table, refuse_too_big
from bevelbook.records import FACTS, KINDS
from bevelbook.store.last_step import LAST_STEP
from bevelbook.store.migrate import frozen_steps
from bevelbook.store.sql_pieces import PLAIN_COLUMN, pieces_of, single_spaced
from bevelbook.store.step_trial import stepped
from bevelbook.store.structure import TableStructure, structure
from bevelbook.store.triggers import trigger_sql

MOST_PARTS: Final = 5_000
"""Tables, indexes, triggers and views of a file together; one of ours has about 400."""
_NOT_READ: Final = frozenset(
    {
        *(kind.table for kind in FACTS),
        *(kind.table for kind in KINDS if kind.derived),
        *("writing", "replacing", "one_with", "_sqlite_migrations"),
    }
)
"""Tables that follow from others, or are each database's own."""
_RESULTS: Final = "calc_"
"""Views of kept results follow from the calculators that are there."""
_NAMED: Final = 5


class OurTable(NamedTuple):
    """A table as the steps up to one make it: its text, the same in pieces, its columns, and its indexes by name."""

    sql: str
    pieces: tuple[str, ...]
    ending: str
    structure: TableStructure
    indexes: Mapping[str, str]


class TheirSchema(NamedTuple):
    """The tables to be read, which have an index that is not ours, and what is left behind, in words."""

    tables: Mapping[str, OurTable]
    with_other_indexes: frozenset[str]
    left_behind: tuple[str, ...]


class _Part(NamedTuple):
    sort: str
    name: str
    table: str
    sql: str


def their_schema(connection: sqlite3.Connection, step: int, path: Path) -> TheirSchema:
    """What is read of a database of that step, and what is left behind.

    Raises DatabaseError for a missing table, and one that is made otherwise than ours.
    """
    parts = list(_parts(connection, path))
    held = {part.name: part for part in parts if part.sort == "table"}
    indexes: dict[str, list[_Part]] = {}
    for part in parts:
        if part.sort == "index" and part.sql:
            indexes.setdefault(part.table.lower(), []).append(part)
    wanted = tables_of_step(step)
    extra: list[tuple[str, str]] = []
    with_other_indexes = set()
    for name, ours in wanted.items():
        if name not in held:
            other = next((part for part in parts if part.name == name), None)
            what = f"is a {other.sort} in it" if other else "is missing"
            raise refuse_table(path, name, what)
        extra += [("column", f"{name}.{column}") for column in _columns_beside(held[name].sql, name, ours, path)]
        for index in indexes.get(name, ()):
            if ours.indexes.get(index.name) != single_spaced(index.sql):
                extra.append(("index", index.name))
                with_other_indexes.add(name)
    known = _known_names()
    extra += [
        (part.sort, part.name)
        for part in parts
        if part.sort in ("trigger", "view", "table")
        and not (part.name in known or part.name in wanted or (part.sort == "view" and part.name.startswith(_RESULTS)))
    ]
    return TheirSchema(wanted, frozenset(with_other_indexes), tuple(_in_words(extra)))


@cache
def tables_of_step(step: int) -> Mapping[str, OurTable]:
    """Every table that holds what people wrote, as the steps up to that one make it."""
    with closing(stepped(frozen_steps()[:step])) as connection:
        texts = connection.execute(
            "SELECT type, name, tbl_name, sql FROM main.sqlite_master WHERE sql IS NOT NULL"
        ).fetchall()
        structures = structure(connection)
    found = {}
    for sort, name, _, sql in texts:
        if sort == "table" and name in structures and name not in _NOT_READ and not structures[name].virtual:
            pieces, ending = pieces_of(sql) or ((), "")
            indexes = {
                index: single_spaced(made) for kind, index, table, made in texts if kind == "index" and table == name
            }
            found[name] = OurTable(sql, pieces, ending, structures[name], indexes)
    return found


def _parts(connection: sqlite3.Connection, path: Path) -> Iterator[_Part]:
    rows = connection.execute("SELECT type, name, tbl_name, sql FROM main.sqlite_master ORDER BY rowid")
    for number, (sort, name, table, sql) in enumerate(rows):
        if number >= MOST_PARTS:
            raise refuse_too_big(
                path, "it has too many tables, triggers and views", wanted=f"at most {MOST_PARTS} together"
            )
        if not (isinstance(sort, str) and isinstance(name, str) and isinstance(table, str)):
            raise refuse_damaged(path, "its list of tables is damaged")
        yield _Part(sort, name, table, sql if isinstance(sql, str) else "")


def _columns_beside(sql: str, name: str, ours: OurTable, path: Path) -> list[str]:
    """The plain columns that another program added to a table; anything else that differs is refused."""
    if sql == ours.sql:
        return []
    theirs = pieces_of(sql)
    if theirs is None or theirs[1] != ours.ending:
        raise refuse_table(
            path, name, "is made otherwise than by this tool", found=sql if theirs is None else theirs[1]
        )
    left = list(ours.pieces)
    beside = []
    for piece in theirs[0]:
        if left and piece == left[0]:
            del left[0]
        elif PLAIN_COLUMN.fullmatch(piece):
            beside.append(piece.split(" ")[0])
        else:
            raise refuse_table(path, name, "is made otherwise than by this tool", found=piece)
    if left:
        raise refuse_table(path, name, "lacks a part that it has here", found=left[0].split(" ")[0])
    return beside


@cache
def _known_names() -> frozenset[str]:
    """Triggers, views, and the tables that are made again from others, by their names at any step."""
    made = [sql.split(maxsplit=3)[2] for sql in (*trigger_sql(), *view_sql())]
    for step in range(1, LAST_STEP + 1):
        with closing(stepped(frozen_steps()[:step])) as connection:
            made += [name for (name,) in connection.execute("SELECT name FROM main.sqlite_master")]
    return frozenset((*made, *_NOT_READ, "build_counts", "sqlite_sequence", "sqlite_stat1", "sqlite_stat4"))


def _in_words(extra: list[tuple[str, str]]) -> Iterator[str]:
    for sort in ("table", "column", "index", "view", "trigger"):
        names = sorted(name for one, name in extra if one == sort)
        if names:
            named = ", ".join(shown(name, 40) for name in names[:_NAMED])
            more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
            yield f"{counted(len(names), sort) if sort != 'index' else f'{len(names)} of its indexes'} ({named}{more})"
