"""How far apart the conditions of two runs are."""

from __future__ import annotations

from math import hypot
from typing import Final, NamedTuple

GRIP_INDEX: Final = {"low": 0.3, "medium": 0.5, "high": 0.7}
GRIP_SCALE: Final = 0.2
TEMPERATURE_SCALE_C: Final = 5.0
"""A step of grip counts as much as 5 °C (our own figure)."""
REACH: Final = 1.0
"""Runs farther than this from the conditions asked for say nothing about them (our own figure)."""
_COUNTED: Final = ("", "one step", "two steps")
_SAME_C: Final = 0.5


class HowNear(NamedTuple):
    """How far a run is from the conditions asked for: steps of grip (0 where no grip was asked for), and °C."""

    steps: int
    degrees_c: float

    @property
    def distance(self) -> float:
        """The same as one number, as :func:`condition_distance` has it."""
        return hypot(self.steps, self.degrees_c / TEMPERATURE_SCALE_C)

    @property
    def words(self) -> str:
        """The same as a person says it.

        >>> HowNear(0, 13.0).words, HowNear(1, 3.0).words, HowNear(2, 0.0).words, HowNear(0, 0.0).words
        ('13 °C away', 'one step of grip and 3 °C away', 'two steps of grip away', 'as asked')
        """
        apart = [f"{_COUNTED[self.steps]} of grip"] if self.steps else []
        apart += [f"{max(1, round(self.degrees_c))} °C"] if self.degrees_c >= _SAME_C else []
        return f"{' and '.join(apart)} away" if apart else "as asked"


def how_near(wanted_grip: str | None, wanted_c: float, grip: str | None, temperature_c: float) -> HowNear:
    """How far a run is from a temperature in °C and, where one is asked for, a grip; ``grip`` is then known.

    >>> how_near("low", 36.0, "high", 33.5)
    HowNear(steps=2, degrees_c=2.5)
    """
    steps = round(abs(GRIP_INDEX[wanted_grip] - GRIP_INDEX[grip]) / GRIP_SCALE) if wanted_grip and grip else 0
    return HowNear(steps, abs(wanted_c - temperature_c))


def condition_distance(
    grip_index: float, temperature_c: float, other_grip_index: float, other_temperature_c: float
) -> float:
    """How far apart two conditions are: 1 is one step of grip (0.2) or 5 °C.

    >>> round(condition_distance(0.55, 30.0, 0.5, 28.0), 4)
    0.4717
    """
    return hypot(
        (grip_index - other_grip_index) / GRIP_SCALE, (temperature_c - other_temperature_c) / TEMPERATURE_SCALE_C
    )
