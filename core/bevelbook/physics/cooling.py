"""Cooling after a run: Newton's law, from readings back to the moment the run ended."""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, fsum, log
from operator import mul
from typing import Final, NamedTuple

from bevelbook.declare.sources import Source

READING_ERROR_C: Final = 1.0
SLOWEST_S: Final = 1e7
"""A time constant over this (four months) is rounding: the readings do not fall."""
LARGEST_LOG: Final = 700.0
"""A larger exponent is beyond a double; the answer is far beyond any diff by then."""
NEWTON_COOLING: Final = Source(
    "from memory",
    "Newton's law of cooling, T(t) = Ta + (T0 - Ta) exp(-t/τ), as textbooks of heat transfer print it for a body whose "
    "inside is at one temperature",
)


class Cooling(NamedTuple):
    """A cooling curve through readings, and how each of them moves its start.

    end_c            temperature at time zero, °C
    time_constant_s  time in which the excess over the air falls to 1/e, s
    by_reading       change of ``end_c`` for a change of each reading, in the order given, °C per °C
    by_ambient       the same for the air, °C per °C
    off_c            how far each reading is from the curve, °C; zeros for two readings
    """

    end_c: float
    time_constant_s: float
    by_reading: tuple[float, ...]
    by_ambient: float
    off_c: tuple[float, ...]


def cooling_curve(after_s: Sequence[float], temperatures_c: Sequence[float], ambient_c: float) -> Cooling | None:
    """The curve T(t) = Ta + (T0 - Ta) exp(-t/tau) through two readings, or nearest to more; None if they do not fall.

    Straight line through ln(T - Ta), by least squares weighted with (T - Ta)^2, since an error e of a reading is an
    error e / (T - Ta) of its logarithm. First-order sensitivities (JCGM 100:2008, 5.1.3).

    after_s         times after the end of the run, s; at least two different ones
    temperatures_c  the readings, °C; each above ``ambient_c``
    ambient_c       temperature of the air around, °C, the same all the time

    Source: Newton's law of cooling (textbook).

    >>> curve = cooling_curve([120.0, 300.0], [38.0, 35.0], 22.0)
    >>> round(curve.end_c, 2), round(curve.time_constant_s)
    (40.38, 867)
    """
    excess = [one - ambient_c for one in temperatures_c]
    weights = [one * one for one in excess]
    total = fsum(weights)
    middle = fsum(map(mul, weights, after_s)) / total
    apart = fsum(weight * (one - middle) ** 2 for weight, one in zip(weights, after_s, strict=True))
    of_slope = [weight * (one - middle) / apart for weight, one in zip(weights, after_s, strict=True)]
    of_start = [weight / total - middle * one for weight, one in zip(weights, of_slope, strict=True)]
    logs = [log(one) for one in excess]
    start, slope = fsum(map(mul, of_start, logs)), fsum(map(mul, of_slope, logs))
    if slope > -1.0 / SLOWEST_S:
        return None
    above = exp(min(start, LARGEST_LOG))
    by_reading = tuple(above * share / one for share, one in zip(of_start, excess, strict=True))
    off = tuple(one - exp(start + slope * after) for one, after in zip(excess, after_s, strict=True))
    return Cooling(
        ambient_c + above,
        -1.0 / slope,
        by_reading,
        1.0 - fsum(by_reading),
        off if len(off) > 2 else (0.0,) * len(off),
    )


def half_life_s(time_constant_s: float) -> float:
    """Time in which half of what the body is above the air is gone: tau ln 2.

    >>> round(half_life_s(867.0))
    601
    """
    return time_constant_s * log(2.0)
