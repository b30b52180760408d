"""Whether dry mass, oil and total of one fill agree: the same check for a row of notes and for a record by hand."""

from __future__ import annotations

from math import sqrt
from typing import Final, NamedTuple

from bevelbook.physics.weighing import SEEN_AT_95, reading_uncertainty_g

LARGEST_MISMATCH_G: Final = 0.15
"""Three readings of a 0.1 g scale, half a digit each: what is further apart is a wrong number."""
HALF_DIGITS: Final = 1.5
"""Three readings, each good to half of the scale's last digit, may be off by this many of them together."""
EXACT_G: Final = 5e-4
"""Masses are compared to half a milligram."""
_ROUNDING_G: Final = 1e-9


class MassFault(NamedTuple):
    """Masses that cannot be those of one fill: a stable code, and in words what is wrong and what to do.

    ``at_fault`` are the masses that it is about: of dry, oil and total.
    """

    code: str
    words: str
    remedy: str
    at_fault: tuple[str, ...]


def mass_gap_g(dry_g: float, oil_g: float, total_g: float) -> float:
    """How much the total is over dry mass and oil, in g."""
    return total_g - dry_g - oil_g


def is_mismatch(gap_g: float) -> bool:
    """Whether a gap is too large for any scale in use.

    >>> is_mismatch(0.15), is_mismatch(-0.16)
    (False, True)
    """
    return abs(gap_g) > LARGEST_MISMATCH_G + _ROUNDING_G


def is_explained(gap_g: float, step_g: float, repeatability_g: float | None) -> bool:
    """Whether a scale explains a gap between three of its readings: 1.96 sqrt(3) u, at least three half steps.

    Half a step more, as a gap comes in whole steps; JCGM 100:2008, 5.1.2.

    >>> is_explained(0.02, 0.01, 0.005), is_explained(0.03, 0.01, 0.005)
    (True, False)
    >>> is_explained(0.015, 0.01, 0.0), is_explained(0.02, 0.01, 0.0), is_explained(0.04, 0.01, None)
    (True, False, True)
    """
    scatter_g = SEEN_AT_95 * sqrt(3.0) * reading_uncertainty_g(step_g, repeatability_g) + 0.5 * step_g
    return abs(gap_g) <= max(HALF_DIGITS * step_g, scatter_g) + _ROUNDING_G


def mass_fault(dry_g: float, oil_g: float | None, total_g: float, total: str = "total") -> MassFault | None:
    """Why these masses cannot be those of one fill; None where they can. ``total`` is what the last one is called.

    >>> mass_fault(95.1, None, 14.26).code, mass_fault(12.40, 2.30, 14.26).code, mass_fault(12.40, 1.80, 14.26)
    ('total_below_dry', 'mass_mismatch', None)
    """
    if oil_g is not None and not is_mismatch(mass_gap_g(dry_g, oil_g, total_g)):
        return None
    if total_g < dry_g:
        return MassFault(
            "total_below_dry",
            f"the {total} of {total_g:g} g is less than the dry mass of {dry_g:g} g",
            "Check both readings.",
            ("dry", "total"),
        )
    if oil_g is not None:
        return MassFault(
            "mass_mismatch",
            f"{dry_g:g} g dry and {oil_g:g} g of oil make {dry_g + oil_g:g} g, not {total_g:g} g",
            "Correct the one that is wrong.",
            ("dry", "oil", "total"),
        )
    return None
