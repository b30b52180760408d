"""How far an oil is from the one that is needed, and from what gain another one is worth a rebuild."""

from __future__ import annotations

from collections.abc import Iterable
from math import log
from typing import Final

from bevelbook.formulas.percent import percent
from bevelbook.physics.viscosity import LABEL_TOLERANCE_SHARE

FAR_OFF: Final = 3.0
"""An oil at hand that is this many times too thick or too thin is not worth a line; our own figure."""


def off_share(viscosity_cst: float, needed_cst: float) -> float:
    """How much thicker an oil is than needed, as a share; below 0 if it is thinner.

    >>> off_share(7000.0, 8750.0)
    -0.19999999999999996
    """
    return viscosity_cst / needed_cst - 1.0


def too_in_words(share: float) -> str:
    """``20 % too thin``.

    >>> too_in_words(-0.2), too_in_words(0.143)
    ('20 % too thin', '14 % too thick')
    """
    return f"{percent(abs(share))} too {'thick' if share > 0 else 'thin'}"


def points_nearer(oil_cst: float, than_cst: float, needed_cst: float) -> int:
    """By how many points (of 100) one oil is nearer to the one needed than another; all in cSt at 25 °C.

    >>> points_nearer(10_000.0, 7000.0, 8806.0), points_nearer(10_000.0, 7000.0, 9200.0)
    (7, 15)
    """
    off, miss = (abs(off_share(one, needed_cst)) for one in (than_cst, oil_cst))
    return round(100.0 * off) - round(100.0 * miss)


def is_worth_a_rebuild(oil_cst: float, than_cst: float, needed_cst: float) -> bool:
    """Whether an oil is nearer than another by more than labels are exact (our own figure: 10 points)."""
    return points_nearer(oil_cst, than_cst, needed_cst) > 100.0 * LABEL_TOLERANCE_SHARE


def nearest_cst(oils_cst: Iterable[float], needed_cst: float) -> float | None:
    """The oil that is nearest to the one needed, by the ratio, of two alike the first; None where there is none.

    >>> nearest_cst([5000.0, 7000.0, 10_000.0], 8000.0)
    7000.0
    """
    return min(oils_cst, key=lambda one: abs(log(one / needed_cst)), default=None)


def is_near(oil_cst: float, needed_cst: float) -> bool:
    """Whether an oil is worth a line at all: not over three times too thick or too thin (our own figure)."""
    return 1.0 / FAR_OFF <= oil_cst / needed_cst <= FAR_OFF
