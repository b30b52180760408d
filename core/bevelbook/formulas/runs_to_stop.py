"""After how many runs since the build the limit of oil lost is reached: by the trend, else at the rate of weighings."""

from __future__ import annotations

from collections.abc import Sequence

from bevelbook.formulas.leak_rate import RunsToLimit, rate_of, runs_after_last, runs_to_limit
from bevelbook.formulas.oil_limits import LossLimits
from bevelbook.formulas.oil_lost import Loss, is_only_contradicted, seen_k_of
from bevelbook.formulas.oil_lost_words import state_of_loss
from bevelbook.formulas.readings import Point, difference_uncertainty_g
from bevelbook.formulas.runs_left_words import is_limit_undecided


def is_foreseen(lost: Loss, limits: LossLimits, oil_in_g: float | None, *, is_scale_checked: bool) -> bool:
    """Whether a loss says when the stop limit is reached: not where none is seen, where the limit is reached or may be,
    where there is none, where the weighings contradict each other, and where the scale was never checked."""
    if limits.stop_g is None or not is_scale_checked or lost.verdict == "stop":
        return False
    if state_of_loss(lost.loss_g, lost.uncertainty_g, oil_in_g) != "lost" or is_only_contradicted(lost, limits):
        return False
    return not is_limit_undecided(lost.loss_g, lost.uncertainty_g, limits.stop_g)


def runs_to_stop(points: Sequence[Point], lost: Loss, stop_g: float) -> RunsToLimit | None:
    """Runs since the build at which the stop limit is lost if it goes on like this, with the ends of the interval.

    ``points`` are the weighings that count, ``lost`` what they say, of which :func:`is_foreseen` holds. By the trend
    where there is one (95 %), else at the loss per run from the first weighing to the last, or between the last two
    where that is faster (k = 2). None where all was lost without a run between.
    """
    if len(points) < 2:
        return None
    rate = rate_of(points)
    reached = None if rate is None else runs_to_limit(rate, stop_g, points[0].runs)
    if reached is not None:
        return reached
    last = points[-1]
    after = runs_after_last(points[0], _stretch_from(points, lost), last, stop_g)
    runs, high = (None if one is None else last.runs + one for one in (after.runs, after.high))
    return RunsToLimit(runs, last.runs + after.low, high)


def _stretch_from(points: Sequence[Point], lost: Loss) -> Point:
    """The weighing from which the loss per run is taken: the first, or the last but one where the loss since is seen
    and faster."""
    first, earlier, last = points[0], points[-2], points[-1]
    is_settled = lost.contradiction is None or lost.contradiction.odd is not None
    loss_g = earlier.mass_g - last.mass_g
    is_seen = is_settled and loss_g > seen_k_of(len(points) - 1) * difference_uncertainty_g(earlier, last)
    whole = (first.mass_g - last.mass_g) / (last.runs - first.runs)
    return earlier if is_seen and loss_g / (last.runs - earlier.runs) > whole else first
