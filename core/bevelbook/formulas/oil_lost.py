"""What weighings say about the oil in a diff: the loss and its verdict, and whether the diff was full in each run."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from math import sqrt
from typing import Final, Literal, NamedTuple

from bevelbook.formulas.disagreeing import BY_RUNS, Reading, apart, disagreements, settling
from bevelbook.formulas.oil_limits import LossLimits
from bevelbook.physics.weighing import COVERAGE_K, SEEN_AT_95
from bevelbook.plugin.returned_values import Verdict

FillState = Literal["full", "unknown", "doubtful", "lost oil"]


class Point(NamedTuple):
    """What the scale showed after so many runs, with the standard uncertainty (k = 1) of that reading."""

    runs: float
    mass_g: float
    uncertainty_g: float


_DECIMALS: Final = 6


def merged_points(readings: Iterable[Reading]) -> list[Point]:
    """Readings (runs, mass in g, variance in g²) in order of runs; several after the same runs become one.

    That is their mean if the scale explains the difference, else what counts by the rule of ``disagreeing``.

    >>> merged_points([(6.0, 22.34, 2.0e-5), (0.0, 22.35, 1.0e-5), (0.0, 22.352, 1.0e-5)])[0].mass_g
    22.351
    >>> [one.mass_g for one in merged_points([(0.0, 22.35, 2.0e-5), (6.0, 22.34, 2.0e-5), (6.0, 22.05, 2.0e-5)])]
    [22.35, 22.05]
    >>> merged_points([(6.0, 22.34, 2.0e-5), (6.0, 22.05, 2.0e-5), (6.0, 22.35, 2.0e-5)])[0].mass_g
    22.345
    """
    ordered = sorted(readings, key=BY_RUNS)
    if len({one[0] for one in ordered}) == len(ordered):
        return [Point(runs, mass_g, sqrt(variance)) for runs, mass_g, variance in ordered]
    return [_point(runs, list(same), ordered[0][0]) for runs, same in groupby(ordered, key=BY_RUNS)]


def _point(runs: float, same: Sequence[Reading], first_runs: float) -> Point:
    two = apart(same)
    counting = same if two is None else settling(same)
    if two is not None and not counting:
        _, mass_g, variance = two[1] if runs == first_runs else two[0]
        return Point(runs, mass_g, sqrt(variance))
    mass_g = round(sum(one[1] for one in counting) / len(counting), _DECIMALS)
    return Point(runs, mass_g, sqrt(sum(one[2] for one in counting)) / len(counting))


def difference_uncertainty_g(first: Point, last: Point) -> float:
    return sqrt(first.uncertainty_g**2 + last.uncertainty_g**2)


class Loss(NamedTuple):
    """What the weighings of a build say: the loss with its uncertainty (k = 2), the verdict, and when it went bad.

    ``first_runs`` is the first weighing: what was lost before it is not known. ``good_until_runs`` is the last one that
    was certainly under the limit to look at it (the first, if none was), before ``bad_from_runs``, the first
    that was certainly over it. ``is_sure`` is whether there is such a limit; else good means that no loss was seen.
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


def loss_of(points: Sequence[Point], limits: LossLimits) -> Loss:
    """The loss between first and last of two or more points, judged by the limits.

    loss = first - last, U = 2 sqrt(u1² + u2²); seen is the smallest loss that the scale could have shown, 1.96 sqrt(u1²
    + u2²). Without limits a weighing is bad if a loss is seen, and none is certainly good.
    """
    first, last = points[0], points[-1]
    uncertainty = difference_uncertainty_g(first, last)
    loss, wide, seen = round(first.mass_g - last.mass_g, _DECIMALS), COVERAGE_K * uncertainty, SEEN_AT_95 * uncertainty
    good: float = first.runs
    bad: float | None = None
    for one in points[1:]:
        state = _is_good(first, one, limits.caution_g)
        if state is False:
            bad = one.runs
            break
        if state:
            good = one.runs
    verdict = _verdict(loss, wide, seen, limits)
    is_sure = limits.caution_g is not None
    return Loss(first.mass_g, last.mass_g, loss, wide, seen, verdict, first.runs, good, bad, is_sure)


def loss_without_runs(readings: Sequence[Reading]) -> Loss | None:
    """The verdict on readings after the same runs that the scale does not explain; None if it does.

    Oil may have gone without a run, or something else was on the scale: how much is in it is unclear. If further
    readings settle it, those that agree show no loss.
    """
    for found in disagreements(readings):
        (runs, lightest_g, u2), (_, heaviest_g, v2) = found.lightest, found.heaviest
        if found.counting:
            lightest_g = heaviest_g = round(sum(one[1] for one in found.counting) / len(found.counting), _DECIMALS)
            u2, v2 = (one[2] for one in found.counting[:2])
        uncertainty = sqrt(u2 + v2)
        wide, seen = COVERAGE_K * uncertainty, SEEN_AT_95 * uncertainty
        loss = round(heaviest_g - lightest_g, _DECIMALS)
        verdict: Verdict = "ok" if found.counting else "unclear"
        return Loss(heaviest_g, lightest_g, loss, wide, seen, verdict, runs, runs, None, False)
    return None


def _is_good(first: Point, one: Point, limit_g: float | None) -> bool | None:
    """Whether a weighing is certainly under the limit (True) or certainly over it (False); None if neither is certain.

    A diff that got heavier, by more than the scale's noise, was not weighed with the same parts on the scale.
    """
    loss, uncertainty = first.mass_g - one.mass_g, difference_uncertainty_g(first, one)
    if limit_g is None:
        return loss <= SEEN_AT_95 * uncertainty
    if loss - COVERAGE_K * uncertainty >= limit_g:
        return False
    if loss < -SEEN_AT_95 * uncertainty:
        return None
    return True if loss + COVERAGE_K * uncertainty < limit_g else None


def _verdict(loss_g: float, wide_g: float, seen_g: float, limits: LossLimits) -> Verdict:
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
