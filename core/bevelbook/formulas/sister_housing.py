"""Masses of an empty sister housing: which of them cannot be right, and from when on it was weighed.

Water moves a sister by no more than it can in those days. A mass further off than

    2 U(water) + 3 u(scale), with U(water) = 2 u of :mod:`housing_moisture`

(which is never more than the housing can hold) is a slip, or another thing was on the scale: it is asked about, and
does not count (our own figure). Of the masses those count that agree with the most others; of two that do not
agree neither counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, inf
from typing import Final, NamedTuple

from bevelbook.formulas.housing_moisture import Housing, moisture_g
from bevelbook.formulas.oil_limits import grams_in_words
from bevelbook.formulas.readings import Reading, uncertainty_between_g
from bevelbook.physics.weighing import COVERAGE_K

TIMES_U: Final = 2.0
"""How often the uncertainty (k = 2) of the water fits into the largest change that is believed (proposal)."""
CLEAR_K: Final = 3.0
_DECIMALS: Final = 6
_SHOWN: Final = 0.01
_DROPPED: Final = 0.1
"""Share of the last digit that is dropped instead of rounded up."""


class DoubtfulSister(NamedTuple):
    """A mass of the sister that does not count: its place among the readings, and that of the one it is held against.

    ``change_g`` is how much heavier it is than that, ``explained_g`` what water explains (k = 2).
    """

    place: int
    against: int
    change_g: float
    explained_g: float

    def words(self, named: Sequence[str]) -> str:
        """What is off; ``named`` says of each reading when it was taken. No semicolon in it.

        >>> print(DoubtfulSister(1, 0, -0.30, 0.0366).words(["on 5 October", "on 10 October"]))
        the sister housing is 0.30 g lighter on 10 October than on 5 October, water explains 0.04 g: it does not count,
        weigh it again
        """
        size = grams_in_words(round(abs(self.change_g), _DECIMALS))
        than = "heavier" if self.change_g > 0.0 else "lighter"
        shown = ceil(self.explained_g / _SHOWN - _DROPPED) * _SHOWN
        water = f"{shown:.2f} g" if shown > 0.0 else "none of it"
        return (
            f"the sister housing is {size} {than} {named[self.place]} than {named[self.against]}, "
            f"water explains {water}: it does not count, weigh it again"
        )


def doubtful_sisters(
    readings: Sequence[Reading], on: Sequence[int | None], sisters_g: Sequence[float | None], housing: Housing
) -> list[DoubtfulSister]:
    """The masses of a sister that cannot be right, in the order of the readings.

    ``readings`` are as read, ``on`` their days as numbers (None where not known), ``sisters_g`` go with them.

    >>> three = [Reading(runs, 22.35, 3.3e-5) for runs in (0.0, 4.0, 8.0)]
    >>> [one.place for one in doubtful_sisters(three, [0, 5, 9], [4.98, 4.68, 4.99], Housing("nylon"))]
    [1]
    >>> [one.place for one in doubtful_sisters(three, [0, 5, 9], [5.98, 4.98, 4.99], Housing("nylon"))]
    [0]
    """
    having = [place for place, sister_g in enumerate(sisters_g) if sister_g is not None]
    if len(having) < 2:
        return []
    having.sort(key=lambda place: readings[place].runs)
    against, fitting = having[0], _fitting(readings, on, sisters_g, housing, having[0], having)
    if len(fitting) < len(having):
        for place in having[1:]:
            others = _fitting(readings, on, sisters_g, housing, place, having)
            if len(others) > len(fitting):
                against, fitting = place, others
    return [
        DoubtfulSister(
            place,
            against,
            round((sisters_g[place] or 0.0) - (sisters_g[against] or 0.0), _DECIMALS),
            COVERAGE_K * moisture_g(_lighter(sisters_g, place, against, housing), _days(on, place, against)),
        )
        for place in sorted(having)
        if place not in fitting
    ]


def _fitting(
    readings: Sequence[Reading],
    on: Sequence[int | None],
    sisters_g: Sequence[float | None],
    housing: Housing,
    against: int,
    having: Sequence[int],
) -> set[int]:
    """Those whose change against one of them is no more than water and the scale can do; that one is among them."""
    found = {against}
    for place in having:
        if place == against:
            continue
        sister = _lighter(sisters_g, place, against, housing)
        days = _days(on, place, against)
        scale_g = uncertainty_between_g(readings[place], readings[against])
        most_g = TIMES_U * COVERAGE_K * moisture_g(sister, days) + CLEAR_K * scale_g
        if abs((sisters_g[place] or 0.0) - (sisters_g[against] or 0.0)) <= most_g:
            found.add(place)
    return found


def _lighter(sisters_g: Sequence[float | None], place: int, against: int, housing: Housing) -> Housing:
    """The sister as a housing of the same material; of two masses the lighter one."""
    return Housing(housing.material, min(sisters_g[place] or 0.0, sisters_g[against] or 0.0))


def _days(on: Sequence[int | None], place: int, against: int) -> float:
    one, other = on[place], on[against]
    return inf if one is None or other is None else float(abs(one - other))
