"""What was written where records show something else, in a rescue whose list of that (``as_written``) lost rows.

The name of a build, run or bottle that another has too shows who wrote it; a reference shows the record that stands
for several that are one. Without the list, what is shown would pass for what was written. Of a name it follows from
what is shown and from who wrote what. Of a reference nothing tells it: the one with the greatest id is taken. Of two
references to what is one the lesser counts where databases meet (``store/known_versions.py``), and of two names what
stands in a book stays there (``meeting/versions_met.py``), so that a database which has what was written keeps it when
the rescue comes in.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Iterator, Mapping
from typing import Final, NamedTuple

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.records import Kind
from bevelbook.store.as_written import REFERRING
from bevelbook.store.same_things import said_in, stands_for, things_in
from bevelbook.store.schema import literal, quoted
from bevelbook.store.told_apart import KINDS_TOLD_APART, of_one_thing_each, parted_by

AS_WRITTEN: Final = "as_written"
_OF_AUTHORS: Final = ("entries", "history")
"""Tables that say who wrote a record first."""
_DAY: Final = late_pattern(r"\d{4}-\d\d-\d\d")
_LETTERS_OF_ID: Final = 6


class GivenBack(NamedTuple):
    """What was done about what was written: of which table, which record or how many, and in words."""

    table: str
    where: str
    what: str


class _Name(NamedTuple):
    """A record's name as it shows, and what was written of it if the rest is who wrote it."""

    row_id: str
    shown: str
    written: str


def give_back_written(connection: sqlite3.Connection, lost_of: Collection[str]) -> Iterator[GivenBack]:
    """Have each record say what was written of it, as far as that is known; ``lost_of`` are the tables of which rows
    are lost. Runs inside the caller's transaction, on a database of this version's schema without triggers."""
    for kind in KINDS_TOLD_APART:
        yield from _names(connection, kind, lost_of)
    yield from _references(connection)


def _names(connection: sqlite3.Connection, kind: Kind, lost_of: Collection[str]) -> Iterator[GivenBack]:
    label = kind.label or "id"
    maybe = list(_maybe_longer(connection, kind, lost_of))
    connection.executemany(
        f"INSERT INTO main.{AS_WRITTEN} (table_name, row_id, column_name, written) VALUES (?, ?, ?, ?)",
        [(kind.table, one.row_id, label, one.written) for one in maybe],
    )
    sure = _told_apart(connection, kind, maybe)
    is_whole = not {kind.table, *_OF_AUTHORS} & set(lost_of)
    for one in maybe:
        if one.row_id in sure or not is_whole:
            connection.execute(
                f"UPDATE main.{kind.table} SET {quoted(label)} = ? WHERE id = ?", (one.written, one.row_id)
            )
            if one.row_id not in sure:
                yield GivenBack(
                    kind.table,
                    one.row_id,
                    f"{label} is taken for {one.written}; it showed {one.shown}, and what was written is lost",
                )
    connection.executemany(
        f"DELETE FROM main.{AS_WRITTEN} WHERE table_name = ? AND row_id = ? AND column_name = ?",
        [(kind.table, one.row_id, label) for one in maybe],
    )
    if sure:
        said = "what was written is lost; it follows from what they showed, with who wrote each"
        yield GivenBack(kind.table, _count(len(sure)), f"{label}: {said}")


def _maybe_longer(connection: sqlite3.Connection, kind: Kind, lost_of: Collection[str]) -> Iterator[_Name]:
    """The records of which nothing says what was written, and whose name ends with what tells them from others."""
    label = quoted(kind.label or "id")
    found = connection.execute(
        f"SELECT t.id, t.{label} FROM main.{kind.table} t WHERE t.{label} LIKE '%_ of _%' AND NOT EXISTS (SELECT 1 "
        f"FROM main.{AS_WRITTEN} w WHERE w.table_name = {literal(kind.table)} AND w.row_id = t.id "
        f"AND w.column_name = {literal(kind.label or 'id')}) ORDER BY t.id"
    ).fetchall()
    ways = parted_by(connection, kind, [row_id for row_id, _ in found])
    authors = _authors(connection, kind) if set(_OF_AUTHORS) & set(lost_of) else []
    for row_id, shown in found:
        ends = sorted({f" of {way}" for way in ways.get(row_id, ())}, key=len, reverse=True)
        end = next((one for one in ends if shown.endswith(one)), None) or _end_by(shown, row_id, authors)
        if end is not None and len(shown) > len(end):
            yield _Name(row_id, shown, shown.removesuffix(end))


