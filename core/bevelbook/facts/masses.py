"""Every mass of a build in the order of its runs, with what was on the scale; and which mass basis speaks for it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from operator import itemgetter
from typing import Any, Final, NamedTuple

from bevelbook.facts.oil import OIL_IN_G
from bevelbook.facts.runs import runs_at_weighing_sql, runs_of_build_sql
from bevelbook.records.vocabulary import NOT_SAID


class Mass(NamedTuple):
    """One reading. ``runs`` is None where nothing says when it was taken; a scale that is not noted has no step.

    ``step`` puts readings at equal runs in order: filled, closed, weighed, before opening.
    """

    build: str
    mass_basis: str
    runs: float | None
    day: str | None
    mass_g: float
    taken: str
    scale: str | None
    step: int


def masses_sql(builds: str) -> str:
    """All masses of the builds in ``builds``, a table or subquery with the column ``build``.

    The columns are those of Mass, then the build's diff and the oil put in.
    """
    behind = f"b.diff, {OIL_IN_G} AS oil_in_g"
    return f"""
SELECT b.id AS build, coalesce(b.mass_basis, '{NOT_SAID}') AS mass_basis, 0.0 AS runs, b.built_on AS day,
       coalesce(b.filled_mass_g, b.dry_mass_g + b.oil_mass_g) AS mass_g, 'filled' AS taken, b.scale, 0 AS step, {behind}
FROM {builds} t CROSS JOIN builds b ON b.id = t.build
WHERE coalesce(b.filled_mass_g, b.dry_mass_g + b.oil_mass_g) IS NOT NULL
UNION ALL
SELECT b.id, 'closed', 0.0, b.built_on, b.closed_mass_g, 'closed', b.scale, 1, {behind}
FROM {builds} t CROSS JOIN builds b ON b.id = t.build WHERE b.closed_mass_g IS NOT NULL
UNION ALL
SELECT w.build, coalesce(w.mass_basis, '{NOT_SAID}'), {runs_at_weighing_sql("w")}, w.weighed_on, w.mass_g, 'weighed',
       coalesce(w.scale, b.scale), 2, {behind}
FROM {builds} t CROSS JOIN weighings w ON w.build = t.build CROSS JOIN builds b ON b.id = w.build
UNION ALL
SELECT o.build, 'closed', {runs_of_build_sql("o.build")}, o.opened_on, o.closed_mass_g, 'before opening',
       coalesce(o.scale, b.scale), 3, {behind}
FROM {builds} t CROSS JOIN openings o ON o.build = t.build CROSS JOIN builds b ON b.id = o.build
WHERE o.closed_mass_g IS NOT NULL
"""


MASS_COLUMNS: Final = len(Mass._fields)
ORDER: Final = "build, mass_basis, runs, step, day"


def masses_of(connection: sqlite3.Connection, builds: Sequence[str]) -> dict[str, list[Mass]]:
    """All masses of some builds (by id), each build's by basis and then in the order of its runs."""
    from json import dumps

    listed = "(SELECT value AS build FROM json_each(:builds))"
    rows = connection.execute(f"{masses_sql(listed)} ORDER BY {ORDER}", {"builds": dumps(list(builds))})
    return dict(by_build(rows))


def by_build(rows: Iterable[Sequence[Any]]) -> Iterator[tuple[str, list[Mass]]]:
    """Rows of ``masses_sql`` in the order of ``ORDER``, build by build."""
    for build, same in groupby(rows, key=itemgetter(0)):
        yield build, [Mass(*row[:MASS_COLUMNS]) for row in same]


def speaking(masses: Iterable[Mass]) -> list[Mass]:
    """Of the masses of one build, in the order of ``ORDER``, those on the basis that speaks for it.

    That is the basis weighed last, of several weighed at the same runs the one with more masses, then one that was
    named. Empty where none was weighed twice.
    """
    series = _weighed_twice(masses)
    return min(series, key=_rank) if len(series) > 1 else series[0] if series else []


def _weighed_twice(masses: Iterable[Mass]) -> list[list[Mass]]:
    bases = ([one for one in same if one.runs is not None] for _, same in groupby(masses, key=itemgetter(1)))
    return [same for same in bases if len(same) > 1]


def _rank(series: Sequence[Mass]) -> tuple[float, int, bool, str]:
    last = series[-1]
    return (-(last.runs or 0.0), -len(series), last.mass_basis == NOT_SAID, last.mass_basis)
