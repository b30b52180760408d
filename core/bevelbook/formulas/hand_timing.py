"""How sure a time is that was stopped by hand: assumed for one or two, from their own scatter from three on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from bevelbook.declare.fields import quantity
from bevelbook.declare.sources import Source

HAND_S: Final = 0.5
ENOUGH_TIMES: Final = 3
SHORT_S: Final = 5.0
HAND: Final = Source(
    "proposal",
    "one or two times stopped by hand: 0.5 s each (k = 1), the thumb and the eye that sees the ball pass a mark or the "
    "last drop fall; from three on their own scatter counts",
)
REACTION: Final = Source(
    "paper",
    "Manual timing in physics experiments: Error and uncertainty",
    "American Journal of Physics 87",
    "2019",
    "p. 110: start and stop by hand of one foreseen sight scatter by 0.10 s (k = 1), the least that a hand does",
    "read: the abstract alone",
)
FEW_TIMES: Final = Source(
    "standard",
    "Evaluation of measurement data: Guide to the expression of uncertainty in measurement, JCGM 100:2008",
    "Joint Committee for Guides in Metrology",
    "2008",
    "4.2.2, Type A from repeated times; G.3, t where these are few",
    "not opened; clause numbers from memory; t from scipy",
)


def time_uncertainty() -> float:
    """``time_uncertainty_s``: what a hand does unless the person says otherwise."""
    return quantity(
        "s",
        "Standard uncertainty (k = 1) of one time stopped by hand; from three times on their own scatter counts",
        default=HAND_S,
        minimum=0,
        until_typed=("times",),
    )


def stopped_in_words(time_uncertainty_s: float) -> str:
    """How sure such a time counts as; 0 is one that was typed with its own ±, or said to be exact.

    >>> stopped_in_words(0.5)
    'counted as stopped to 0.5 s (k = 1)'
    """
    if not time_uncertainty_s:
        return "counted as sure as it was typed"
    return f"counted as stopped to {time_uncertainty_s:g} s (k = 1)"


def own_scatter(values: Sequence[float]) -> float | None:
    """The sample standard deviation of three or more values, in their unit (Type A, JCGM 100:2008, 4.2.2).

    None under three values, or where all are equal: no hand is that even, so equal times say nothing of it.

    >>> own_scatter([33.0, 33.4, 32.9]) is not None, own_scatter([33.0, 33.4]), own_scatter([33.0] * 3)
    (True, None, None)
    """
    if len(values) < ENOUGH_TIMES or min(values) == max(values):
        return None
    from statistics import stdev

    return stdev(values)
