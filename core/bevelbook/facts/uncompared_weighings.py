"""Weighings that cannot be compared with any other: it is unknown when they were taken, or they are alone on their
basis."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from itertools import groupby
from json import dumps
from operator import attrgetter
from typing import Final, NamedTuple

from bevelbook.declare.vocabulary import NOT_SAID
from bevelbook.facts.masses import LEFT_OPEN, OF_A_BUILD, ORDER, Mass, weighed_masses_sql
from bevelbook.facts.runs import RECORDS

_WEIGHED: Final = f"""
SELECT {", ".join(f"b.{column}" for column in OF_A_BUILD.split(", "))} FROM json_each(?) t
CROSS JOIN builds b ON b.id = t.value WHERE EXISTS (SELECT 1 FROM weighings w WHERE w.build = b.id)
"""


class Uncompared(NamedTuple):
    """One weighing (in g). ``runs`` is None if it is unknown when it was taken.

    ``other_bases`` are those on which the build has other masses; empty if the basis is not the problem.
    """

    build: str
    label: str
    mass_g: float
    day: str | None
    mass_basis: str
    runs: float | None
    other_bases: tuple[str, ...]
    is_alone: bool
    """Whether no other mass of the build is on its basis."""
    is_off: bool = False
    """Whether nothing is said of its basis, and it is not near the mass of the build that it would be compared with."""


def uncompared(connection: sqlite3.Connection, builds: Iterable[str]) -> list[Uncompared]:
    """Weighings of these builds (by id) that compare with nothing.

    The first mass of a build with a named basis is not among them: the next one will compare with it.
    """
    cursor = connection.cursor()
    cursor.row_factory = None
    found = cursor.execute(
        f"WITH weighed AS MATERIALIZED ({_WEIGHED}) SELECT * FROM ({weighed_masses_sql('weighed', RECORDS)}) "
        f"ORDER BY {ORDER}",
        (dumps(list(builds)),),
    ).fetchall()
    labels = dict(
        cursor.execute(
            "SELECT b.id, b.label FROM json_each(?) t CROSS JOIN builds b ON b.id = t.value",
            (dumps(list({row[0] for row in found})),),
        )
    )
    said = []
    for build, same in groupby(map(Mass._make, found), key=attrgetter("build")):
        masses = list(same)
        said += [one for mass in masses if (one := _of(masses, mass, labels[build])) is not None]
    return said


def _of(masses: list[Mass], mass: Mass, label: str) -> Uncompared | None:
    if mass.taken != "weighed":
        return None
    others = [one for one in masses if one is not mass and one.runs is not None]
    is_off = mass.mass_basis == LEFT_OPEN
    is_alone = is_off or not any(one.mass_basis == mass.mass_basis for one in others)
    bases = dict.fromkeys(one.mass_basis for one in others if one.mass_basis not in (NOT_SAID, LEFT_OPEN))
    if mass.runs is not None and not (is_alone and (is_off or mass.mass_basis == NOT_SAID or others)):
        return None
    return Uncompared(
        mass.build,
        label,
        mass.mass_g,
        mass.day,
        NOT_SAID if is_off else mass.mass_basis,
        mass.runs,
        tuple(bases) if is_alone else (),
        is_alone,
        is_off,
    )
