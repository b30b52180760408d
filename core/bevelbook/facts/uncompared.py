"""Weighings that compare with nothing: nothing says when they were taken, or they are alone on their basis."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from itertools import groupby
from json import dumps
from operator import itemgetter
from typing import Any, NamedTuple

from bevelbook.vocabulary import NOT_SAID


class Uncompared(NamedTuple):
    """One weighing (in g). ``runs`` is None where nothing says when it was taken.

    ``other_bases`` are those on which the build has other masses; empty where the basis is not what is missing.
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


def uncompared(connection: sqlite3.Connection, builds: Iterable[str]) -> list[Uncompared]:
    """Weighings of these builds (by id) that compare with nothing.

    The first mass of a build whose basis is named is none of them: the next one will compare with it.
    """
    found = connection.execute(
        "SELECT m.build, b.label, m.mass_g, m.day, m.mass_basis, m.runs, m.taken FROM json_each(?) t "
        "CROSS JOIN masses m ON m.build = t.value JOIN builds b ON b.id = m.build ORDER BY m.build, m.runs, m.step",
        (dumps(list(builds)),),
    ).fetchall()
    said = []
    for _, same in groupby(found, key=itemgetter(0)):
        masses = list(same)
        said += [one for place in range(len(masses)) if (one := _of(masses, place)) is not None]
    return said


def _of(masses: list[Any], place: int) -> Uncompared | None:
    build, label, mass_g, day, basis, runs, taken = masses[place]
    if taken != "weighed":
        return None
    others = [one for number, one in enumerate(masses) if number != place and one[5] is not None]
    is_alone = not any(one[4] == basis for one in others)
    other_bases = tuple(dict.fromkeys(one[4] for one in others if one[4] != NOT_SAID)) if is_alone else ()
    if runs is not None and not (is_alone and (basis == NOT_SAID or others)):
        return None
    return Uncompared(build, label, mass_g, day, basis, runs, other_bases, is_alone)
