"""Which diffs, fluids, people, venues, cars, scales and events are one thing under several ids, and which stands for
it.

Two are one if a join says so, or if their names are equal (``folded_label``), unless a join says that they are two.
This follows from the records alone, in whatever order they were written: it is the same on every laptop.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from itertools import combinations
from typing import Final, NamedTuple

from bevelbook.reading.labels import folded_label
from bevelbook.records import BY_NAME, Kind
from bevelbook.records.joins import JOINED_KINDS
from bevelbook.store.ids import content_id, is_content_id
from bevelbook.store.schema import quoted

_NO_DAY: Final = "1970-01-01"


class Thing(NamedTuple):
    """A record of one of these kinds, with its name."""

    kind: str
    id: str
    label: str


class SaidOfTwo(NamedTuple):
    """What a join says of two records: that they are one, and then ``one`` keeps its name, or that they are two."""

    kind: str
    one: str
    other: str
    is_same: bool


StandsFor = Mapping[tuple[str, str], str]
"""The id that stands for each record that does not stand for itself, by its kind and id."""


def join_id(kind: str, one: str, other: str) -> str:
    """The id of the join of two records, whichever comes first: said on two laptops, it is one record."""
    return content_id(_NO_DAY, "\0".join(("join", kind, *sorted((one, other)))))


def stands_for(things: Iterable[Thing], said: Iterable[SaidOfTwo]) -> StandsFor:
    """Which record stands for which others.

    Of those that are one it is one that no join joins to another; of these one made by hand before one made by notes;
    then the one with the least id.
    """
    by_kind: dict[str, dict[str, str]] = {}
    for thing in things:
        by_kind.setdefault(thing.kind, {})[thing.id] = thing.label
    joins = sorted(set(said))
    found: dict[tuple[str, str], str] = {}
    for kind, labels in sorted(by_kind.items()):
        of_kind = [one for one in joins if one.kind == kind and {one.one, one.other} <= labels.keys()]
        for members in _classes(labels, of_kind):
            joined_to = {one.other for one in of_kind if one.is_same and one.one in members and one.other in members}
            first = min(members, key=lambda row_id: (row_id in joined_to, is_content_id(row_id), row_id))
            found.update(((kind, row_id), first) for row_id in members if row_id != first)
    return found


def _classes(labels: Mapping[str, str], joins: Iterable[SaidOfTwo]) -> Iterator[set[str]]:
    """The sets of two and more records that are one.

    What people said comes before equal names, each in the order of the ids; what would bring two together that are two
    is left out.
    """
    said_one = {_pair(one.one, one.other) for one in joins if one.is_same}
    apart: dict[str, set[str]] = {}
    for one, other in {_pair(one.one, one.other) for one in joins if not one.is_same} - said_one:
        apart.setdefault(one, set()).add(other)
        apart.setdefault(other, set()).add(one)
    members: dict[str, set[str]] = {}

    def is_one_with(one: str, other: str) -> bool:
        """Whether the two are one now."""
        here, there = members.get(one, {one}), members.get(other, {other})
        if not here.isdisjoint(there):
            return True
        if any(not there.isdisjoint(apart.get(row_id, ())) for row_id in here):
            return False
        together = here | there
        members.update(dict.fromkeys(together, together))
        return True

    for pair in sorted(said_one):
        is_one_with(*pair)
    by_name: dict[str, list[str]] = {}
    for row_id, label in sorted(labels.items()):
        met = by_name.setdefault(folded_label(label), [])
        if not any(is_one_with(one, row_id) for one in met):
            met.append(row_id)
    yield from {min(together): together for together in members.values()}.values()


def _pair(one: str, other: str) -> tuple[str, str]:
    return (one, other) if one <= other else (other, one)


def things_in(connection: sqlite3.Connection) -> list[Thing]:
    """All records of these kinds."""
    return [Thing(kind.name, row_id, label) for kind in joined_kinds() for row_id, label in _labels(connection, kind)]


def said_in(connection: sqlite3.Connection) -> list[SaidOfTwo]:
    """What all joins say."""
    found = connection.execute("SELECT kind, one, other, same FROM joins ORDER BY id")
    return [SaidOfTwo(kind, one, other, same != "no") for kind, one, other, same in found]


def joined_kinds() -> tuple[Kind, ...]:
    """The kinds of which several records may be one thing."""
    return tuple(BY_NAME[name] for name in JOINED_KINDS)


def equal_name_pairs(things: Iterable[Thing]) -> list[tuple[Thing, Thing]]:
    """The pairs of records of one kind that have one name, by kind and id."""
    alike: dict[tuple[str, str], list[Thing]] = {}
    for thing in sorted(things):
        alike.setdefault((thing.kind, folded_label(thing.label)), []).append(thing)
    return sorted(pair for group in alike.values() for pair in combinations(group, 2))


def known_by_sql(kind: Kind) -> str:
    """SQL of what names one thing of a kind: its name, of an event with its first day, as a club has a race of one name
    every month."""
    name = quoted(kind.label or "id")
    return f"{name} || coalesce(' on ' || first_on, '')" if kind.name == "event" else name


def _labels(connection: sqlite3.Connection, kind: Kind) -> Iterator[tuple[str, str]]:
    """The id and name of each record; another program may have left one without a text."""
    found = connection.execute(f"SELECT id, {known_by_sql(kind)} FROM {kind.table} ORDER BY id")
    yield from ((row[0], row[1]) for row in found if isinstance(row[0], str) and isinstance(row[1], str))
