"""The last masses of a diff, beside which a new one is typed."""

from __future__ import annotations

import json
import sqlite3
from typing import Final, NamedTuple

from bevelbook.declare.vocabulary import CLOSED
from bevelbook.display.days import day_in_words

CLOSED_BASES: Final = (CLOSED, "closed with bearings and crown gear")
_BASES: Final = json.dumps(CLOSED_BASES)


class LastMass(NamedTuple):
    """A mass in g with what was on the scale, what it was and when: ``closed at build, rear-a/11``."""

    mass_g: float
    mass_basis: str
    words: str
    row_id: str | None = None
    """The weighing, if it was one."""
    scale: str | None = None


def last_closed_mass(connection: sqlite3.Connection, build: str | None, *, but: str | None = None) -> LastMass | None:
    """The newest closed mass of a build (by id), without the weighing ``but``; None without one."""
    row = connection.execute(
        "SELECT w.mass_g, w.mass_basis, w.weighed_on, b.label, w.id FROM weighings w JOIN builds b ON b.id = w.build "
        "WHERE w.build = ? AND w.id IS NOT ? AND w.mass_basis IN (SELECT value FROM json_each(?)) "
        "ORDER BY coalesce(w.weighed_on, w.created_at) DESC, w.created_at DESC, w.id DESC LIMIT 1",
        (build, but, _BASES),
    ).fetchone()
    if row is not None:
        day = f" on {day_in_words(row[2])}" if row[2] else ""
        return LastMass(row[0], row[1], f"{row[3]}, weighed{day}", row[4])
    row = connection.execute("SELECT closed_mass_g, label, built_on FROM builds WHERE id = ?", (build,)).fetchone()
    if row is None or row[0] is None:
        return None
    return LastMass(row[0], CLOSED, f"{row[1]}, when it was closed on {day_in_words(row[2])}")


_FIRST_VERSION: Final = (
    "iif(w.parents IS NULL, w.version, (SELECT h.version FROM history h WHERE h.table_name = 'weighings' "
    "AND h.row_id = w.id AND h.parents IS NULL ORDER BY h.id LIMIT 1))"
)


def weighing_of_step(connection: sqlite3.Connection, build: str | None, step: str) -> LastMass | None:
    """The closed weighing of a build (by id) that a step of the bench (by id) has stored; None if it has not.

    They were written in one entry, whatever was changed in either since.
    """
    row = connection.execute(
        f"SELECT w.mass_g, w.mass_basis, w.id, w.scale FROM weighings w WHERE w.build = ?1 AND {_FIRST_VERSION} IN "
        "(SELECT version FROM bench_steps WHERE id = ?2 UNION "
        "SELECT version FROM history WHERE table_name = 'bench_steps' AND row_id = ?2) "
        "AND w.mass_basis IN (SELECT value FROM json_each(?3)) ORDER BY w.created_at DESC, w.id DESC LIMIT 1",
        (build, step, _BASES),
    ).fetchone()
    return None if row is None else LastMass(row[0], row[1], "", row[2], row[3])


class KnownThing(NamedTuple):
    """The thing that was weighed last to see whether a scale is right, with its last reading in g."""

    thing: str
    mass_g: float
    day: str


def last_known_thing(connection: sqlite3.Connection, scale: str) -> KnownThing | None:
    """The last known coin or weight that was read on a scale (by id); None if there is none."""
    row = connection.execute(
        "SELECT thing, mass_g, read_on FROM scale_readings WHERE scale = ? "
        "ORDER BY read_on DESC, created_at DESC, place DESC, id DESC LIMIT 1",
        (scale,),
    ).fetchone()
    return None if row is None else KnownThing(row[0], row[1], day_in_words(row[2]))
