"""A weighing that the others contradict: a diff does not get heavier by running, so one of them was of something else.

Any weighing that is heavier than an earlier one, by more than the scale explains, contradicts it. If all contradictions
have one weighing in common, that one is odd: it does not count, and is asked about. Where two could be the odd one, it
is the one further off the line between those next to it, or, at an end, of those before or after it. Two or more sound
weighings after it settle it: then it does not count, and is not asked about any more.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate
from math import sqrt
from typing import Final, NamedTuple

from bevelbook.formulas.oil_limits import grams_in_words
from bevelbook.formulas.readings import Point, difference_uncertainty_g, own_uncertainty_g
from bevelbook.stats.several import k_of_several

CHANCE_OF_A_CLEAR_ONE: Final = 0.001
"""Chance that anything in a whole series of sound weighings is called clear (our own figure)."""
FEWEST: Final = 3
ELSE_ON: Final = "was something else on the scale?"
MISSING: Final = "was something missing from the scale?"
_DECIMALS: Final = 6
_SETTLE: Final = 2
"""Sound weighings after an odd one that settle it (our own figure)."""
_LEAST_CLEAR: Final = 3.0 * sqrt(2.0)
"""Uncertainties of the finest point below which no difference of two is clear."""


class Contradiction(NamedTuple):
    """Weighings that contradict each other. ``odd`` is the one that does not count; None where several are off.

    ``off_g`` is how far it is above the nearer of its neighbours. ``lighter`` and ``heavier`` are, of those where the
    later one is heavier, the two furthest apart. ``is_settled``: two or more that count came after the odd one.
    """

    odd: Point | None
    off_g: float
    lighter: Point
    heavier: Point
    is_settled: bool = False

    @property
    def words(self) -> str:
        """What is off, and what counts; no semicolon in it.

        >>> points = [Point(6.0 * n, mass, 0.006) for n, mass in enumerate((18.35, 18.35, 18.55, 18.34, 18.34))]
        >>> found = contradiction(points)
        >>> found.words
        'the weighing at run 12 is 0.20 g off its neighbours (was something else on the scale?) and does not count'
        """
        if self.odd is None:
            heavier = grams_in_words(round(self.heavier.mass_g - self.lighter.mass_g, _DECIMALS))
            return (
                f"the weighing at run {self.heavier.runs:g} is {heavier} heavier than the one at run "
                f"{self.lighter.runs:g} ({ELSE_ON}) and nothing shows which of them to count"
            )
        question = ELSE_ON if self.off_g > 0 else MISSING
        off = grams_in_words(abs(self.off_g))
        return f"the weighing at run {self.odd.runs:g} is {off} off its neighbours ({question}) and does not count"

    @property
    def doubtful(self) -> tuple[Point, ...]:
        """Those of which one is off."""
        return (self.lighter, self.heavier) if self.odd is None else (self.odd,)

    @property
    def advice(self) -> str:
        """What to do about it, put after the words; empty where it is settled."""
        return "" if self.is_settled else ", weigh again"


def contradiction(points: Sequence[Point]) -> Contradiction | None:
    """What contradicts what, among three or more points in the order of their runs; None if the scale explains all."""
    if len(points) < FEWEST or not _may_rise(points):
        return None
    clear = k_of_several(len(points) * (len(points) - 1) // 2, CHANCE_OF_A_CLEAR_ONE)
    least_g = clear * sqrt(2.0) * min(own_uncertainty_g(one) for one in points)
    masses = [one.mass_g for one in points]
    lightest_g = list(accumulate(masses, min))
    found = [
        (earlier, later)
        for later in range(1, len(points))
        if masses[later] - lightest_g[later] > least_g
        for earlier, mass_g in enumerate(masses[:later])
        if masses[later] - mass_g > least_g
        and masses[later] - mass_g > clear * difference_uncertainty_g(points[earlier], points[later])
    ]
    if not found:
        return None
    lighter, heavier = max(found, key=lambda pair: points[pair[1]].mass_g - points[pair[0]].mass_g)
    common = [each for each in found[0] if all(each in pair for pair in found)]
    if not common:
        return Contradiction(None, 0.0, points[lighter], points[heavier])
    off = {each: _off_its_neighbours(points, each, common) for each in common}
    odd = max(common, key=lambda each: abs(off[each]))
    away = [points[odd].mass_g - points[each].mass_g for each in (odd - 1, odd + 1) if 0 <= each < len(points)]
    nearest = min((abs(off_g), off_g) for off_g in away)[1]
    is_settled = len(points) - 1 - odd >= _SETTLE
    return Contradiction(points[odd], round(nearest, _DECIMALS), points[lighter], points[heavier], is_settled)


def _may_rise(points: Sequence[Point]) -> bool:
    """Whether any point is above an earlier one by more than the least that could be clear: a quick look."""
    lowest, highest_rise, finest, is_shared = points[0].mass_g, 0.0, points[0].uncertainty_g, False
    for _, mass_g, uncertainty_g, readings in points:
        if mass_g < lowest:
            lowest = mass_g
        elif mass_g - lowest > highest_rise:
            highest_rise = mass_g - lowest
        if uncertainty_g < finest:
            finest = uncertainty_g
        is_shared = is_shared or bool(readings)
    return highest_rise > (0.0 if is_shared else _LEAST_CLEAR * finest)


def _off_its_neighbours(points: Sequence[Point], each: int, doubtful: Sequence[int]) -> float:
    """How far a point is above the line between the two next to it, without the others that may be odd; at an
    end, above the line of those before or after it.
    """
    before = [one for place, one in enumerate(points[:each]) if place not in doubtful]
    after = [one for place, one in enumerate(points[each + 1 :], each + 1) if place not in doubtful]
    one = points[each]
    if not before or not after:
        return one.mass_g - _continued_g(before[::-1] or after, one.runs)
    left, right = before[-1], after[0]
    share = (one.runs - left.runs) / (right.runs - left.runs)
    return one.mass_g - (left.mass_g + share * (right.mass_g - left.mass_g))


def _continued_g(nearest_first: Sequence[Point], runs: float) -> float:
    """The mass after so many runs on the line of those on one side of it; a diff loses oil, so that line never rises.

    The line takes a second point that is at least as far from the nearest one as that is from ``runs``, so that it goes
    on no further than it was seen. Without one the mass of the nearest is taken.
    """
    near = nearest_first[0]
    for far in nearest_first[1:]:
        if abs(far.runs - near.runs) >= abs(near.runs - runs):
            slope = min(0.0, (far.mass_g - near.mass_g) / (far.runs - near.runs))
            return near.mass_g + slope * (runs - near.runs)
    return near.mass_g


def counting_points(points: Sequence[Point]) -> tuple[Sequence[Point], Contradiction | None]:
    """The points without the odd one, and what contradicts what."""
    found = contradiction(points)
    return (points, None) if found is None else ([one for one in points if one is not found.odd], found)
