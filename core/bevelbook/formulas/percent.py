"""A share in percent, as printed everywhere."""

from __future__ import annotations


def percent(share: float, decimals: int = 0) -> str:
    """A share in percent, with a space before the sign.

    >>> percent(0.314), percent(0.993, 1)
    ('31 %', '99.3 %')
    """
    return f"{share:.{decimals}%}".replace("%", " %")
