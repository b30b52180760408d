"""The known masses of builds, for a reading without a basis; and weighings of one day that are off by the same."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from itertools import combinations, groupby
from typing import Final, NamedTuple

from bevelbook.declare.vocabulary import NOT_SAID
from bevelbook.display.days import day_in_words
from bevelbook.facts.masses import LEFT_OPEN, WEIGHED_AS
from bevelbook.facts.oil import FILLED_G
from bevelbook.formulas.day_number import day_number
from bevelbook.formulas.housing_moisture import Housing, moisture_g
from bevelbook.formulas.near_masses import KnownMass, Offset, are_off_alike, offset_of
from bevelbook.physics.weighing import ScaleNoise, scale_noise

_DAY_OF: Final = "coalesce(w.weighed_on, substr(w.created_at, 1, 10))"
"""The day of the weighing ``w``: that of its writing where none is said."""
_KNOWN: Final = f"""
SELECT coalesce(b.mass_basis, '{NOT_SAID}') AS mass_basis, {FILLED_G} AS mass_g, NULL AS day, 0 AS step, '' AS id,
       b.built_on AS read_on, s.step_g, s.repeatability_g, s.day_to_day_g
FROM builds b LEFT JOIN scales s ON s.id = b.scale WHERE b.id = :build AND {FILLED_G} IS NOT NULL
UNION ALL
SELECT 'closed', b.closed_mass_g, NULL, 1, '', b.built_on, s.step_g, s.repeatability_g, s.day_to_day_g
FROM builds b LEFT JOIN scales s ON s.id = b.scale WHERE b.id = :build AND b.closed_mass_g IS NOT NULL
UNION ALL
SELECT {WEIGHED_AS}, w.mass_g, coalesce(w.weighed_on, ''), 2, w.id, {_DAY_OF}, s.step_g, s.repeatability_g,
       s.day_to_day_g
FROM weighings w JOIN builds b ON b.id = w.build LEFT JOIN scales s ON s.id = coalesce(w.scale, b.scale)
WHERE w.build = :build AND w.id IS NOT :but AND (:before IS NULL OR {_DAY_OF} < :before)
      AND {WEIGHED_AS} <> '{LEFT_OPEN}'
ORDER BY 4, 3, 5
"""


def known_masses(
    connection: sqlite3.Connection,
    build: str,
    noise: ScaleNoise,
    day: str | None,
    *,
    but: str | None = None,
    before: str | None = None,
) -> list[KnownMass]:
    """Every mass of a build (by id) in the order of weighing, without the weighing ``but`` (by id).

    A weighing that is compared with nothing is not among them.

    They are compared with a reading of a ``day``, if known, on a scale that has this ``noise``: the variance of one of
    another day holds what both scales change from day to day, and what water moves in the housing. ``before`` is a day:
    only weighings of earlier days count then.
    """
    found = connection.execute(_KNOWN, {"build": build, "but": but, "before": before}).fetchall()
    housing = _housing_of(connection, build)
    return [
        KnownMass(
            row[0],
            row[1],
            _variance_g2(scale_noise(*row[6:]), noise, row[5], day) + _water_g2(housing, row[5], day),
            _where(row[2]),
        )
        for row in found
    ]


def _variance_g2(known: ScaleNoise, now: ScaleNoise, known_on: str | None, day: str | None) -> float:
    if known_on == day:
        return known.variance_g2
    if known_on is None or day is None:
        return known.variance_g2 + known.known_day_variance_g2 + now.known_day_variance_g2
    return known.variance_g2 + known.day_variance_g2 + now.day_variance_g2


def _housing_of(connection: sqlite3.Connection, build: str) -> Housing:
    row = connection.execute(
        "SELECT d.housing_material, d.housing_mass_g FROM builds b JOIN diffs d ON d.id = b.diff WHERE b.id = ?",
        (build,),
    ).fetchone()
    return Housing(*row) if row else Housing()


def _water_g2(housing: Housing, known_on: str | None, day: str | None) -> float:
    """What water moves the mass by between two days, as a variance in g²; nothing where one of them is not known."""
    known_number, number = day_number(known_on), day_number(day)
    if known_number is None or number is None:
        return 0.0
    return moisture_g(housing, number - known_number) ** 2


def _where(day: str | None) -> str:
    return "at the build" if day is None else f"on {day_in_words(day)}" if day else "on a day not said"


class WeighedOff(NamedTuple):
    """A weighing (in g) with how far it is off what was known of its build before that day."""

    weighing: str
    build: str
    label: str
    diff: str
    diff_label: str
    day: str
    mass_g: float
    offset: Offset


def weighed_off_alike(connection: sqlite3.Connection) -> Iterator[tuple[WeighedOff, WeighedOff]]:
    """Pairs of weighings of two diffs on one day that are off by the same amount, of the builds in use."""
    found = connection.execute(
        f"SELECT {_DAY_OF} AS day, w.id, w.mass_g, b.id, b.label, b.diff, d.label, s.step_g, s.repeatability_g, "
        "s.day_to_day_g "
        "FROM weighings w JOIN builds b ON b.id = w.build JOIN diffs d ON d.id = b.diff "
        "JOIN diff_facts f ON f.current_build = b.id LEFT JOIN scales s ON s.id = coalesce(w.scale, b.scale) "
        "WHERE w.mass_g IS NOT NULL ORDER BY day, w.id"
    ).fetchall()
    for _, group in groupby(found, key=lambda row: row[0]):
        same = list(group)
        if len({row[5] for row in same}) < 2:
            continue
        off = [one for row in same if (one := _off(connection, row)) is not None]
        for one, other in combinations(off, 2):
            if one.diff != other.diff and are_off_alike(one.offset, other.offset):
                yield one, other


def weighed_on_that_day(connection: sqlite3.Connection, day: str, diff: str) -> list[WeighedOff]:
    """The weighings of other diffs than this one (by id) on a day, that have a known mass to compare with."""
    found = connection.execute(
        f"SELECT {_DAY_OF} AS day, w.id, w.mass_g, b.id, b.label, b.diff, d.label, s.step_g, s.repeatability_g, "
        "s.day_to_day_g "
        "FROM weighings w JOIN builds b ON b.id = w.build JOIN diffs d ON d.id = b.diff "
        f"LEFT JOIN scales s ON s.id = coalesce(w.scale, b.scale) WHERE {_DAY_OF} = ? AND b.diff <> ? ORDER BY w.id",
        (day, diff),
    ).fetchall()
    return [one for row in found if (one := _off(connection, row)) is not None]


def _off(connection: sqlite3.Connection, row: sqlite3.Row) -> WeighedOff | None:
    day, weighing, mass_g, build, label, diff, diff_label, *of_scale = row
    noise = scale_noise(*of_scale)
    known = known_masses(connection, build, noise, day, but=weighing, before=day)
    offset = offset_of(mass_g, noise.variance_g2, known)
    return None if offset is None else WeighedOff(weighing, build, label, diff, diff_label, day, mass_g, offset)
