"""The dry mass of a diff: which one holds for a build, why there is none, and how it compares with the one before.

A dry mass holds until the diff is opened or taken apart: after a rebuild, after washing, and with any part changed,
there is none until one is weighed. In a top-up, or in an oil change without washing and with the same parts, the last
one goes on holding, and old oil that was left inside counts as oil.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Final, NamedTuple

from bevelbook.declare.vocabulary import OIL_CHANGE, TOP_UP
from bevelbook.display.days import day_in_words
from bevelbook.facts.builds import newest_first, oldest_first, place_sql
from bevelbook.facts.changed_parts import ChangedParts
from bevelbook.facts.newest_builds import Among, all_builds
from bevelbook.facts.sql import Row, rows
from bevelbook.physics.weighing import dry_mass_change_seen_g, scale_noise

WITHOUT_OPENING_UP: Final = (TOP_UP, OIL_CHANGE)
"""Kinds of build in which the diff is not taken apart."""

MOST_BY_PARTS_G: Final = 5.0
MOST_BY_PARTS_SHARE: Final = 0.2
"""Other parts explain a change of the dry mass up to this many grams, and up to this share of it (this project's
proposal)."""
_LOOKED_BACK: Final = 20
"""The most builds in a row through which a dry mass goes on holding."""
_COLUMNS: Final = (
    "b.id AS build, b.label, b.diff, b.built_on, b.kind, b.washed, b.dry_mass_g, b.mass_basis, b.gasket, b.grease, "
    "b.parts_on_pan, b.scale, s.step_g, s.repeatability_g, s.day_to_day_g, s.error_bound_g"
)


class DryMass(NamedTuple):
    """The dry mass that holds for a build, in g; None where there is none.

    ``words`` say where it comes from, or why there is none; ``of_build`` is the id of the build it was weighed for.
    """

    mass_g: float | None
    words: str
    of_build: str | None = None
    is_own: bool = False
    """Whether it was weighed for this very build."""
    is_to_come: bool = False
    """Whether there is none because the build was taken apart for it and is not weighed yet."""
    is_never: bool = False
    """Whether no build of the diff was ever weighed dry."""


class DryMassChange(NamedTuple):
    """A dry mass (in g) beside the last one of its diff on the same basis, that no noted change of parts explains.

    ``seen_g`` is the smallest change that the two readings can show; ``noted`` is what was noted as changed between;
    ``build`` and ``before`` are ids.
    """

    build: str
    label: str
    built_on: str
    mass_g: float
    before_label: str
    before_on: str
    before_g: float
    seen_g: float
    noted: str = ""
    before: str = ""

    @property
    def change_g(self) -> float:
        return round(self.mass_g - self.before_g, 6)

    @property
    def is_seen(self) -> bool:
        return abs(self.change_g) > self.seen_g + 1e-9


def dry_mass_of(connection: sqlite3.Connection, build: str) -> DryMass:
    """The dry mass that holds for a build (by id), for pouring oil into it now.

    A diff that was opened and not built since has none, whatever was weighed before. Of a build that another one
    replaced, the dry mass is the one that held then.
    """
    found = rows(
        connection,
        f"SELECT {_COLUMNS}, CASE WHEN f.current_build = b.id THEN k.opened_on END AS opened_on "
        "FROM builds this CROSS JOIN builds b ON b.diff = this.diff "
        f"AND {place_sql('b')} <= {place_sql('this')} LEFT JOIN scales s ON s.id = b.scale "
        "LEFT JOIN build_facts k ON k.build = b.id LEFT JOIN diff_facts f ON f.diff = b.diff "
        f"WHERE this.id = ? ORDER BY {newest_first('b')} LIMIT {_LOOKED_BACK}",
        (build,),
    )
    if not found:
        return DryMass(None, "no dry mass")
    holding = _holding(connection, found[::-1])
    if holding.mass_g is not None:
        return holding
    ever = connection.execute(
        "SELECT 1 FROM builds WHERE diff = ? AND dry_mass_g IS NOT NULL LIMIT 1", (found[0]["diff"],)
    ).fetchone()
    return holding._replace(is_never=ever is None)


def _holding(connection: sqlite3.Connection, builds: Sequence[Row]) -> DryMass:
    """The same for the last of one diff's builds, oldest first."""
    this = builds[-1]
    if this["opened_on"] is not None:
        opened = day_in_words(this["opened_on"], beside=this["built_on"])
        return DryMass(None, f"no dry mass since {this['label']} was opened on {opened}")
    if this["dry_mass_g"] is not None:
        return DryMass(this["dry_mass_g"], f"weighed for {this['label']}", this["build"], is_own=True)
    parts: ChangedParts | None = None
    for place in range(len(builds) - 1, 0, -1):
        here, before = builds[place], builds[place - 1]
        since = f"no dry mass since {here['label']}"
        if here["kind"] not in WITHOUT_OPENING_UP:
            day = day_in_words(here["built_on"], beside=this["built_on"])
            return DryMass(None, f"{since} was built on {day}", is_to_come=here is this)
        if here["washed"] == "yes":
            return DryMass(None, f"{since}, which was washed out")
        parts = parts or ChangedParts(connection, this["diff"])
        changes = parts.between((before, here))
        if changes:
            return DryMass(None, f"{since}: {', '.join(dict.fromkeys(one.words for one in changes))}")
        if here["mass_basis"] is not None and before["mass_basis"] not in (None, here["mass_basis"]):
            return DryMass(None, f"{since}, which is weighed on another basis")
        if before["dry_mass_g"] is not None:
            day = day_in_words(before["built_on"], beside=this["built_on"])
            words = f"dry mass of {day}, same parts; old oil left inside counts as oil"
            return DryMass(before["dry_mass_g"], words, before["build"])
    return DryMass(None, f"{builds[0]['label']} was never weighed dry", is_to_come=len(builds) == 1)


