"""Names that look like one although they are two: are they one thing? It is asked until somebody says so or not."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Final, NamedTuple

from bevelbook.declare.in_command import in_command
from bevelbook.plugin.check import Finding
from bevelbook.reading.labels import folded_label
from bevelbook.reading.look_alikes import odd_letters
from bevelbook.reading.near_names import near_pairs
from bevelbook.records import Kind
from bevelbook.store.lookup import label_of
from bevelbook.store.same_things import joined_kinds, said_in
from bevelbook.store.schema import quoted
from bevelbook.store.told_apart import of_one_thing_each

_SHOWN: Final = 20


class LookAlikes(NamedTuple):
    """Two records with names that look alike: the one that stays when they are joined, and the other."""

    kind: Kind
    one: str
    other: str
    one_id: str
    other_id: str

    @property
    def seen(self) -> str:
        """That they look alike, each with what nobody sees of it."""
        return f"{_named(self.one)} and {_named(self.other)} look alike"

    @property
    def words(self) -> str:
        """What is asked of them."""
        return f"{self.seen}: are they one {self.kind.name}?"

    @property
    def command(self) -> str:
        """What joins them."""
        return f"bevelbook join {self.typed}"

    @property
    def typed(self) -> str:
        """The two as a command takes them."""
        return f"{self.kind.name} {in_command(self.one)} {in_command(self.other)}"


def names_that_look_alike(connection: sqlite3.Connection) -> list[LookAlikes]:
    """The pairs of names that may be two spellings of one (``near_pairs``), the one that stays first, by kind.

    Those that somebody called two are left out, and so are those that are one.
    """
    stands = {row[0]: row[1] for row in connection.execute("SELECT id, stands FROM one_with")}
    two = {
        frozenset(stands.get(row_id, row_id) for row_id in (one.one, one.other))
        for one in said_in(connection)
        if not one.is_same
    }
    found: list[LookAlikes] = []
    for kind in joined_kinds():
        ids = _standing(connection, kind)
        found += [
            LookAlikes(kind, one, other, ids[one], ids[other])
            for one, other in near_pairs(ids)
            if frozenset((ids[one], ids[other])) not in two
        ]
    return found


def look_alike_findings(connection: sqlite3.Connection) -> Iterator[Finding]:
    """A finding for each such pair, with the commands that say that they are one, or two."""
    for one in names_that_look_alike(connection)[:_SHOWN]:
        yield Finding(
            code="look_alike_names",
            severity="worth a look",
            words=f"{one.seen}: they may be one {one.kind.name}",
            remedy=f"'bevelbook join {one.typed}' joins them; "
            f"'bevelbook join {one.typed} --not' says that they are two.",
            subject_table=one.kind.table,
            subject_id=one.other_id,
            subject_label=one.other,
        )
    for kind in joined_kinds():
        if kind.name != "event":
            yield from _two_of_one_name(connection, kind)


def _two_of_one_name(connection: sqlite3.Connection, kind: Kind) -> Iterator[Finding]:
    """A finding for each name of several records that are two, with the command that gives one another name."""
    alike: dict[str, list[str]] = {}
    for name, row_id in _standing_names(connection, kind):
        alike.setdefault(folded_label(name), []).append(row_id)
    for row_ids in [one for one in alike.values() if len(one) > 1][:_SHOWN]:
        first, *_, last = of_one_thing_each(connection, kind, row_ids)
        name = label_of(connection, kind, last.row_id)
        yield Finding(
            code="two_of_one_name",
            severity="worth a look",
            words=f"{len(row_ids)} {kind.table} are called {name}: lists do not tell them apart",
            remedy=f"'bevelbook record {kind.name} {in_command(last.shown)} {kind.label}=NAME' gives one a name of its "
            f"own; the other is {first.shown}.",
            subject_table=kind.table,
            subject_id=last.row_id,
            subject_label=name,
        )


def _standing(connection: sqlite3.Connection, kind: Kind) -> dict[str, str]:
    """The ids of the records that stand for themselves, by name, in that order; of several of one name the first."""
    found: dict[str, str] = {}
    for name, row_id in _standing_names(connection, kind):
        found.setdefault(name, row_id)
    return found


def _standing_names(connection: sqlite3.Connection, kind: Kind) -> list[tuple[str, str]]:
    """The names and ids of the records that stand for themselves, the oldest first, and those that are marked as
    doubtful ('7k?') last: the first of two stays when they are joined."""
    label = quoted(kind.label or "id")
    found = connection.execute(
        f"SELECT {label}, id FROM {kind.table} WHERE typeof({label}) = 'text' "
        f"AND id NOT IN (SELECT id FROM one_with WHERE kind = ?) ORDER BY {label} LIKE '%?', created_at, id",
        (kind.name,),
    )
    return [(name, row_id) for name, row_id in found]


def _named(name: str) -> str:
    odd = odd_letters(name)
    return f"{name} (with {', '.join(odd)})" if odd else name
