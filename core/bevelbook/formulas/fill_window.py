"""Which readings of a scale count as full: the tolerance of a fill, rounded inwards to what the scale can show."""

from __future__ import annotations

from functools import lru_cache
from math import ceil, floor, isclose
from typing import Final, NamedTuple

DROP_G: Final = 0.02
"""A drop of diff oil is about this heavy; common practice, no source."""
USUAL_SHARE: Final = 0.01
"""Tolerance of a fill, as a share of the oil, where the team has none of its own; our own figure."""
MOST_DECIMALS: Final = 6
_NOISE: Final = 1e-9
_STEPS_REMEMBERED: Final = 64
_WINDOWS_REMEMBERED: Final = 16
"""A fill asks for its window once for its numbers and once for its words."""


class FillWindow(NamedTuple):
    """Readings that are fine: ``low_g`` to ``high_g``, each one that the scale can show, and the one nearest to the
    target. Where the scale shows none inside the tolerance, all three are the nearest one and ``can_hit`` is False.
    """

    target_g: float
    half_width_g: float
    nearest_g: float
    low_g: float
    high_g: float
    can_hit: bool

    def too_much(self, reading_g: float) -> bool:
        """Whether a reading is over the tolerance, and further off than the nearest one."""
        return reading_g - self.target_g > self.largest_miss_g + _NOISE

    def too_little(self, reading_g: float) -> bool:
        """Whether a reading is under the tolerance, and further off than the nearest one."""
        return self.target_g - reading_g > self.largest_miss_g + _NOISE

    def still_to_pour_g(self, reading_g: float) -> float:
        """What is still to pour at a reading; negative is too much."""
        return self.target_g - reading_g

    @property
    def largest_miss_g(self) -> float:
        """How far a reading may be off: the tolerance, or as far as the nearest reading is."""
        return max(self.half_width_g, abs(self.nearest_g - self.target_g))


def usual_half_width_g(oil_mass_g: float) -> float:
    """Tolerance of a fill either way, in g, where the team has none of its own: 1 % of the oil, not under a drop.

    >>> usual_half_width_g(1.86), usual_half_width_g(4.5)
    (0.02, 0.045)
    """
    return max(USUAL_SHARE * oil_mass_g, DROP_G)


def half_width_g(own_g: float | None, oil_mass_g: float) -> float:
    """How far the oil may be off either way, in g: the team's own, else the usual share of the oil.

    >>> half_width_g(0.05, 1.86), half_width_g(None, 1.86)
    (0.05, 0.02)
    """
    return own_g or usual_half_width_g(oil_mass_g)


@lru_cache(_WINDOWS_REMEMBERED, typed=True)
def fill_window(target_g: float, half_width_g: float, scale_step_g: float) -> FillWindow:
    """The readings within ``half_width_g`` (g, over 0) of a target, rounded inwards to steps of the scale (g, over 0).

    >>> window = fill_window(14.26, 0.02, 0.01)
    >>> window.low_g, window.high_g, window.can_hit
    (14.24, 14.28, True)
    >>> window = fill_window(13.75, 0.02, 0.1)
    >>> window.low_g, window.high_g, window.can_hit
    (13.7, 13.7, False)
    """
    nearest = nearest_reading_g(target_g, scale_step_g)
    low = _shown(ceil((target_g - half_width_g) / scale_step_g - _NOISE), scale_step_g)
    high = _shown(floor((target_g + half_width_g) / scale_step_g + _NOISE), scale_step_g)
    if low > high:
        return FillWindow(target_g, half_width_g, nearest, nearest, nearest, can_hit=False)
    return FillWindow(target_g, half_width_g, nearest, low, high, can_hit=True)


def window_in_words(low: str, high: str) -> str:
    """The readings that are fine, each as the scale shows it.

    >>> window_in_words("14.24", "14.28"), window_in_words("13.7", "13.7")
    ('anything from 14.24 to 14.28 g is fine', 'no other reading is nearer on this scale')
    """
    return "no other reading is nearer on this scale" if low == high else f"anything from {low} to {high} g is fine"


def nearest_reading_g(mass_g: float, scale_step_g: float) -> float:
    """The reading nearest to a mass, the lower of two that are as near.

    >>> nearest_reading_g(14.25, 0.1), nearest_reading_g(14.256, 0.01)
    (14.2, 14.26)
    """
    return _shown(ceil(mass_g / scale_step_g - 0.5 - _NOISE), scale_step_g)


def _shown(steps: int, scale_step_g: float) -> float:
    return round(steps * scale_step_g, MOST_DECIMALS + 2)


@lru_cache(_STEPS_REMEMBERED)
def decimals_of(scale_step_g: float) -> int:
    """How many decimals a scale shows, by its step; 6 at most.

    >>> [decimals_of(step) for step in (0.01, 0.1, 0.05, 0.25, 1.0)]
    [2, 1, 2, 2, 0]
    """
    return next(
        (places for places in range(MOST_DECIMALS) if isclose(round(scale_step_g, places), scale_step_g)), MOST_DECIMALS
    )


def grams_in_words(mass_g: float, scale_step_g: float) -> str:
    """A mass worked out from readings, with two decimals or those of the scale, without its unit.

    >>> grams_in_words(0.16, 0.1), grams_in_words(0.0, 0.001), grams_in_words(-1e-15, 0.01)
    ('0.16', '0.000', '0.00')
    """
    return f"{mass_g:z.{max(2, decimals_of(scale_step_g))}f}"


def reading_in_words(reading_g: float, scale_step_g: float) -> str:
    """A reading with the decimals that the scale shows, without its unit.

    >>> reading_in_words(13.7, 0.1), reading_in_words(14.26, 0.01)
    ('13.7', '14.26')
    """
    return f"{reading_g:.{decimals_of(scale_step_g)}f}"
