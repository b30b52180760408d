"""A stretch that lost oil much faster than all before it, and whether the weighings after it confirm it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import sqrt
from typing import NamedTuple

from bevelbook.formulas.odd_weighing import CHANCE_OF_A_CLEAR_ONE
from bevelbook.formulas.readings import Point, covariance_g2
from bevelbook.stats.several import k_of_several


class SuddenLoss(NamedTuple):
    """From one weighing to the next. ``is_confirmed``: a later weighing shows that the mass stayed down."""

    earlier: Point
    later: Point
    is_confirmed: bool

    @property
    def loss_g(self) -> float:
        return self.earlier.mass_g - self.later.mass_g


def sudden_loss(points: Sequence[Point]) -> SuddenLoss | None:
    """The clearest stretch that lost oil faster than all before it, of points without an odd one.

    It is clear if so much happens by chance anywhere in one series of a thousand. One weighing alone, the last,
    does not show that the mass stays down.
    """
    stretches = list(pairwise(points[1:]))
    clearest, found = k_of_several(len(stretches), CHANCE_OF_A_CLEAR_ONE), None
    for earlier, later in stretches:
        faster, uncertainty = _faster(points[0], earlier, later)
        if faster > clearest * uncertainty:
            clearest = faster / uncertainty
            found = SuddenLoss(earlier, later, later is not points[-1])
    return found


def _faster(first: Point, earlier: Point, later: Point) -> tuple[float, float]:
    """By how much more was lost per run in the last stretch than before it, and its standard uncertainty."""
    before, now = earlier.runs - first.runs, later.runs - earlier.runs
    weights = ((earlier, 1.0 / now + 1.0 / before), (later, -1.0 / now), (first, -1.0 / before))
    variance = sum(
        weight * other_weight * covariance_g2(one, other) for one, weight in weights for other, other_weight in weights
    )
    return sum(weight * one.mass_g for one, weight in weights), sqrt(max(0.0, variance))
