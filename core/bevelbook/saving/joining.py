"""Two records said to be one thing, or two, with all that follows from it, inside the caller's transaction."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import product
from typing import Any, NamedTuple

from bevelbook.calculating.recalculate import Upkeep, depending_on, recalculate_depending
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import InputError
from bevelbook.facts.renew import renew_touched
from bevelbook.notes.late_builds import place_rows_of_touched_builds
from bevelbook.notes.placed_again import PlacedAgain
from bevelbook.plugin.registry import Registry
from bevelbook.reading.labels import folded_label
from bevelbook.records import BY_NAME, Kind
from bevelbook.records.joins import JOINED_KINDS
from bevelbook.reports.joined import NamedByBoth, records_of, why_one
from bevelbook.reports.left_with_others import LeftWithOther, left_with_others
from bevelbook.reports.what_changed import shelf_changes, touched_on_shelf
from bevelbook.store.ids import now_utc
from bevelbook.store.lookup import label_of, of_one_thing
from bevelbook.store.one_with import stands_for_it
from bevelbook.store.same_things import join_id
from bevelbook.store.told_apart import of_one_thing_each, one_of_two
from bevelbook.store.writing import Writer

NOTHING_CHANGED = "Nothing was changed."


class Joining(NamedTuple):
    """What was said of two records, and what came of it.

    ``stands`` is the name of the one that stands for both. ``before`` are the records that named the other one,
    ``now`` those that name the one that stands for both, ``left`` the values that it does not have.
    """

    kind: Kind
    one: str
    other: str
    is_same: bool
    stands: str
    before: tuple[NamedByBoth, ...]
    now: tuple[NamedByBoth, ...]
    left: tuple[LeftWithOther, ...]
    placed: PlacedAgain
    shelf: tuple[str, ...]
    upkeep: Upkeep

    def lines(self) -> Iterator[str]:
        """The same for people, without what is left to do."""
        if not self.is_same:
            yield f"{self.one} and {self.other} are two {self.kind.table}."
        elif self.stands == self.one:
            yield f"{self.one} and {self.other} are one {self.kind.name} now, called {self.stands}."
        else:
            yield (
                f"{self.one} and {self.other} are one {self.kind.name} now, called {self.stands}: "
                f"{self.one} was joined to that one before."
            )
        for one in self.before:
            yield f"  {self.other} had {counted(one.records, one.noun)}"
        for one in self.now:
            records = counted(one.records, one.noun)
            yield f"  {self.stands} now has {records}, {one.written} of them written under {self.other}"
        yield from self.placed.lines()
        yield from self.shelf
        yield from self.upkeep.waiting_lines()
        yield from (left.line for left in self.left)

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        return {
            "record": self.kind.name,
            "one": self.one,
            "other": self.other,
            "same": self.is_same,
            "stands": self.stands,
            "records": [{"kind": one.kind.name, "count": one.records, "of_other": one.written} for one in self.now],
            "left": [one._asdict() for one in self.left],
            **self.placed.as_dict(),
            "shelf": list(self.shelf),
        }


def say_of_two(
    connection: sqlite3.Connection,
    registry: Registry,
    kind: Kind,
    one: str,
    other: str,
    by: str | None,
    *,
    is_same: bool = True,
    note: str | None = None,
) -> Joining:
    """Say that the records of these names or ids are one, called by the name of the first; or that they are two.

    A name of several records that are one thing stands for all of them. Raises UnknownNameError, and InputError where
    the two are one record, where that was said already, or where it
    cannot be, since two of those that would be one are two.
    """
    ones, others = (of_one_thing(connection, kind, name) for name in (one, other))
    one_id, other_id = ones[0], others[0]
    names = {row_id: label_of(connection, kind, row_id) for row_id in (one_id, other_id)}
    if len(set(names.values())) < len(names):
        names = {row_id: _with_whose(connection, kind, row_id) for row_id in names}
    _refuse_said(connection, kind, ones, others, names, is_same=is_same)
    before = tuple(_of_all(connection, kind, other_id, others)) if is_same else ()
    was_of_other = stands_for_it(connection, kind, other_id)
    records = [(kind, row_id) for row_id in (*ones, *others)]
    depending = depending_on(connection, registry, records)
    for pair in _pairs(connection, kind, ones, others, is_same=is_same):
        _write(Writer(connection, by), kind, *pair, is_same=is_same, note=note)
    placed = place_rows_of_touched_builds(connection, by)
    standing = [stands_for_it(connection, kind, row_id) for row_id in (one_id, other_id)]
    if (standing[0] == standing[1]) is not is_same:
        raise _cannot_be(connection, kind, names, one_id, other_id, is_same=is_same)
    on_shelf = touched_on_shelf(connection)
    renew_touched(connection)
    for table, ids in depending_on(connection, registry, records).items():
        depending.setdefault(table, set()).update(ids)
    upkeep = recalculate_depending(connection, registry, depending, by)
    stands = standing[0] if is_same else one_id
    return Joining(
        kind,
        names[one_id],
        names[other_id],
        is_same,
        names.get(stands) or label_of(connection, kind, stands),
        before if was_of_other == other_id else (),
        tuple(_of_all(connection, kind, stands, others)) if is_same else (),
        tuple(left_with_others(connection, kind, stands, [row_id for row_id in names if row_id != stands]))
        if is_same
        else (),
        placed,
        tuple(change.line() for change in shelf_changes(connection, on_shelf)),
        upkeep,
    )


def joined_kind(name: str) -> Kind:
    """The kind of that name of which two records may be one. Raises InputError, which names those there are."""
    from bevelbook.records import kind_called

    kind = kind_called(name)
    if kind.name not in JOINED_KINDS:
        raise InputError(
            f"{kind.table.replace('_', ' ')} are not joined",
            code="not_joined_kind",
            found=name,
            wanted=", ".join(JOINED_KINDS[:-1]) + f" or {JOINED_KINDS[-1]}",
            remedy="Two builds, runs or bottles of one name stay two; each shows who wrote it.",
        )
    return kind


def _with_whose(connection: sqlite3.Connection, kind: Kind, row_id: str) -> str:
    who, label = one_of_two(connection, kind, row_id).who, label_of(connection, kind, row_id)
    return f"{who}'s {label}" if who else f"{label} ({row_id[-6:]})"


def _refuse_said(
    connection: sqlite3.Connection,
    kind: Kind,
    ones: Sequence[str],
    others: Sequence[str],
    names: Mapping[str, str],
    *,
    is_same: bool,
) -> None:
    one, other = ones[0], others[0]
    if not set(ones).isdisjoint(others):
        those = " and ".join(each.shown for each in of_one_thing_each(connection, kind, ones)) if len(ones) > 1 else ""
        raise InputError(
            f"{names[one]} is one {kind.name}: there is nothing to join",
            code="join_with_itself",
            remedy=f"Name two of them{those and f', such as {those}'}. {NOTHING_CHANGED}",
        )
    said = _said_of(connection, kind, ones, others)
    standing = stands_for_it(connection, kind, one)
    are_one = standing == stands_for_it(connection, kind, other)
    if is_same and are_one and (standing in ones or any(first in ones for first, _ in said.values())):
        why = why_one(connection, kind, one, other)
        called = names.get(standing) or label_of(connection, kind, standing)
        raise InputError(
            f"{names[one]} and {names[other]} are one already, called {called}: {why}",
            code="joined_already",
            remedy=NOTHING_CHANGED,
        )
    if not is_same and not are_one and any(not same for _, same in said.values()):
        raise InputError(
            f"{names[one]} and {names[other]} are two already: somebody said so before",
            code="joined_already",
            remedy=NOTHING_CHANGED,
        )


def _said_of(
    connection: sqlite3.Connection, kind: Kind, ones: Iterable[str], others: Iterable[str]
) -> dict[tuple[str, str], tuple[str, bool]]:
    """What was said of pairs of these: which one keeps its name, and whether they are one."""
    found: dict[tuple[str, str], tuple[str, bool]] = {}
    for one, other in product(ones, others):
        asked = (join_id(kind.name, one, other),)
        row = connection.execute("SELECT one, same FROM joins WHERE id = ?", asked).fetchone()
        if row is not None:
            found[one, other] = row["one"], row["same"] != "no"
    return found


def _pairs(
    connection: sqlite3.Connection, kind: Kind, ones: Sequence[str], others: Sequence[str], *, is_same: bool
) -> list[tuple[str, str]]:
    """The pairs of which it is to be said: one of each name, and those of which the contrary was said.

    Where two are one, each record of the other name gives way; where they are two, no equal name brings them together.
    """
    contrary = [pair for pair, (_, same) in _said_of(connection, kind, ones, others).items() if same is not is_same]
    if is_same:
        return list(dict.fromkeys((*((ones[0], other) for other in others), *contrary)))
    labels = {folded_label(label_of(connection, kind, row_id)) for row_id in (*ones, *others)}
    return list(product(ones, others)) if len(labels) == 1 else list(dict.fromkeys(((ones[0], others[0]), *contrary)))


def _of_all(connection: sqlite3.Connection, kind: Kind, stands: str, others: Iterable[str]) -> Iterator[NamedByBoth]:
    """Which records name what stands for a record, and how many of them were written with any of the others."""
    found: dict[str, NamedByBoth] = {}
    for other in others:
        for one in records_of(connection, kind, stands, other):
            written = found[one.kind.name].written if one.kind.name in found else 0
            found[one.kind.name] = one._replace(written=written + one.written)
    yield from found.values()


def _write(writer: Writer, kind: Kind, one: str, other: str, *, is_same: bool, note: str | None) -> None:
    join, made = BY_NAME["join"], join_id(kind.name, one, other)
    values: dict[str, object] = {"one": one, "other": other, "same": "yes" if is_same else "no"}
    values |= {"said_on": now_utc()[:10]} | ({"note": note} if note else {})
    held = writer.connection.execute("SELECT 1 FROM joins WHERE id = ?", (made,)).fetchone()
    if held is None:
        writer.insert(join, {"kind": kind.name, **values}, row_id=made)
    else:
        writer.update(join, made, values)


def _cannot_be(
    connection: sqlite3.Connection, kind: Kind, names: Mapping[str, str], one: str, other: str, *, is_same: bool
) -> InputError:
    if is_same:
        standing = {stands_for_it(connection, kind, row_id) for row_id in (one, other)}
        two = [label_of(connection, kind, row_id) for row_id in sorted(standing)]
        return InputError(
            f"{names[one]} and {names[other]} cannot be one: {' and '.join(two)}, or others that are one with them, "
            "were said to be two",
            code="cannot_be_one",
            remedy=f"'bevelbook join' lists what was said; take that back first. {NOTHING_CHANGED}",
        )
    return InputError(
        f"{names[one]} and {names[other]} are still one, by way of others that are joined to both",
        code="cannot_be_one",
        remedy=f"'bevelbook join' lists what was said; take one of those back first. {NOTHING_CHANGED}",
    )
