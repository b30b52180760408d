"""What a dry mass that differs from the last one may be missing: shims, rings, screws and lid by what they weigh."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from itertools import groupby
from typing import Final, NamedTuple

from bevelbook.declare.vocabulary import SHAFT_SEAL_PLACES
from bevelbook.facts.changed_parts import OTHER_SHIMS
from bevelbook.facts.dry_mass import DryMassChange, dry_mass_change
from bevelbook.facts.scales import noise_of
from bevelbook.facts.sql import Row, rows
from bevelbook.physics.part_masses import MassRange, rubber_ring_range, screw_range, shim_range
from bevelbook.physics.shim_mass import shim_mass_g

OPEN_HALF: Final = "open half"
THIN_SHIM_MM: Final = (5.0, 7.0, 0.2)
"""A common thin shim: bore, outside diameter and thickness; a shim without sizes is taken to be as wide."""
MOST_NAMED: Final = 2
_MOST_ALIKE: Final = 3
_LID_SHARE: Final = 0.05
_ROUNDING: Final = 0.6
"""How far off a part a difference may be, in steps of the scale, to be asked about although the readings cannot show
it; our own figure."""
_NUMBERS: Final = {1: "a", 2: "two", 3: "three"}
_ALL_IN: Final = "are all shims, gasket, pins and screws in"
_LEFT_IN: Final = "oil or water left from washing"


class Suspect(NamedTuple):
    """A part that may be missing or too many, in words, with what it weighs and how that is known."""

    words: str
    mass: MassRange
    known_from: str

    @property
    def mass_words(self) -> str:
        """``a 0.2 mm shim is 0.030 g (5 x 7 mm, steel)``."""
        low, high = self.mass
        span = f"{low:.3f} g" if high - low < 0.0005 else f"{low:.2f} to {high:.2f} g"
        return f"{self.words} is {span} ({self.known_from})"


class DryMassHint(NamedTuple):
    """A dry mass that differs from the last one, and the parts that weigh as much as it differs by, likeliest first.

    ``off_g`` is how much it is off, ``shims_g`` what other shims make of that difference, which is taken off.
    ``is_asked`` is whether it should be asked about: the readings show it, or it is just a shim's.
    """

    change: DryMassChange
    off_g: float
    shims_g: float
    suspects: tuple[Suspect, ...]
    is_asked: bool

    @property
    def words(self) -> str:
        """``0.03 g light: a 0.2 mm shim?``."""
        named = [one.words for one in self.suspects[:MOST_NAMED]]
        gap = f"{abs(self.off_g):.2f} g"
        if self.off_g < 0:
            return f"{gap} light: {' or '.join(named) or _ALL_IN}?"
        extra = "".join(f"{one} too many, or " if "shim" in one else f"{one}, or " for one in named[:1])
        return f"{gap} heavy: {extra}{_LEFT_IN}?"

    @property
    def beside(self) -> tuple[str, ...]:
        """What it is compared with, what the readings can show, and what the parts weigh."""
        one = self.change
        is_seen = abs(self.off_g) > one.seen_g
        limit = "" if is_seen else f"; these readings can show {one.seen_g:.2f} g, so it may be the scale too"
        more = "more" if self.shims_g > 0 else "less"
        noted = f"its shims now make {abs(self.shims_g):.2f} g {more}" if one.noted else "nothing is noted as changed"
        first = f"dry, {one.before_label} had {one.before_g:.2f} g, and {noted}{limit}"
        return (first, *(suspect.mass_words for suspect in self.suspects[:MOST_NAMED]))


def dry_mass_hint(connection: sqlite3.Connection, build: str) -> DryMassHint | None:
    """The hint for the dry mass of a build (by id) as it is written; None where it is as it should be, where there is
    none to compare with, and where other parts with a mass were noted as changed than shims of known sizes."""
    change = dry_mass_change(connection, build, though_noted=True, though_unknown=True)
    if change is None or change.noted not in ("", OTHER_SHIMS):
        return None
    shims_g = _shims_g(connection, change) if change.noted else 0.0
    row = rows(
        connection,
        "SELECT b.scale, b.mass_basis, d.screw_size, d.usual_lid_mass_g FROM builds b JOIN diffs d ON d.id = b.diff "
        "WHERE b.id = ?",
        (build,),
    )[0]
    step_g = noise_of(connection, row["scale"]).step_g
    if shims_g is None or abs(change.change_g - shims_g) <= step_g / 2.0 + 1e-9:
        return None
    off_g = change.change_g - shims_g
    near_g = max(change.seen_g, step_g)
    parts = [one for one in _parts(connection, change, row, off_g) if one.mass.off_by_g(abs(off_g)) <= near_g + 1e-9]
    parts.sort(key=lambda one: (one.mass.off_by_g(abs(off_g)), one.mass.high_g - one.mass.low_g, one.words))
    is_a_shim = off_g < 0 and any(
        "shim" in one.words and one.mass.off_by_g(abs(off_g)) <= _ROUNDING * step_g for one in parts
    )
    is_seen = abs(off_g) > change.seen_g + 1e-9
    return DryMassHint(change, off_g, shims_g, tuple(parts), is_seen or is_a_shim)


def _shims_g(connection: sqlite3.Connection, change: DryMassChange) -> float | None:
    """What the shims of the build weigh more than those of the build before, in g; None where a size is not noted."""
    total = 0.0
    for build, sign in ((change.build, 1.0), (change.before, -1.0)):
        for row in _stack(connection, build):
            if row["bore_mm"] is None or row["outside_diameter_mm"] is None:
                return None
            sizes = (row["bore_mm"], row["outside_diameter_mm"], row["thickness_mm"])
            total += sign * row["pieces"] * shim_mass_g(*sizes)
    return total


def _stack(connection: sqlite3.Connection, build: str) -> list[Row]:
    """The shims of a build by size; material taken away has a negative thickness."""
    return rows(
        connection,
        "SELECT thickness_mm, bore_mm, outside_diameter_mm, sum(pieces) AS pieces FROM build_shims "
        "WHERE build = ? GROUP BY thickness_mm, bore_mm, outside_diameter_mm "
        "ORDER BY thickness_mm, bore_mm, outside_diameter_mm",
        (build,),
    )


def _parts(connection: sqlite3.Connection, change: DryMassChange, build: Row, off_g: float) -> Iterator[Suspect]:
    """The parts that may be missing; of a build that is heavier, those that may be there twice."""
    yield from _shims(_stack(connection, change.build) or _stack(connection, change.before))
    is_light, is_open_half = off_g < 0, build["mass_basis"] == OPEN_HALF
    if is_light:
        yield from _rings(connection, change.before)
    screw = screw_range(build["screw_size"] or "")
    if is_light and not is_open_half and screw is not None:
        yield Suspect("a screw", screw, f"{build['screw_size']}, steel, from its thread alone to a cylinder head")
    lid_g = build["usual_lid_mass_g"]
    if lid_g is not None and is_light != is_open_half:
        wide_g = _LID_SHARE * lid_g
        words = "the lid with its screws" if is_light else "the lid on the scale"
        yield Suspect(words, MassRange(lid_g - wide_g, lid_g + wide_g), f"usually {lid_g:g} g with its screws")


def _shims(stack: list[Row]) -> Iterator[Suspect]:
    for row in stack:
        if row["thickness_mm"] <= 0:
            continue
        bore, outside = row["bore_mm"], row["outside_diameter_mm"]
        is_known = bore is not None and outside is not None and outside > bore
        if not is_known:
            bore, outside, _ = THIN_SHIM_MM
        taken = "" if is_known else "taken as "
        for pieces in range(1, min(row["pieces"], _MOST_ALIKE) + 1):
            yield Suspect(
                f"{_NUMBERS[pieces]} {row['thickness_mm']:g} mm shim{'s' if pieces > 1 else ''}",
                shim_range(bore, outside, row["thickness_mm"], pieces),
                f"{taken}{bore:g} x {outside:g} mm, steel",
            )


def _rings(connection: sqlite3.Connection, build: str) -> Iterator[Suspect]:
    found = rows(
        connection,
        "SELECT n.place, s.label, s.inside_diameter_mm, s.section_mm "
        "FROM seal_fittings n JOIN seals s ON s.id = n.seal "
        "WHERE n.build = ? AND s.form IN ('O-ring', 'four-lobed ring') "
        "AND s.inside_diameter_mm IS NOT NULL AND s.section_mm IS NOT NULL ORDER BY s.label, n.place, n.id",
        (build,),
    )
    for _, same in groupby(found, key=lambda row: row["label"]):
        row = next(same)
        words = "a shaft ring" if row["place"] in SHAFT_SEAL_PLACES else "the joint ring"
        mass = rubber_ring_range(row["inside_diameter_mm"], row["section_mm"])
        yield Suspect(words, mass, f"{row['label']}, rubber of 1.1 to 1.4 g/cm3")
