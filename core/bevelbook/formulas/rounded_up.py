"""An upper bound as people read it: rounded up, never to less than was computed, and in plain numbers."""

from __future__ import annotations

from math import ceil, floor, log10
from typing import Final

_NOISE: Final = 1e-9
_MOST_DECIMALS: Final = 12


def rounded_up(value: float, digits: int = 2) -> str:
    """A bound, not negative, with so many digits that count, or whole from there on; in words only "at most" goes with.

    >>> [rounded_up(one) for one in (1.1475, 0.2, 43.03, 0.0, 459.0, 0.0231)]
    ['1.2', '0.2', '44', '0', '459', '0.024']
    """
    if value <= 0.0:
        return "0"
    decimals = min(_MOST_DECIMALS, max(0, digits - 1 - floor(log10(value))))
    return f"{ceil(value * 10.0**decimals * (1.0 - _NOISE)) / 10.0**decimals:,.{decimals}f}".removesuffix(".0")