def dry_mass_changes(
    connection: sqlite3.Connection, diff: str | None = None, among: Among = all_builds
) -> Iterator[DryMassChange]:
    """Every dry mass beside the last one, in the order of builds: of one diff (by id), or of all.

    One that a noted change of parts may explain is left out, and so is the first of a diff on its basis.
    """
    return _changes(connection, diff, False, among=among)


def _changes(
    connection: sqlite3.Connection,
    diff: str | None,
    though_noted: bool,
    though_unknown: bool = False,
    among: Among = all_builds,
) -> Iterator[DryMassChange]:
    where, given = ("WHERE b.diff = ?", (diff,)) if diff else ("", ())
    found = rows(
        connection,
        among(
            f"SELECT {_COLUMNS} FROM builds b LEFT JOIN scales s ON s.id = b.scale {where} "
            f"ORDER BY b.diff, {oldest_first('b')}"
        ),
        given,
    )
    parts = ChangedParts(connection, diff)
    for _, same in groupby(found, key=lambda row: row["diff"]):
        yield from _changes_of(list(same), parts, though_noted, though_unknown)


def dry_mass_change(
    connection: sqlite3.Connection, build: str, *, though_noted: bool = False, though_unknown: bool = False
) -> DryMassChange | None:
    """How the dry mass of a build (by id) compares with the last one; None where there is nothing to compare.

    One that a noted change of parts may explain is there only where ``though_noted``. Where ``though_unknown``, it is
    compared with the last of which it is not known that the basis is another.
    """
    row = connection.execute("SELECT diff FROM builds WHERE id = ? AND dry_mass_g IS NOT NULL", (build,)).fetchone()
    if row is None:
        return None
    found = _changes(connection, row[0], though_noted, though_unknown)
    return next((one for one in found if one.build == build), None)


def _changes_of(
    builds: Sequence[Row], parts: ChangedParts, though_noted: bool, though_unknown: bool
) -> Iterator[DryMassChange]:
    last: dict[str | None, int] = {}
    for place, build in enumerate(builds):
        if build["dry_mass_g"] is None:
            continue
        basis = build["mass_basis"]
        may_be = last if basis is None else {basis, None}
        alike = [last[one] for one in (may_be if though_unknown else {basis}) if one in last]
        before_place = max(alike, default=None)
        last[basis] = place
        if before_place is None:
            continue
        before = builds[before_place]
        noted = [one.words for one in parts.between(builds[before_place : place + 1]) if one.has_a_mass]
        if noted and not though_noted and not is_more_than_parts(before["dry_mass_g"], build["dry_mass_g"]):
            continue
        yield DryMassChange(
            build["build"],
            build["label"],
            build["built_on"],
            build["dry_mass_g"],
            before["label"],
            before["built_on"],
            before["dry_mass_g"],
            smallest_change_seen_g(before, build),
            ", ".join(dict.fromkeys(noted)),
            before["build"],
        )


def is_more_than_parts(before_g: float, dry_mass_g: float) -> bool:
    """Whether other parts cannot explain the difference of two dry masses.

    >>> is_more_than_parts(12.40, 14.80), is_more_than_parts(12.40, 14.90), is_more_than_parts(41.0, 46.5)
    (False, True, True)
    """
    return abs(dry_mass_g - before_g) > min(MOST_BY_PARTS_G, MOST_BY_PARTS_SHARE * before_g) + 1e-9


class LastDryMass(NamedTuple):
    """The last dry mass of a diff, in g, with the build and the day that it was weighed for."""

    mass_g: float
    label: str
    built_on: str


def last_dry_mass(
    connection: sqlite3.Connection, diff: str, day: str, mass_basis: str | None, but: str | None
) -> LastDryMass | None:
    """The last dry mass of a diff (by id) up to a day, without the build ``but`` (by id), that may be on this basis.

    Where one of the two bases is not said, they may be equal.
    """
    row = connection.execute(
        "SELECT b.dry_mass_g, b.label, b.built_on FROM builds b WHERE b.diff = ? AND b.built_on <= ? AND b.id IS NOT ? "
        "AND b.dry_mass_g IS NOT NULL AND coalesce(b.mass_basis = ?, 1) "
        f"ORDER BY {newest_first('b')} LIMIT 1",
        (diff, day, but, mass_basis),
    ).fetchone()
    return None if row is None else LastDryMass(*row)


def smallest_change_seen_g(before: Row, build: Row) -> float:
    """The smallest change of the dry mass that the readings of two builds can show, in g."""
    noises = (
        scale_noise(one["step_g"], one["repeatability_g"], one["day_to_day_g"], one["error_bound_g"])
        for one in (before, build)
    )
    return dry_mass_change_seen_g(*noises, is_other_scale=before["scale"] != build["scale"])
