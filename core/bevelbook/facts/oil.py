"""The oil in a build: its viscosity at 25 °C with the origin, and how much went in."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from itertools import groupby
from typing import Final

from bevelbook.declare.vocabulary import TOP_UP
from bevelbook.facts.builds import newest_first, place_sql
from bevelbook.physics.blending import log_blend_cst, mass_fractions

OWN_MEASUREMENT: Final = "own measurement of the bottle"
THE_BUILD: Final = "the build"
THE_FLUID: Final = "the fluid"
BLENDED: Final = "computed from its blend"

OIL_KNOWN_FROM: Final = ("bottles", "builds", "fluids")
"""The tables that may have an oil's viscosity or density; the first that has it is used."""
VISCOSITY_OF_BOTTLE: Final = "coalesce(bo.viscosity_cst, f.viscosity_cst)"
"""The same for the bottle ``bo`` of the fluid ``f``, without a build."""
DENSITY_G_CM3: Final = "coalesce(bo.density_g_cm3, f.density_g_cm3)"
"""Density at 25 °C of the oil in a build: the bottle's own, else the fluid's."""
FILLED_G: Final = "coalesce(b.filled_mass_g, round(b.dry_mass_g + b.oil_mass_g, 6))"
"""Mass of the build ``b`` with its oil in: as weighed, else as the sum of dry mass and oil."""
_FILL_G: Final = "coalesce({build}.oil_mass_g, round({build}.filled_mass_g - {build}.dry_mass_g, 6))"
OIL_IN_G: Final = f"""CASE WHEN b.kind IS '{TOP_UP}' THEN (
    SELECT {_FILL_G.format(build="fill")} FROM builds fill
    WHERE fill.diff = b.diff AND fill.kind IS NOT '{TOP_UP}' AND {place_sql("fill")} < {place_sql("b")}
    ORDER BY {newest_first("fill")} LIMIT 1)
ELSE {_FILL_G.format(build="b")} END"""
"""Oil in the build ``b`` when it was closed, in g: as noted, else by the difference of its masses.

0 or less does not count as a fill. A top-up only replaces what went missing, so the grams added are not the oil in it:
it counts as filled up again to the last fill before it. If that is not known, neither is the oil in it.
"""
FILL_G: Final = _FILL_G.format(build="b")
"""Grams of oil that went into the build ``b`` itself; of a top-up those that were added."""
OIL_JOINS: Final = "LEFT JOIN bottles bo ON bo.id = b.bottle LEFT JOIN fluids f ON f.id = b.fluid"
"""The joins that the viscosity of the build ``b`` needs."""


def fill_g(oil_g: float | None, dry_g: float | None, filled_g: float | None) -> float | None:
    """:data:`FILL_G` of a build that no database has yet, from its masses in g; None where it does not follow.

    >>> fill_g(1.86, 12.4, 14.3), fill_g(None, 12.4, 14.3), fill_g(None, None, 14.3)
    (1.86, 1.9, None)
    """
    if oil_g is not None or dry_g is None or filled_g is None:
        return oil_g
    return round(filled_g - dry_g, 6)


def viscosity_sql(blend: str = "NULL") -> str:
    """Viscosity at 25 °C in cSt: the bottle's own, else the build's, else the fluid's, else that of its blend."""
    return f"coalesce(bo.viscosity_cst, b.viscosity_cst, f.viscosity_cst, {blend})"


def viscosity_from_sql(blend: str = "NULL") -> str:
    """Where that viscosity comes from, in words."""
    return (
        f"CASE WHEN bo.viscosity_cst IS NOT NULL THEN '{OWN_MEASUREMENT}' "
        f"WHEN b.viscosity_cst IS NOT NULL THEN coalesce(b.viscosity_from, '{THE_BUILD}') "
        f"WHEN f.viscosity_cst IS NOT NULL THEN coalesce(f.viscosity_source, '{THE_FLUID}') "
        f"WHEN {blend} IS NOT NULL THEN '{BLENDED}' END"
    )


def blended(connection: sqlite3.Connection, builds: str | None = None) -> Iterator[tuple[str, float]]:
    """Builds that have the parts of a blend, each with the blend's viscosity at 25 °C in cSt.

    ``builds`` is a table or subquery with the column ``build``; None for all builds.
    """
    parts = "blend_parts p" if builds is None else f"{builds} t CROSS JOIN blend_parts p ON p.build = t.build"
    rows = connection.execute(
        f"SELECT p.build, p.viscosity_cst, p.mass_g FROM {parts} ORDER BY p.build, p.viscosity_cst, p.id"
    )
    for build, same in groupby(rows, key=lambda row: row[0]):
        oils = [(row[1], row[2]) for row in same]
        if any(None in oil for oil in oils):
            continue
        yield build, log_blend_cst([oil[0] for oil in oils], mass_fractions([oil[1] for oil in oils]))