def _authors(connection: sqlite3.Connection, kind: Kind) -> list[str]:
    """All who wrote anything, as far as it is known."""
    found = connection.execute(
        f"SELECT made_by FROM main.entries WHERE made_by IS NOT NULL UNION "
        f"SELECT updated_by FROM main.{kind.table} WHERE updated_by IS NOT NULL ORDER BY 1"
    )
    return [str(row[0]) for row in found]


def _end_by(shown: str, row_id: str, authors: Collection[str]) -> str | None:
    """What may tell it from others, where it is lost who wrote it: anybody who writes here, with what may follow."""
    _, _, said = shown.rpartition(" of ")
    for author in authors:
        more = said.removeprefix(author).removeprefix(" ")
        if said.startswith(author) and (not more or _DAY.fullmatch(more) or more == row_id[-_LETTERS_OF_ID:]):
            return f" of {said}"
    return None


def _told_apart(connection: sqlite3.Connection, kind: Kind, maybe: Collection[_Name]) -> set[str]:
    """Those of these records that would show what they show, as would all others of their name, had that been
    written."""
    label = quoted(kind.label or "id")
    named = {one.written.casefold() for one in maybe}
    beside = "t.fluid" if kind.name == "bottle" else "NULL"
    written = (
        f"coalesce((SELECT w.written FROM main.{AS_WRITTEN} w WHERE w.table_name = {literal(kind.table)} "
        f"AND w.row_id = t.id AND w.column_name = {literal(kind.label or 'id')}), t.{label})"
    )
    alike: dict[tuple[str, str | None], dict[str, str]] = {}
    for row_id, name, fluid, shown in connection.execute(
        f"SELECT t.id, {written}, {beside}, t.{label} FROM main.{kind.table} t ORDER BY t.id"
    ):
        if isinstance(name, str) and name.casefold() in named:
            alike.setdefault((name.casefold(), fluid), {})[row_id] = shown
    sure: set[str] = set()
    for shows in alike.values():
        would = {one.row_id: one.shown for one in of_one_thing_each(connection, kind, list(shows))}
        if would == shows:
            sure |= shows.keys()
    return sure & {one.row_id for one in maybe}


def _references(connection: sqlite3.Connection) -> Iterator[GivenBack]:
    """Of a reference to one of several that are one nothing says which of them was written."""
    last = _last_of_each(connection)
    for kind in REFERRING:
        for field in kind.joined_references:
            column = quoted(field.name)
            changed = 0
            for (target, stands), last_id in last.items():
                if target == field.target:
                    changed += connection.execute(
                        f"UPDATE main.{kind.table} AS t SET {column} = ? WHERE {column} = ? AND NOT EXISTS (SELECT 1 "
                        f"FROM main.{AS_WRITTEN} w WHERE w.table_name = {literal(kind.table)} AND w.row_id = t.id "
                        f"AND w.column_name = {literal(field.name)})",
                        (last_id, stands),
                    ).rowcount
            if changed:
                yield GivenBack(
                    kind.table,
                    _count(changed),
                    f"{field.name}: which of several that are one was written is lost; it is the one with the last id",
                )


def _last_of_each(connection: sqlite3.Connection) -> Mapping[tuple[str, str], str]:
    """The greatest id of those that are one, by the kind and the one that stands for all of them."""
    last: dict[tuple[str, str], str] = {}
    for (kind, row_id), stands in stands_for(things_in(connection), said_in(connection)).items():
        last[kind, stands] = max(last.get((kind, stands), stands), row_id)
    return last


def _count(count: int) -> str:
    return f"{count:,} record{'' if count == 1 else 's'}"
