"""What a meeting brought, in words: who wrote what, what it changed, what is in clash, and what to look at."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from typing import Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.meeting.union import Met
from bevelbook.records import BY_NAME, KINDS
from bevelbook.reports.clashes import ClashSaid, said_clashes
from bevelbook.reports.rows_to_turn_findings import rows_to_turn_findings
from bevelbook.store.record_names import names_of, with_kind
from bevelbook.store.schema import quoted
from bevelbook.taking_back.words import PART_OF

ALL_HERE: Final = "All of it was here already."
_TWO_OF_A_NAME: Final = ("build", "run", "bottle")
"""Kinds of which two may have one name."""
_UNSAID: Final = frozenset({*PART_OF, "bench_step", "entry", "note_reject", "note_extra", "picture", "clash"})
"""Kinds that come with another, or that nobody asks for."""
_SPOKEN: Final = {
    "calculation": ("kept result", "kept results"),
    "note_file": ("file of notes", "files of notes"),
    "photo": ("photograph", "photographs"),
    "put_by": ("finding put by", "findings put by"),
    "car_diff": ("diff put into a car", "diffs put into cars"),
    "car_value": ("value of a car", "values of cars"),
}
"""What people call one and several of a kind, where that is not its own name."""
_NAMED: Final = 5
"""Clashes, names and diffs that are named; more are counted."""


class BeforeMeeting(NamedTuple):
    """What was so before the other side came: the names that several records had, by kind."""

    shared: Mapping[str, frozenset[str]]


class MetSaid(NamedTuple):
    """What came of a meeting: lines for people, the new clashes, and whether nothing was new."""

    lines: tuple[str, ...]
    clashes: tuple[ClashSaid, ...]
    is_nothing: bool

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        return {"lines": list(self.lines), "clashes": [one.as_dict() for one in self.clashes]}


def looked_before(connection: sqlite3.Connection) -> BeforeMeeting:
    """What :func:`said_met` compares with, asked before the other side comes in."""
    return BeforeMeeting({name: frozenset(_shared(connection, name)) for name in _TWO_OF_A_NAME})


def said_met(connection: sqlite3.Connection, met: Met, before: BeforeMeeting) -> MetSaid:
    """What a meeting brought, from the database with it: ``bo: 2 builds, 14 runs; 1 clash: dry mass of rear-a/12``."""
    clashes = tuple(said_clashes(connection, met.clashes))
    came = [
        f"{who or 'without a name'}: {words}" for who, kinds in sorted(met.by_whom.items()) if (words := _counts(kinds))
    ]
    changed, removed = _counts(met.changed), _counts(met.removed)
    is_nothing = not (any(met.came.values()) or any(met.changed.values()) or any(met.removed.values()) or clashes)
    lines = [ALL_HERE] if is_nothing else came
    if not is_nothing and not came:
        lines = [f"New: {_counts(met.came)}."] if _counts(met.came) else []
        if not (lines or changed or removed or clashes):
            lines = ["Nothing that is shown is new."]
    if changed:
        lines.append(f"Changed by it: {changed}.")
    if removed:
        lines.append(f"Removed by it: {removed}.")
    lines += [*_in_clash(clashes), *_shared_names(connection, before), *_to_place(connection)]
    return MetSaid(tuple(lines), clashes, is_nothing)


def _counts(kinds: Mapping[str, int]) -> str:
    return ", ".join(
        _count(kinds[kind.name], kind.name) for kind in KINDS if kind.name not in _UNSAID and kinds.get(kind.name)
    )


def _count(count: int, kind_name: str) -> str:
    one, many = _SPOKEN.get(kind_name, (kind_name, BY_NAME[kind_name].table))
    return f"{count:,} {(one if count == 1 else many).replace('_', ' ')}"


def _in_clash(clashes: tuple[ClashSaid, ...]) -> Iterator[str]:
    if clashes:
        named = "; ".join(f"{one.what} of {one.name}" for one in clashes[:_NAMED])
        more = f"; and {len(clashes) - _NAMED} more" if len(clashes) > _NAMED else ""
        yield f"{counted(len(clashes), 'clash')}: {named}{more}."


def _shared(connection: sqlite3.Connection, kind_name: str) -> Iterator[str]:
    """The names that several records of a kind have."""
    if kind_name == "bottle":
        named = "(SELECT f.label FROM fluids f WHERE f.id = t.fluid) || coalesce(', ' || t.lot, '')"
    else:
        named = f"t.{quoted(BY_NAME[kind_name].label or 'id')}"
    table = BY_NAME[kind_name].table
    for row in connection.execute(
        f"SELECT {named} AS name FROM {table} t GROUP BY lower(name) HAVING count(*) > 1 ORDER BY name"
    ):
        yield str(row[0])


def _shared_names(connection: sqlite3.Connection, before: BeforeMeeting) -> Iterator[str]:
    """The names that only now several records have, each with the records by the names that tell them apart."""
    for kind_name in _TWO_OF_A_NAME:
        kind = BY_NAME[kind_name]
        new = sorted(set(_shared(connection, kind_name)) - before.shared[kind_name])
        for label in new[:_NAMED]:
            said = _apart(connection, kind_name, label)
            yield f"Two things have one name: {said}." if said else f"Several are called {with_kind(kind, label)}."
        if len(new) > _NAMED:
            yield f"And {counted(len(new) - _NAMED, 'more name')} of several {kind.table}."


def _apart(connection: sqlite3.Connection, kind_name: str, label: str) -> str:
    kind = BY_NAME[kind_name]
    if kind_name == "bottle":
        return ""
    ids = [
        row[0]
        for row in connection.execute(
            f"SELECT id FROM {kind.table} WHERE {quoted(kind.label or 'id')} = ? COLLATE NOCASE ORDER BY id", (label,)
        )
    ]
    names = names_of(connection, kind, ids)
    return " and ".join(with_kind(kind, names[one]) for one in ids) if len(set(names.values())) == len(ids) else ""


def _to_place(connection: sqlite3.Connection) -> Iterator[str]:
    for one in list(rows_to_turn_findings(connection))[:_NAMED]:
        yield f"{one.subject_label}: {one.words}."
