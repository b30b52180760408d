"""What is one with what, in words: why, since when, and what was written with each."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import NamedTuple

from bevelbook.records import BY_NAME, Kind
from bevelbook.store.as_written import REFERRING
from bevelbook.store.lookup import label_of
from bevelbook.store.one_with import one_with_it, stands_for_it
from bevelbook.store.same_things import join_id, joined_kinds
from bevelbook.store.schema import literal, quoted
from bevelbook.store.told_apart import one_of_two


class OtherId(NamedTuple):
    """A record that is one with another: its id, its name, who wrote it, and why they are one."""

    row_id: str
    label: str
    who: str | None
    why: str

    @property
    def named(self) -> str:
        """The name, with whose it is: ``bo's rear-a``."""
        return f"{self.who}'s {self.label}" if self.who else self.label

    @property
    def words(self) -> str:
        """That what stands for it was also written so."""
        return f"also written {self.named}: {self.why}"


class NamedByBoth(NamedTuple):
    """Records of a kind that name what stands for several: how many, and how many of them were written with one."""

    kind: Kind
    records: int
    written: int

    @property
    def noun(self) -> str:
        return self.kind.name.replace("_", " ")


class SaidOfThem(NamedTuple):
    """What is said of two records: their kind, their names, and in words."""

    kind: Kind
    one: str
    other: str
    words: str

    @property
    def line(self) -> str:
        """The same for people."""
        return f"{self.kind.name} {self.one}, {self.words}"

    def as_dict(self) -> dict[str, str]:
        """The same for programs."""
        return {"record": self.kind.name, "one": self.one, "other": self.other, "words": self.words}


def all_joined(connection: sqlite3.Connection) -> list[SaidOfThem]:
    """All records for which others stand, with why, by kind and name."""
    found = [
        SaidOfThem(kind, label_of(connection, kind, standing), other.label, other.words)
        for kind in joined_kinds()
        for standing in sorted({row[0] for row in _standing(connection, kind)})
        for other in others_of(connection, kind, standing)
    ]
    return sorted(found, key=lambda one: (one.kind.name, one.one, one.other))


def said_two(connection: sqlite3.Connection) -> list[SaidOfThem]:
    """All records of which somebody said that they are two, by kind and name."""
    found: list[SaidOfThem] = []
    for kind_name, one, other, by, day in connection.execute(
        "SELECT kind, one, other, updated_by, coalesce(said_on, substr(created_at, 1, 10)) FROM joins "
        "WHERE same = 'no' ORDER BY id"
    ).fetchall():
        kind = BY_NAME[kind_name]
        there = connection.execute(f"SELECT count(*) FROM {kind.table} WHERE id IN (?, ?)", (one, other)).fetchone()[0]
        if there == 2:
            names = [label_of(connection, kind, row_id) for row_id in (one, other)]
            said = f"said by {by} on {day}" if by else f"said on {day}"
            found.append(SaidOfThem(kind, names[0], names[1], f"not {names[1]}: {said}"))
    return sorted(found, key=lambda one: (one.kind.name, one.one, one.other))


def _standing(connection: sqlite3.Connection, kind: Kind) -> list[sqlite3.Row]:
    return connection.execute("SELECT DISTINCT stands FROM one_with WHERE kind = ?", (kind.name,)).fetchall()


def others_of(connection: sqlite3.Connection, kind: Kind, row_id: str) -> list[OtherId]:
    """The records for which one stands, by name."""
    found = [_other(connection, kind, row_id, other) for other in one_with_it(connection, kind, row_id)]
    return sorted(found, key=lambda one: (one.label, one.row_id))


def also_written(connection: sqlite3.Connection, kind: Kind, row_id: str) -> tuple[str, ...]:
    """A line for each record for which one stands: ``also written bo's rear-a: joined by anna on 2026-05-03``."""
    return tuple(one.words for one in others_of(connection, kind, row_id))


def also_written_or_stands(connection: sqlite3.Connection, kind: Kind, row_id: str) -> tuple[str, ...]:
    """The same for any record: where another one stands for it, that one and why."""
    standing = stands_for_it(connection, kind, row_id)
    if standing == row_id:
        return also_written(connection, kind, row_id)
    return (f"goes by {label_of(connection, kind, standing)}: {why_one(connection, kind, standing, row_id)}",)


def why_one(connection: sqlite3.Connection, kind: Kind, one: str, other: str) -> str:
    """Why two records are one: who joined them and when, else that they have one name, else by way of another."""
    row = connection.execute(
        "SELECT updated_by, coalesce(said_on, substr(created_at, 1, 10)) FROM joins WHERE id = ? AND same IS NOT 'no'",
        (join_id(kind.name, one, other),),
    ).fetchone()
    if row is not None:
        by = f" by {row[0]}" if row[0] else ""
        return f"joined{by} on {row[1]}"
    names = {label_of(connection, kind, row_id).casefold() for row_id in (one, other)}
    return "of the same name" if len(names) == 1 else "joined by way of another"


def records_of(connection: sqlite3.Connection, kind: Kind, row_id: str, other: str) -> Iterator[NamedByBoth]:
    """Which records name what stands for a record, and how many of them were written with ``other``; kinds without
    such are left out."""
    standing = stands_for_it(connection, kind, row_id)
    for referring in REFERRING:
        columns = [one.name for one in referring.joined_references if one.target == kind.name]
        if not columns:
            continue
        named = " OR ".join(f"{quoted(one)} = :standing" for one in columns)
        listed = ", ".join(map(literal, columns))
        by_column = " OR ".join(
            f"{quoted(one)} = :other AND NOT EXISTS (SELECT 1 FROM as_written w WHERE {_of(referring, 't')} "
            f"AND w.column_name = {literal(one)})"
            for one in columns
        )
        count, written = connection.execute(
            f"SELECT (SELECT count(*) FROM {referring.table} WHERE {named}), "
            f"(SELECT count(*) FROM {referring.table} t WHERE {by_column} OR EXISTS (SELECT 1 FROM as_written w "
            f"WHERE {_of(referring, 't')} AND w.column_name IN ({listed}) AND w.written = :other))",
            {"standing": standing, "other": other},
        ).fetchone()
        if written:
            yield NamedByBoth(referring, count, written)


def _of(kind: Kind, row: str) -> str:
    return f"w.table_name = {literal(kind.table)} AND w.row_id = {row}.id"


def _other(connection: sqlite3.Connection, kind: Kind, row_id: str, other: str) -> OtherId:
    why = why_one(connection, kind, row_id, other)
    return OtherId(other, label_of(connection, kind, other), one_of_two(connection, kind, other).who, why)
