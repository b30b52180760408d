"""What other programs put into the file beside rows, looked at before anything is written: so that none of it acts.

SQLite runs what stands in a file's own list of parts: a trigger at a write, the condition of a table, the expression of
an index. Tables of ours must be made as we make them, or the file is refused. A trigger that could act on anything of
ours is taken out, and so is an index that could refuse or work out something; both are named. What only lies there
stays: views, tables with triggers among themselves, plain indexes, plain columns.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Mapping, Sequence
from functools import cache
from typing import Final, NamedTuple

from bevelbook.declare.errors import DatabaseError, shown
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.facts.views import VIEWS
from bevelbook.records import FACTS
from bevelbook.store import keeping
from bevelbook.store.schema import ALL_KINDS, schema_sql, search_table
from bevelbook.store.sql_pieces import pieces_of, single_spaced, tokens_of

_NAMED: Final = r"""(?P<name>"(?:[^"]|"")*"|\[[^\]]*\]|`(?:[^`]|``)*`|'(?:[^']|'')*'|[^\s("'`\[.]+)"""
_HEADS: Final = {
    "table": re.compile(rf"CREATE (?:VIRTUAL )?TABLE {_NAMED}(?=[\s(])"),
    "index": re.compile(rf"CREATE (?:UNIQUE )?INDEX {_NAMED}\s"),
    "view": re.compile(rf"CREATE VIEW {_NAMED}(?=[\s(])"),
    "trigger": re.compile(rf"CREATE TRIGGER {_NAMED}\s"),
}
"""How SQLite writes the beginning of each part down, whatever was typed."""
_EVENTS: Final = ("DELETE", "INSERT", "UPDATE")
_BESIDE: Final = late_pattern(
    r"(?:[A-Za-z_]\w*|\"(?:[^\"]|\"\")+\")(?: (?:TEXT|REAL|INTEGER|INT|BLOB|ANY))?"
    r"(?: DEFAULT (?:NULL|[-+]? ?\d[\w.]*|'(?:[^']|'')*'))?",
    re.I,
)
"""A column of another program that does nothing but hold a value."""
_PLAIN_INDEX: Final = late_pattern(r"CREATE INDEX \S+ ON \S+ \( [\w, ]+ \)(?: WHERE [^()]+)?", re.I)
_MADE_AGAIN: Final = frozenset({*(kind.table for kind in FACTS), "writing", "replacing", "one_with"})
_LONGEST: Final = 400


class SchemaPart(NamedTuple):
    """An entry of SQLite's own list of what a file has: its sort, its name, its table and how it was made."""

    sort: str
    name: str
    table: str
    sql: str | None

    def in_words(self) -> str:
        """What and where, and how it was made, for whoever may want it back."""
        made = " ".join((self.sql or "").split())
        return f"the {self.sort} {shown(self.name)} on {shown(self.table)}, made by: {shown(made, _LONGEST)}"


def listed_parts(connection: sqlite3.Connection) -> list[tuple[str, str, str, str | None]]:
    """SQLite's own list of what the file has, as it is in the file: what a :class:`SchemaPart` is made of."""
    cursor = connection.cursor()
    cursor.row_factory = None
    return cursor.execute("SELECT type, name, tbl_name, sql FROM main.sqlite_master ORDER BY rowid").fetchall()


def schema_parts(connection: sqlite3.Connection) -> list[SchemaPart]:
    """The whole list. Raises DatabaseError where an entry says something else of itself than SQLite makes of it: such
    a list was edited by hand."""
    found = [SchemaPart(*row) for row in listed_parts(connection)]
    for part in found:
        if part.sql is None:
            continue
        head = _HEADS[part.sort].match(part.sql) if part.sort in _HEADS else None
        if head is None or _bare(head["name"]).casefold() != part.name.casefold():
            raise _refused(
                "its list of tables was edited by hand", found=f"{part.sort} {part.name}: {' '.join(part.sql.split())}"
            )
    return found


def refuse_other_tables(parts: Sequence[SchemaPart]) -> None:
    """Raise DatabaseError unless each table of ours that holds something is made as we make it, and no name of ours is
    that of anything else. A missing table is not looked for here."""
    ours = _our_tables()
    views = _our_views()
    for part in parts:
        name = part.name.casefold()
        if name in ours and part.sort != "table":
            raise _refused(f"{shown(part.name)} is a {part.sort} in it, and has to be a table", found=part.sql)
        if name in views and part.sort != "view":
            raise _refused(f"{shown(part.name)} is a {part.sort} in it, and has to be a view", found=part.sql)
        wanted = ours.get(name) if part.sort == "table" else None
        if wanted is not None and part.sql != wanted and name not in _MADE_AGAIN and not name.endswith("_search"):
            odd = _odd_piece(part.sql or "", wanted)
            if odd is not None:
                raise _refused(f"the table {shown(part.name)} is made otherwise than by this tool", found=odd)


