"""A stretch that lost oil much faster than all before it, and whether the weighings after it confirm it; or a first
stretch that lost it much faster than all after it, which the first weighing alone shows."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import sqrt
from typing import Final, NamedTuple

from bevelbook.formulas.odd_weighing import CHANCE_OF_A_CLEAR_ONE
from bevelbook.formulas.readings import Point, covariance_g2, difference_uncertainty_g
from bevelbook.physics.weighing import SEEN_AT_95
from bevelbook.stats.several import k_of_several

ROUNDED_G: Final = 1e-9


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
    does not show that the mass stays down. None where no loss is seen between the first point and the last, or where
    the stretch lost more than that: then something else was on the scale.
    """
    if not _is_seen(points):
        return None
    stretches = list(pairwise(points[1:]))
    clearest, found = k_of_several(len(points) - 1, CHANCE_OF_A_CLEAR_ONE), None
    for earlier, later in stretches:
        faster, uncertainty = _faster(points[0], earlier, later)
        if faster > clearest * uncertainty and not _is_more_than_all(points, earlier, later):
            clearest = faster / uncertainty
            found = SuddenLoss(earlier, later, later is not points[-1])
    return found


def lost_by_the_first_alone(points: Sequence[Point]) -> SuddenLoss | None:
    """The first stretch, if it lost oil faster than all after it together: nothing but the first weighing shows that.

    >>> masses = (22.60, 22.35, 22.34, 22.34)
    >>> found = lost_by_the_first_alone([Point(6.0 * n, mass_g, 0.006) for n, mass_g in enumerate(masses)])
    >>> round(found.loss_g, 6), found.is_confirmed
    (0.25, False)
    """
    if len(points) < 3 or not _is_seen(points):
        return None
    first, second, last = points[0], points[1], points[-1]
    slower, uncertainty = _faster(first, second, last)
    is_faster = -slower > k_of_several(len(points) - 1, CHANCE_OF_A_CLEAR_ONE) * uncertainty
    is_loss = first.mass_g - second.mass_g > SEEN_AT_95 * difference_uncertainty_g(first, second)
    return SuddenLoss(first, second, False) if is_faster and is_loss else None


def _is_seen(points: Sequence[Point]) -> bool:
    return points[0].mass_g - points[-1].mass_g > SEEN_AT_95 * difference_uncertainty_g(points[0], points[-1])


def _is_more_than_all(points: Sequence[Point], earlier: Point, later: Point) -> bool:
    """Whether a stretch lost clearly more than went from the first point to the last."""
    weights = ((earlier, 1.0), (later, -1.0), (points[0], -1.0), (points[-1], 1.0))
    over, uncertainty = _sum(weights)
    return over > SEEN_AT_95 * uncertainty + ROUNDED_G


def _faster(first: Point, earlier: Point, later: Point) -> tuple[float, float]:
    """By how much more was lost per run in the last stretch than before it, and its standard uncertainty."""
    before, now = earlier.runs - first.runs, later.runs - earlier.runs
    weights = ((earlier, 1.0 / now + 1.0 / before), (later, -1.0 / now), (first, -1.0 / before))
    return _sum(weights)


def _sum(weights: Sequence[tuple[Point, float]]) -> tuple[float, float]:
    """The sum of some points with their weights, and its standard uncertainty; a point may be there twice."""
    variance = sum(
        weight * other_weight * covariance_g2(one, other) for one, weight in weights for other, other_weight in weights
    )
    return sum(weight * one.mass_g for one, weight in weights), sqrt(max(0.0, variance))
