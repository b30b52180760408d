"""What weighings say about the oil in a diff: the loss and its verdict, and whether the diff was full in each run."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from math import sqrt
from typing import Final, Literal, NamedTuple

from bevelbook.formulas.disagreeing import BY_RUNS, Disagreement, disagreements
from bevelbook.formulas.odd_weighing import Contradiction, counting_points
from bevelbook.formulas.oil_limits import LossLimits
from bevelbook.formulas.readings import Point, Reading, difference_uncertainty_g, point_of, uncertainty_between_g
from bevelbook.formulas.same_runs import apart, what_counts
from bevelbook.physics.weighing import COVERAGE_K, SEEN_AT_95
from bevelbook.plugin.returned_values import Verdict
from bevelbook.stats.several import k_of_several

FillState = Literal["full", "unknown", "doubtful", "lost oil"]


CHANCE_OF_ONE_SEEN: Final = 0.05
_DECIMALS: Final = 6


def merged_points(readings: Iterable[Reading]) -> list[Point]:
    """Readings in order of runs; several after the same runs become one.

    That is their mean if the scale explains the difference, else what counts by the rule of ``disagreeing``.

    >>> merged_points([Reading(6.0, 22.34, 2e-5), Reading(0.0, 22.35, 1e-5), Reading(0.0, 22.352, 1e-5)])[0].mass_g
    22.351
    >>> three = [Reading(0.0, 22.35, 2e-5), Reading(6.0, 22.34, 2e-5), Reading(6.0, 22.05, 2e-5)]
    >>> [one.mass_g for one in merged_points(three)]
    [22.35, 22.05]
    >>> merged_points([one._replace(runs=6.0) for one in three])[0].mass_g
    22.345
    """
    ordered = sorted(readings, key=BY_RUNS)
    if len({one.runs for one in ordered}) == len(ordered):
        return [
            point_of(one.runs, one.mass_g, (one,)) if one.shares else Point(one.runs, one.mass_g, sqrt(one.variance_g2))
            for one in ordered
        ]
    return [_point(runs, list(same), ordered[0].runs) for runs, same in groupby(ordered, key=BY_RUNS)]


def _point(runs: float, same: Sequence[Reading], first_runs: float) -> Point:
    two = apart(same)
    if two is None:
        return _mean_of(runs, same)
    found = what_counts(same)
    is_first = runs == first_runs
    if is_first and found.before:
        return _mean_of(runs, found.before[-1:])
    return _mean_of(runs, found.counting or (two[1] if is_first else two[0],))


def _mean_of(runs: float, counting: Sequence[Reading]) -> Point:
    return point_of(runs, round(sum(one.mass_g for one in counting) / len(counting), _DECIMALS), tuple(counting))


class Loss(NamedTuple):
    """What the weighings of a build say: the loss with its uncertainty (k = 2), the verdict, and when it went bad.

    ``first_runs`` is the first weighing: what was lost before it is not known. ``good_until_runs`` is the last one that
    was certainly under the limit to look at it (the first, if none was), before ``bad_from_runs``, the first
    that was certainly over it. ``is_sure`` is whether there is such a limit; else good means that no loss was seen.
    ``last_runs`` is the last weighing that counts; ``contradiction`` is what makes one not count.
    """

    first_mass_g: float
    last_mass_g: float
    loss_g: float
    uncertainty_g: float
    seen_g: float
    verdict: Verdict
    first_runs: float
    good_until_runs: float
    bad_from_runs: float | None
    is_sure: bool
    last_runs: float
    contradiction: Contradiction | None = None


def loss_of(points: Sequence[Point], limits: LossLimits) -> Loss:
    """The loss between first and last of two or more points, judged by the limits.

    loss = first - last, U = 2 sqrt(u1² + u2² - 2 cov); seen is the smallest loss that the scale could have shown, 1.96
    of the same. Without limits a weighing is bad if a loss is seen (of as many as there are, so that all of them
    together are wrong one time in twenty), and none is certainly good.

    A weighing that the others contradict does not count. Where the rest would be ok, the verdict is unclear until two
    more weighings settle that.
    """
    points, contradicted = counting_points(points)
    first, last = points[0], points[-1]
    uncertainty = difference_uncertainty_g(first, last)
    loss, wide, seen = round(first.mass_g - last.mass_g, _DECIMALS), COVERAGE_K * uncertainty, SEEN_AT_95 * uncertainty
    good: float = first.runs
    bad: float | None = None
    seen_k = SEEN_AT_95 if limits.caution_g is not None else seen_k_of(len(points) - 1)
    for one in points[1:]:
        state = _is_good(first, one, limits.caution_g, seen_k)
        if state is False:
            bad = one.runs
            break
        if state:
            good = one.runs
    verdict = verdict_of(loss, uncertainty, limits)
    if contradicted is not None and not contradicted.is_settled and verdict == "ok":
        verdict = "unclear"
    is_sure = limits.caution_g is not None
    return Loss(
        first.mass_g, last.mass_g, loss, wide, seen, verdict, first.runs, good, bad, is_sure, last.runs, contradicted
    )


def seen_k_of(many: int) -> float:
    """Standard uncertainties from which a loss is seen in one of so many stretches: all of them together show a loss
    that is not there one time in twenty at most."""
    return max(SEEN_AT_95, k_of_several(many, CHANCE_OF_ONE_SEEN))


def is_only_contradicted(lost: Loss, limits: LossLimits) -> bool:
    """Whether it is unclear for no other reason than that weighings contradict each other."""
    return (
        lost.verdict == "unclear"
        and lost.contradiction is not None
        and verdict_of(lost.loss_g, lost.uncertainty_g / COVERAGE_K, limits) == "ok"
    )


def loss_without_runs(readings: Sequence[Reading], limits: LossLimits) -> Loss | None:
    """The verdict on readings after the same runs that the scale does not explain; None if it does.

    Oil may have gone without a run, or something else was on the scale: how much is in it is unclear. If further
    readings settle it, those that agree show no loss; or they show what was lost standing, which the limits judge.
    """
    for found in disagreements(readings):
        runs = found.runs
        if found.counting:
            return _standing(found, limits) if found.before else _none_lost(found)
        lightest, heaviest = found.lightest, found.heaviest
        uncertainty = uncertainty_between_g(lightest, heaviest)
        wide, seen = COVERAGE_K * uncertainty, SEEN_AT_95 * uncertainty
        loss = round(heaviest.mass_g - lightest.mass_g, _DECIMALS)
        is_sure = _is_sure_to_stop(found, limits)
        verdict: Verdict = "stop" if is_sure else "unclear"
        bad = runs if is_sure else None
        return Loss(heaviest.mass_g, lightest.mass_g, loss, wide, seen, verdict, runs, runs, bad, is_sure, runs)
    return None


def _none_lost(found: Disagreement) -> Loss:
    mass_g = _mean_of(found.runs, found.counting).mass_g
    shared = uncertainty_between_g(*found.counting[:2])
    wide, seen = COVERAGE_K * shared, SEEN_AT_95 * shared
    return Loss(mass_g, mass_g, 0.0, wide, seen, "ok", found.runs, found.runs, None, False, found.runs)


def _standing(found: Disagreement, limits: LossLimits) -> Loss:
    """What was lost without a run between, judged by the limits."""
    runs, before, now = found.runs, _mean_of(found.runs, found.before[-1:]), _mean_of(found.runs, found.counting)
    uncertainty = difference_uncertainty_g(before, now)
    loss, wide, seen = round(before.mass_g - now.mass_g, _DECIMALS), COVERAGE_K * uncertainty, SEEN_AT_95 * uncertainty
    bad = runs if _is_good(before, now, limits.caution_g, SEEN_AT_95) is False else None
    verdict = verdict_of(loss, uncertainty, limits)
    return Loss(
        before.mass_g, now.mass_g, loss, wide, seen, verdict, runs, runs, bad, limits.caution_g is not None, runs
    )


def _is_sure_to_stop(found: Disagreement, limits: LossLimits) -> bool:
    """Whether what two readings confirm is over the limit to stop at, though a lighter one is not confirmed yet."""
    if not found.before:
        return False
    before, now = _mean_of(found.runs, found.before[-1:]), _mean_of(found.runs, found.sure)
    return verdict_of(before.mass_g - now.mass_g, difference_uncertainty_g(before, now), limits) == "stop"


def _is_good(first: Point, one: Point, limit_g: float | None, seen_k: float) -> bool | None:
    """Whether a weighing is certainly under the limit (True) or certainly over it (False); None if neither is certain.

    A diff that got heavier, by more than the scale's noise, was not weighed with the same parts on the scale.
    """
    loss, uncertainty = first.mass_g - one.mass_g, difference_uncertainty_g(first, one)
    if limit_g is None:
        return loss <= seen_k * uncertainty
    if loss - COVERAGE_K * uncertainty >= limit_g:
        return False
    if loss < -SEEN_AT_95 * uncertainty:
        return None
    return True if loss + COVERAGE_K * uncertainty < limit_g else None


def verdict_of(loss_g: float, uncertainty_g: float, limits: LossLimits) -> Verdict:
    """The verdict on a loss with a standard uncertainty (k = 1), both in g."""
    wide_g, seen_g = COVERAGE_K * uncertainty_g, SEEN_AT_95 * uncertainty_g
    if loss_g < -seen_g:
        return "unclear"
    if limits.stop_g is None:
        return "caution" if loss_g > seen_g else "ok"
    over: tuple[tuple[float | None, Verdict], ...] = ((limits.stop_g, "stop"), (limits.caution_g, "caution"))
    for limit_g, verdict in over:
        if limit_g is None:
            continue
        if loss_g - wide_g >= limit_g:
            return verdict
        if loss_g + wide_g >= limit_g:
            return "unclear"
    return "ok"


def fill_state(
    runs_before: float,
    runs_after: float,
    first_runs: float,
    good_until_runs: float,
    bad_from_runs: float | None,
    is_sure: bool,
) -> FillState:
    """Whether a diff was full in a run that took it from ``runs_before`` to ``runs_after`` runs since the build.

    The others are those of :class:`Loss`. Full only if a weighing after it is certainly under the limit; doubtful
    between the last good and the first bad weighing; lost oil after that one; else unknown.

    >>> [fill_state(before, before + 2.0, 0.0, 6.0, 13.0, True) for before in (0.0, 5.0, 13.0)]
    ['full', 'doubtful', 'lost oil']
    >>> fill_state(6.0, 8.0, 0.0, 6.0, None, True)
    'unknown'
    """
    if bad_from_runs is not None and runs_before >= bad_from_runs:
        return "lost oil"
    if runs_after <= good_until_runs:
        return "full" if is_sure and runs_before >= first_runs else "unknown"
    return "unknown" if bad_from_runs is None else "doubtful"


def is_more_than_went_in(lost: Loss, oil_in_g: float | None) -> bool:
    """Whether certainly more is missing than was put in: then other parts were on the scale."""
    return oil_in_g is not None and lost.loss_g - lost.uncertainty_g > oil_in_g