def tables_to_make_again(parts: Sequence[SchemaPart]) -> list[str]:
    """The tables without data of their own, and searches, that are made otherwise than by this tool."""
    ours = _our_tables()
    return [
        part.name
        for part in parts
        if part.sort == "table"
        and (part.name in _MADE_AGAIN or part.name.endswith("_search"))
        and part.name in ours
        and part.sql != ours[part.name]
        and (part.sql is None or single_spaced(part.sql) != single_spaced(ours[part.name]))
    ]


def indexes_to_make_again(parts: Sequence[SchemaPart]) -> list[tuple[str, str | None]]:
    """Our indexes that are made otherwise in the file or missing, each with its statement, and those of other programs
    on our tables that could refuse or work out something, with None."""
    wanted = _our_indexes()
    tables = _our_tables()
    found: list[tuple[str, str | None]] = []
    held = {part.name: part for part in parts if part.sort == "index" and part.sql}
    for name, part in held.items():
        if part.sql == wanted.get(name):
            continue
        made = single_spaced(part.sql or "")
        if name in wanted:
            if made != single_spaced(wanted[name]):
                found.append((name, wanted[name]))
        elif part.table.casefold() in tables and not _PLAIN_INDEX.fullmatch(made):
            found.append((name, None))
    return found


def stays(part: SchemaPart, parts: Sequence[SchemaPart], connection: sqlite3.Connection) -> bool:
    """Whether a trigger of another program can never act on what is written here: it is for certain on a plain table or
    a view of another program, which follows none of ours."""
    tokens = tokens_of(part.sql or "")
    table = None if tokens is None else _table_of(tokens)
    if table is None or table.casefold() != part.table.casefold():
        return False
    held = next((one for one in parts if one.name.casefold() == table.casefold()), None)
    if held is None or not (held.sql or "").startswith(("CREATE TABLE", "CREATE VIEW")) or _is_ours_or_part(held.name):
        return False
    return not connection.execute("SELECT 1 FROM pragma_foreign_key_list(?)", (held.name,)).fetchone()


def looks_like_ours(part: SchemaPart) -> bool:
    """Whether the name of a trigger is one that a version of this tool may have made: its table and a word."""
    return part.name.startswith(f"{part.table}_")


def _table_of(tokens: Sequence[str]) -> str | None:
    """The table of a trigger, where it is written in the plainest way."""
    rest = list(tokens[3:])
    if [one.upper() for one in rest[:2]] == ["INSTEAD", "OF"]:
        del rest[:2]
    elif rest and rest[0].upper() in ("BEFORE", "AFTER"):
        del rest[0]
    if not rest or rest[0].upper() not in _EVENTS:
        return None
    del rest[0]
    if rest and rest[0].upper() == "OF":
        while rest and rest[0].upper() != "ON":
            del rest[0]
    return rest[1] if len(rest) > 1 and rest[0].upper() == "ON" and re.fullmatch(r"\w+", rest[1]) else None


def _is_ours_or_part(name: str) -> bool:
    """Whether a table is one of ours, or keeps what a search of ours has found."""
    plain = name.casefold()
    return (
        plain in _our_tables()
        or plain in _our_views()
        or plain.startswith(("sqlite_", "_sqlite_"))
        or any(plain.startswith(f"{search_table(kind)}_") for kind in ALL_KINDS if kind.searched)
    )


def _odd_piece(sql: str, wanted: str) -> str | None:
    """The first piece of a table that ours does not have and that does more than hold a value, or the one it lacks."""
    theirs, ours = pieces_of(sql), pieces_of(wanted)
    if theirs is None or ours is None or theirs[1] != ours[1]:
        return sql
    left = list(ours[0])
    for piece in theirs[0]:
        if left and piece == left[0]:
            del left[0]
        elif not _BESIDE.fullmatch(piece):
            return piece
    return f"without {left[0]}" if left else None


@cache
def _our_views() -> frozenset[str]:
    return frozenset({*(view.name for view in VIEWS), *keeping.HIDDEN})


@cache
def _our_schema() -> tuple[str, ...]:
    return schema_sql()


@cache
def _our_tables() -> Mapping[str, str]:
    return {_name_of(sql): sql for sql in _our_schema() if sql.startswith(("CREATE TABLE", "CREATE VIRTUAL TABLE"))}


@cache
def _our_indexes() -> Mapping[str, str]:
    return {_name_of(sql): sql for sql in _our_schema() if sql.startswith("CREATE INDEX")}


def _name_of(sql: str) -> str:
    words = sql.split(maxsplit=4)
    return words[3 if words[1] == "VIRTUAL" else 2]


def _bare(name: str) -> str:
    if name[0] in "\"`'":
        return name[1:-1].replace(name[0] * 2, name[0])
    return name[1:-1] if name[0] == "[" else name


def _refused(what: str, *, found: str | None) -> DatabaseError:
    return DatabaseError(
        what,
        code="schema_changed",
        found=found,
        remedy="Another program changed how this database is made, so nothing is written to it. Go back to a backup "
        "copy, or take its rows out into a new one: 'bevelbook export --rescue FOLDER'. Nothing was changed.",
    )
