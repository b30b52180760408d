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


def weighing_between(connection: sqlite3.Connection, build: str | None, since: str, until: str) -> LastMass | None:
    """The closed weighing of a build (by id) that was written from one instant to another; None without one."""
    row = connection.execute(
        "SELECT w.mass_g, w.mass_basis, w.id FROM weighings w WHERE w.build = ? AND w.created_at BETWEEN ? AND ? "
        "AND w.mass_basis IN (SELECT value FROM json_each(?)) ORDER BY w.created_at DESC, w.id DESC LIMIT 1",
        (build, since, until, _BASES),
    ).fetchone()
    return None if row is None else LastMass(row[0], row[1], "", row[2])


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
