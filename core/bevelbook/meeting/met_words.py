"""What a meeting brought, in words: who wrote what, what it changed, what is in clash, and what to look at."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Collection, Iterator, Mapping
from typing import Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.meeting.union import Met
from bevelbook.records import BY_NAME, BY_TABLE, KINDS
from bevelbook.reports.clashes import ClashSaid, said_clashes
from bevelbook.reports.look_alike_names import names_that_look_alike
from bevelbook.reports.rows_to_turn_findings import rows_to_turn_findings
from bevelbook.store.record_names import names_of
from bevelbook.store.told_apart import KINDS_TOLD_APART
from bevelbook.taking_back.words import PART_OF

ALL_HERE: Final = "All of it was here already."
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
    """What was so before the other side came: the records whose name others had too, and names that looked alike."""

    shared: Mapping[tuple[str, str], str]
    alike: Collection[str]


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
    return BeforeMeeting(_shared(connection), _looking_alike(connection))


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
    lines += [*_in_clash(clashes), *_shared_names(connection, before)]
    lines += [*[one for one in _looking_alike(connection) if one not in before.alike][:_NAMED]]
    lines += _to_place(connection)
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
        named = "; ".join(one.in_short for one in clashes[:_NAMED])
        more = f"; and {len(clashes) - _NAMED} more" if len(clashes) > _NAMED else ""
        yield f"{counted(len(clashes), 'clash')}: {named}{more}."


def _shared(connection: sqlite3.Connection) -> dict[tuple[str, str], str]:
    """The records whose name others have too, by table and id, with the name that was written."""
    return {
        (row[0], row[1]): str(row[2])
        for row in connection.execute(
            "SELECT table_name, row_id, written FROM as_written WHERE table_name IN (SELECT value FROM json_each(?1)) "
            "AND column_name IN (SELECT value FROM json_each(?2)) ORDER BY table_name, row_id, column_name",
            (
                json.dumps([one.table for one in KINDS_TOLD_APART]),
                json.dumps(sorted({one.label or "id" for one in KINDS_TOLD_APART} | {"lot"})),
            ),
        )
    }


def _shared_names(connection: sqlite3.Connection, before: BeforeMeeting) -> Iterator[str]:
    """The names that more records have than before, each with what to type for them."""
    groups: dict[tuple[str, str], list[str]] = {}
    written: dict[tuple[str, str], str] = {}
    new: dict[tuple[str, str], None] = {}
    for (table, row_id), name in _shared(connection).items():
        group = table, name.casefold()
        groups.setdefault(group, []).append(row_id)
        written.setdefault(group, name)
        if (table, row_id) not in before.shared:
            new[group] = None
    for group in list(new)[:_NAMED]:
        kind = BY_TABLE[group[0]]
        shown = names_of(connection, kind, groups[group])
        named = " and ".join(sorted(shown.values()))
        yield f"{len(groups[group])} {kind.table} are called {written[group]}: {named}."
    if len(new) > _NAMED:
        yield f"And {counted(len(new) - _NAMED, 'more name')} of several records."


def _looking_alike(connection: sqlite3.Connection) -> dict[str, None]:
    return {f"{one.words[:1].upper()}{one.words[1:]}": None for one in names_that_look_alike(connection)}


def _to_place(connection: sqlite3.Connection) -> Iterator[str]:
    for one in list(rows_to_turn_findings(connection))[:_NAMED]:
        yield f"{one.subject_label}: {one.words}."
