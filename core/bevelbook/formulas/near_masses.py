"""Which known mass of a build a reading is near: what was on the scale, where nobody says it.

A closed diff loses mass only by its oil, and gains none by running. So a reading fits a known mass if it is not heavier
than the scale explains, and not lighter by more than all of the oil. Anything else was on the scale as well, or is
missing from it, and no basis is taken then.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import sqrt
from typing import Final, NamedTuple

from bevelbook.declare.vocabulary import NOT_SAID
from bevelbook.formulas.same_runs import CLEAR_K

MOST_LOST_SHARE: Final = 0.1
"""Where the oil is not known, at most this share of a known mass counts as lost oil (our own figure)."""
LIGHTER_ALIKE_G: Final = 0.10
"""From here on two diffs that are lighter by the same amount on one day are asked about (our own figure): two
equal small losses are common, two equal large ones are not."""
_DECIMALS: Final = 6


class KnownMass(NamedTuple):
    """A mass of a build that is known on a basis, with the variance of that reading and where it is from in words."""

    mass_basis: str
    mass_g: float
    variance_g2: float
    where: str

    @property
    def words(self) -> str:
        """``closed: 22.36 g at the build``."""
        return f"{self.mass_basis}: {self.mass_g:.2f} g {self.where}"


class Offset(NamedTuple):
    """How far a reading is from the known mass that it is nearest to; positive is heavier. ``clear_g`` is the smallest
    difference that the scale does not explain."""

    nearest: KnownMass
    offset_g: float
    clear_g: float

    @property
    def is_over(self) -> bool:
        """Whether the reading is heavier than the scale explains."""
        return self.offset_g > self.clear_g

    @property
    def words(self) -> str:
        """``0.30 g over closed (22.36 g at the build)``."""
        return f"{abs(self.offset_g):.2f} g {self.of_what}"

    @property
    def of_what(self) -> str:
        """``over closed (22.36 g at the build)``."""
        way, near = "over" if self.offset_g > 0 else "under", self.nearest
        basis = "a mass whose basis was not said" if near.mass_basis == NOT_SAID else near.mass_basis
        return f"{way} {basis} ({near.mass_g:.2f} g {near.where})"


def fitting(
    reading_g: float, variance_g2: float, known: Iterable[KnownMass], oil_in_g: float | None
) -> list[KnownMass]:
    """The known masses that a reading may be of, the nearest of each basis, nearest first.

    >>> closed = KnownMass("closed", 22.36, 8.3e-6, "at the build")
    >>> filled = KnownMass("open half", 14.26, 8.3e-6, "at the build")
    >>> [one.mass_basis for one in fitting(22.24, 8.3e-6, [filled, closed], 1.86)]
    ['closed']
    >>> fitting(22.66, 8.3e-6, [filled, closed], 1.86)
    []
    """
    by_basis: dict[str, list[KnownMass]] = {}
    for one in known:
        by_basis.setdefault(one.mass_basis, []).append(one)
    found = []
    for same in by_basis.values():
        heaviest = max(same, key=lambda one: one.mass_g)
        clear = CLEAR_K * sqrt(variance_g2 + heaviest.variance_g2)
        most_lost = oil_in_g if oil_in_g is not None and oil_in_g > 0 else MOST_LOST_SHARE * heaviest.mass_g
        if heaviest.mass_g - most_lost - clear <= reading_g <= heaviest.mass_g + clear + 1e-9:
            found.append(min(same, key=lambda one: abs(reading_g - one.mass_g)))
    return sorted(found, key=lambda one: abs(reading_g - one.mass_g))


def is_equal(reading_g: float, variance_g2: float, known: KnownMass) -> bool:
    """Whether the scale explains all of the difference."""
    return abs(reading_g - known.mass_g) <= CLEAR_K * sqrt(variance_g2 + known.variance_g2) + 1e-9


def offset_of(reading_g: float, variance_g2: float, known: Sequence[KnownMass]) -> Offset | None:
    """How far a reading is from the nearest known mass; None where no mass is known.

    >>> found = offset_of(22.66, 8.3e-6, [KnownMass("closed", 22.36, 8.3e-6, "at the build")])
    >>> found.words
    '0.30 g over closed (22.36 g at the build)'
    """
    if not known:
        return None
    nearest = min(known, key=lambda one: abs(reading_g - one.mass_g))
    clear = CLEAR_K * sqrt(variance_g2 + nearest.variance_g2)
    return Offset(nearest, round(reading_g - nearest.mass_g, _DECIMALS), clear)


def are_off_alike(one: Offset, other: Offset) -> bool:
    """Whether two readings of two diffs are off by the same amount: more than a scale explains, and equal to the scale.

    Over: any amount that the scale does not explain, since no diff gains mass. Under: from :data:`LIGHTER_ALIKE_G` on,
    if the scale does not explain that either.
    """
    alike = abs(one.offset_g - other.offset_g) <= max(one.clear_g, other.clear_g) + 1e-9
    if not alike:
        return False
    if one.is_over and other.is_over:
        return True
    return all(off.offset_g <= -LIGHTER_ALIKE_G and off.offset_g < -off.clear_g for off in (one, other))
