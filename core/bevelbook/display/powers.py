"""Very large and very small numbers as powers of ten."""

from __future__ import annotations

from typing import Final

_RAISED: Final = str.maketrans("0123456789-", "⁰¹²³⁴⁵⁶⁷⁸⁹⁻")


def power_of_ten(value: float, sign: str = "") -> str:
    """A number with three digits that count and its power of ten; ``sign`` "+" shows the sign of a gain too.

    >>> power_of_ten(8.576e12), power_of_ten(-2.5e-13), power_of_ten(0.0)
    ('8.58 × 10¹²', '-2.5 × 10⁻¹³', '0')
    """
    if not value:
        return "0"
    digits, _, power = f"{value:{sign}.2e}".partition("e")
    return f"{digits.rstrip('0').rstrip('.')} × 10{str(int(power)).translate(_RAISED)}"
