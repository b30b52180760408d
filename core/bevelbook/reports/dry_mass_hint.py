"""What a dry mass that differs from the last one may be missing: shims, rings, screws and lid by what they weigh."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from itertools import groupby
from typing import Final, NamedTuple

from bevelbook.declare.vocabulary import SHAFT_SEAL_PLACES
from bevelbook.facts.dry_mass import DryMassChange, dry_mass_change
from bevelbook.facts.scales import noise_of
from bevelbook.facts.sql import Row, rows
from bevelbook.physics.part_masses import MassRange, rubber_ring_range, screw_range, shim_range

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

    ``is_asked`` is whether it should be asked about: the readings show the difference, or it is just a shim's.
    """

    change: DryMassChange
    suspects: tuple[Suspect, ...]
    is_asked: bool

    @property
    def words(self) -> str:
        """``0.03 g light: a 0.2 mm shim?``."""
        named = [one.words for one in self.suspects[:MOST_NAMED]]
        gap = f"{abs(self.change.change_g):.2f} g"
        if self.change.change_g < 0:
            return f"{gap} light: {' or '.join(named) or _ALL_IN}?"
        extra = "".join(f"{one} too many, or " if "shim" in one else f"{one}, or " for one in named)
        return f"{gap} heavy: {extra}{_LEFT_IN}?"

    @property
    def beside(self) -> tuple[str, ...]:
        """What it is compared with, what the readings can show, and what the parts weigh."""
        one = self.change
        limit = "" if one.is_seen else f"; these readings can show {one.seen_g:.2f} g, so it may be the scale too"
        first = f"dry, {one.before_label} had {one.before_g:.2f} g, and nothing is noted as changed{limit}"
        return (first, *(suspect.mass_words for suspect in self.suspects[:MOST_NAMED]))


def dry_mass_hint(connection: sqlite3.Connection, build: str) -> DryMassHint | None:
    """The hint for the dry mass of a build (by id) as it is written; None where it is as the last one, where there is
    none to compare with, and where parts with a mass were noted as changed."""
    change = dry_mass_change(connection, build)
    if change is None or change.noted or abs(change.change_g) < 1e-9:
        return None
    row = rows(
        connection,
        "SELECT b.scale, b.mass_basis, d.screw_size, d.usual_lid_mass_g FROM builds b JOIN diffs d ON d.id = b.diff "
        "WHERE b.id = ?",
        (build,),
    )[0]
    step_g = noise_of(connection, row["scale"]).step_g
    gap_g = abs(change.change_g)
    near_g = max(change.seen_g, step_g)
    parts = [one for one in _parts(connection, change, row) if one.mass.off_by_g(gap_g) <= near_g + 1e-9]
    parts.sort(key=lambda one: (one.mass.off_by_g(gap_g), one.mass.high_g - one.mass.low_g, one.words))
    is_a_shim = change.change_g < 0 and any(
        "shim" in one.words and one.mass.off_by_g(gap_g) <= _ROUNDING * step_g for one in parts
    )
    return DryMassHint(change, tuple(parts), change.is_seen or is_a_shim)


def _parts(connection: sqlite3.Connection, change: DryMassChange, build: Row) -> Iterator[Suspect]:
    """The parts of the build before that may be missing; of one that is heavier, those that may be there twice."""
    yield from _shims(connection, change.before)
    is_light, is_open_half = change.change_g < 0, build["mass_basis"] == OPEN_HALF
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


def _shims(connection: sqlite3.Connection, build: str) -> Iterator[Suspect]:
    found = rows(
        connection,
        "SELECT thickness_mm, bore_mm, outside_diameter_mm, sum(pieces) AS pieces FROM build_shims "
        "WHERE build = ? AND thickness_mm > 0 GROUP BY thickness_mm, bore_mm, outside_diameter_mm "
        "ORDER BY thickness_mm, bore_mm, outside_diameter_mm",
        (build,),
    )
    for row in found:
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
