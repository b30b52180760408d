"""What a plan takes along: the diffs, their oils and those that go in, spare parts for one rebuild, the scale."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from bevelbook.declare.vocabulary import REBUILD_IT
from bevelbook.facts.sql import rows
from bevelbook.planning.oils_at_hand import OilToPour
from bevelbook.planning.parts_wanted import OPENING_ACTS, parts_wanted
from bevelbook.planning.plan_lines import PlanLine

_FLUIDS: Final = """
SELECT d.id AS diff, f.label FROM json_each(?) j CROSS JOIN diffs d ON d.id = j.value
CROSS JOIN diff_facts s ON s.diff = d.id CROSS JOIN builds b ON b.id = s.current_build
JOIN fluids f ON f.id = b.fluid ORDER BY d.id
"""
_SCALE: Final = """
SELECT s.name FROM weighings w CROSS JOIN builds b ON b.id = w.build JOIN scales s ON s.id = w.scale
WHERE b.diff IN (SELECT value FROM json_each(?)) GROUP BY s.id
ORDER BY max(w.weighed_on) DESC, count(*) DESC, s.name, s.id LIMIT 1
"""
"""The scale of the newest day; of two on one day the one that weighed the diffs more often, whichever was written down
first."""


def things_to_pack(connection: sqlite3.Connection, lines: Sequence[PlanLine]) -> dict[str, tuple[str, ...]]:
    """What the lines of a plan take along, in words, under the words that a packing list may name.

    Spare parts are those that a rebuild of the diff takes that takes most: a set for one, whichever it is. That one set
    is enough is this project's own proposal.
    """
    diffs = json.dumps([one.diff for one in lines])
    scale = connection.execute(_SCALE, (diffs,)).fetchone()
    return {
        "diffs": tuple(f"{one.called}, {one.where}" for one in lines),
        "oils": tuple(_oils(connection, diffs, lines)),
        "parts": tuple(_parts(connection, [one.diff for one in lines])),
        "scale": (f"{scale[0]}, on which the diffs were weighed",) if scale else (),
    }


def _oils(connection: sqlite3.Connection, diffs: str, lines: Sequence[PlanLine]) -> Iterator[str]:
    """The oils that are in the diffs once the plan is done, to top them up, each with the diffs."""
    inside = {row["diff"]: row["label"] for row in rows(connection, _FLUIDS, (diffs,))}
    labels: dict[str, str] = dict(connection.execute("SELECT id, label FROM fluids").fetchall())
    taken: dict[str, list[str]] = {}
    for line in lines:
        there = [inside[line.diff]] if line.diff in inside else []
        if line.act in OPENING_ACTS and line.oils:
            there = [label for oil in line.oils for label in _of_oil(oil, labels)]
        for label in dict.fromkeys(there):
            taken.setdefault(label, []).append(line.label)
    for label, names in sorted(taken.items()):
        yield f"{label}: for {', '.join(names)}"


def _of_oil(oil: OilToPour, labels: Mapping[str, str]) -> Iterator[str]:
    """The oils that are poured, by their labels: those of a blend, or one."""
    if oil.parts:
        yield from (part.label for part in oil.parts)
    elif oil.fluid is not None:
        yield labels[oil.fluid]


def _parts(connection: sqlite3.Connection, diffs: Sequence[str]) -> Iterator[str]:
    most: dict[str, int] = {}
    for parts in parts_wanted(connection, dict.fromkeys(diffs, REBUILD_IT)).values():
        for part in parts:
            most[part.what] = max(most.get(part.what, 0), part.pieces)
    for what, pieces in sorted(most.items()):
        yield f"spare: {pieces} x {what}" if pieces else f"spare: {what}"
