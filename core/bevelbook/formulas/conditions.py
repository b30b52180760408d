"""How far apart the conditions of two runs are."""

from __future__ import annotations

from math import hypot
from typing import Final

GRIP_INDEX: Final = {"low": 0.3, "medium": 0.5, "high": 0.7}
GRIP_SCALE: Final = 0.2
TEMPERATURE_SCALE_C: Final = 5.0
"""A step of grip counts as much as 5 °C (this project's proposal)."""


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
