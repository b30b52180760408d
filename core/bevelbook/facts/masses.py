"""Every mass of a build in the order of its runs, with what was on the scale; and which mass basis is used for it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from bevelbook.declare.vocabulary import NOT_SAID
from bevelbook.facts.oil import FILL_G, FILLED_G, OIL_IN_G
from bevelbook.facts.runs import RECORDS, RunsFrom, runs_at_weighing_sql, runs_of_build_sql

LEFT_OPEN: Final = f"{NOT_SAID}, so compared with nothing"
"""The basis of a weighing that is compared with nothing until its basis is said."""


class Mass(NamedTuple):
    """One reading. ``runs`` is None if it is unknown when it was taken; a scale that is not noted has no step.

    ``step`` puts readings at equal runs in order: filled, closed, weighed, before opening. ``diff`` and ``oil_in_g``
    are the build's diff and the oil in it when it was closed; ``sister_mass_g`` is an empty housing of the same kind
    that was weighed alongside. ``place`` puts readings of one day in order as they were written (see ``_PLACE``).
    """

    build: str
    mass_basis: str
    runs: float | None
    day: str | None
    mass_g: float
    taken: str
    scale: str | None
    step: int
    diff: str
    oil_in_g: float | None
    sister_mass_g: float | None = None
    place: str = ""


NEAR_SHARE: Final = 0.1
"""A reading off a mass by more than this share of it, and by more than all the oil, is of something else (our own
figure)."""
MOST_OVER_G: Final = 0.1
"""How much a reading may be over a mass whose basis is known, and count as one of it: the step of a coarse scale (this
project's proposal)."""
_ON_NO_BASIS_G: Final = f"CASE WHEN b.mass_basis IS NULL THEN {FILLED_G} END"
_ON_A_BASIS_G: Final = f"coalesce(b.closed_mass_g, {FILLED_G})"
_FAR_G: Final = f"max({NEAR_SHARE} * {{}}, coalesce({FILL_G}, 0.0)) + 1e-9"
WEIGHED_AS: Final = f"""CASE WHEN w.mass_basis IS NOT NULL THEN w.mass_basis
     WHEN {_ON_NO_BASIS_G} IS NOT NULL THEN
         iif(abs(w.mass_g - {_ON_NO_BASIS_G}) <= {_FAR_G.format(_ON_NO_BASIS_G)}, '{NOT_SAID}', '{LEFT_OPEN}')
     WHEN w.mass_g > {_ON_A_BASIS_G} + {MOST_OVER_G} OR {_ON_A_BASIS_G} - w.mass_g > {_FAR_G.format(_ON_A_BASIS_G)}
         THEN '{LEFT_OPEN}'
     ELSE '{NOT_SAID}' END"""
"""What was on the scale at the weighing ``w`` of the build ``b``.

A weighing without a basis is compared with the filled mass if that has none either, else with others like it; but only
near that mass, or near one that the build has on a basis. A build without any mass has nothing to be near.
"""

_PLACE: Final = "printf('%s %09d %s', {row}.created_at, {row}.note_line, {row}.id)"
"""When the record ``row`` of a reading was written, at which line, and its id: every laptop orders by it alike."""


def masses_sql() -> tuple[str, ...]:
    """All masses of all builds, one SELECT for each way to take one; columns as in Mass, without diff, oil and
    place."""
    return _masses_sql("builds", RECORDS, "JOIN", "(SELECT k.runs FROM build_facts k WHERE k.build = o.build)")


def weighed_masses_sql(builds: str, runs: RunsFrom) -> str:
    """All masses of the builds in ``builds``, a table with the columns :data:`OF_A_BUILD`; columns as in Mass."""
    behind = f", b.diff, {OIL_IN_G} AS oil_in_g"
    selects = _masses_sql(
        builds, runs, "CROSS JOIN", runs_of_build_sql("o.build", runs), behind, f", {_PLACE} AS place"
    )
    return "\nUNION ALL\n".join(selects)


def _masses_sql(
    builds: str, runs: RunsFrom, join: str, runs_when_opened: str, behind: str = "", place: str = ""
) -> tuple[str, ...]:
    of_build, of_weighing, of_opening = (place.format(row=row) for row in "bwo")
    return (
        f"""SELECT b.id AS build, coalesce(b.mass_basis, '{NOT_SAID}') AS mass_basis, 0.0 AS runs, b.built_on AS day,
       {FILLED_G} AS mass_g, 'filled' AS taken, b.scale AS scale, 0 AS step{behind}, b.sister_mass_g{of_build}
FROM {builds} b WHERE {FILLED_G} IS NOT NULL""",
        f"""SELECT b.id AS build, 'closed' AS mass_basis, 0.0 AS runs, b.built_on AS day,
       b.closed_mass_g AS mass_g, 'closed' AS taken, b.scale AS scale, 1 AS step{behind}, b.sister_mass_g{of_build}
FROM {builds} b WHERE b.closed_mass_g IS NOT NULL""",
        f"""SELECT w.build AS build, {WEIGHED_AS} AS mass_basis, {runs_at_weighing_sql("w", runs)} AS runs,
       w.weighed_on AS day, w.mass_g AS mass_g, 'weighed' AS taken, coalesce(w.scale, b.scale) AS scale,
       2 AS step{behind}, w.sister_mass_g{of_weighing}
FROM {builds} b {join} weighings w ON w.build = b.id""",
        f"""SELECT o.build AS build, 'closed' AS mass_basis, {runs_when_opened} AS runs, o.opened_on AS day,
       o.closed_mass_g AS mass_g, 'before opening' AS taken, coalesce(o.scale, b.scale) AS scale,
       3 AS step{behind}, o.sister_mass_g{of_opening}
FROM {builds} b {join} openings o ON o.build = b.id WHERE o.closed_mass_g IS NOT NULL""",
    )


OF_A_BUILD: Final = (
    "id, diff, kind, built_on, day_order, created_at, note_line, mass_basis, dry_mass_g, oil_mass_g, "
    "filled_mass_g, closed_mass_g, scale, sister_mass_g"
)
"""The columns of a build that its masses, and the oil in it, depend on."""
ORDER: Final = "build, mass_basis, runs, step, day, place"


def comparable(masses: Sequence[Mass]) -> list[list[Mass]]:
    """The masses of one build, in the order of ``ORDER``, by basis: each basis that can show a loss, the newest first.

    Of several weighed last at the same runs the one with more masses comes first, then one that was named. A basis
    without runs between its masses is left out: readings at one count are one.
    """
    if masses and masses[0].mass_basis == masses[-1].mass_basis != LEFT_OPEN and masses[0].runs is not None:
        return [list(masses)] if masses[0].runs != masses[-1].runs else []
    bases = _by_basis(masses)
    return sorted((same for same in bases if same[0].runs != same[-1].runs), key=_rank)


def without_runs(masses: Sequence[Mass]) -> list[list[Mass]]:
    """The masses of one build by basis, for bases with several taken after the same runs and none after others."""
    bases = _by_basis(masses)
    return sorted((same for same in bases if len(same) > 1 and same[0].runs == same[-1].runs), key=_rank)


def _by_basis(masses: Sequence[Mass]) -> list[list[Mass]]:
    """Those taken after known runs, without those that are compared with nothing."""
    bases: dict[str, list[Mass]] = {}
    for one in masses:
        if one.runs is not None and one.mass_basis != LEFT_OPEN:
            bases.setdefault(one.mass_basis, []).append(one)
    return list(bases.values())


def _rank(series: Sequence[Mass]) -> tuple[float, int, bool, str]:
    last = series[-1]
    return (-(last.runs or 0.0), -len(series), last.mass_basis == NOT_SAID, last.mass_basis)
