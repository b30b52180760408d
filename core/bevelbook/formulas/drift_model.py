"""Times of runs by one model: a level and a drift for each day and driver, and the difference of the two groups."""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

from bevelbook.formulas.timed_runs import Session, TimedRun, counts_by_group, smallest_sd_s
from bevelbook.stats.distributions import noncentral_t_chance
from bevelbook.stats.least_squares import Fit, Interval, least_squares
from bevelbook.stats.line import t_value
from bevelbook.stats.spread import mean
from bevelbook.stats.two_scatters import interval_of_two_scatters

POWER: Final = 0.8
MOST_MORE_RUNS: Final = 200
IN_TURN: Final = "abba"
THE_OTHER_WAY: Final = "baab"
BOTH_TWICE: Final = 2
"""Runs of each in one a b b a."""
RUNS_FOR_A_DRIFT: Final = 3
"""Runs from which a day and driver have a drift of their own; those with fewer share one."""


class DriftModel(NamedTuple):
    """The fitted model. ``difference`` is b minus a; it and ``drift`` are None where the runs do not determine them.

    ``drift`` is per run, the mean over the days and drivers by their runs; ``drifts`` has each. ``shares_drift``: too
    few runs to give each day its own, so that one is taken for all; ``sharing`` is how many days and drivers share one.
    """

    runs: tuple[TimedRun, ...]
    fit: Fit
    difference: Interval | None
    bent: Interval | None
    """The difference if the drift bent, one curve for all days: grip that comes in fast and levels off."""
    hides_a_bend: bool
    """Whether a drift that bends the same way each day looks like a difference, as on days that are all a b b a."""
    drift: Interval | None
    drifts: Mapping[Session, float]
    middles: Mapping[Session, float]
    shares_drift: bool
    sharing: int


class _Design(NamedTuple):
    """Columns of the model: the group, a level a session, and the drifts, each for some sessions."""

    columns: list[list[float]]
    drift_of: dict[Session, int]
    """The column of the drift of a session; a session with one place has none."""


def drift_model(runs: Sequence[TimedRun], smallest_sd: float | None = None, with_order: bool = True) -> DriftModel:
    """Fit time = level of the day and driver + drift x order + (b minus a).

    Each day and driver has its own drift where that leaves the difference determined; else one drift is taken for all.
    One drift for days that differ makes the interval wrong where their orders differ too (a a b b on one day, b b a a
    on the other: 46 % held the truth); choosing by a test of the slopes does not cure it (54 % there); own drifts hold
    94 to 96 % in every order of runs simulated.

    The interval of the difference lets each group have a scatter of its own (:mod:`bevelbook.stats.two_scatters`): one
    scatter for both held the truth in 51 to 99 % where sizes and scatter of the groups differ.

    The scatter is at least ``smallest_sd``, else what reading off the times makes. ``with_order=False`` leaves the
    drift out, for runs whose order is not known. Valid from one run.
    """
    smallest = smallest_sd_s(runs) if smallest_sd is None else smallest_sd
    if not with_order:
        return _fitted(runs, {}, smallest)
    sessions = list(dict.fromkeys(run.session for run in runs))
    own = _fitted(runs, _own_drifts(runs, sessions), smallest)
    if own.difference is not None or len(sessions) == 1:
        return own
    shared = _fitted(runs, dict.fromkeys(sessions, 0), smallest)
    return own if shared.difference is None else shared._replace(shares_drift=True)


def drift_of(runs: Sequence[TimedRun]) -> Interval | None:
    """Drift per run of groups of any name: slope of time on order, a level for each group of each day and driver.

    None with too few runs. For one day, one driver and two groups it is the drift of :func:`drift_model`.
    """
    keys = [(run.session, run.group) for run in runs]
    levels = [[1.0 if one == key else 0.0 for one in keys] for key in dict.fromkeys(keys)]
    middles = _middles(runs)
    order = [_order(run) - middles[run.session] for run in runs]
    fit = least_squares([*levels, order], [run.time_s for run in runs], smallest_sd_s(runs))
    return fit.interval([*([0.0] * len(levels)), 1.0])


def cancels_drift(model: DriftModel) -> bool:
    """Whether a steady drift drops out of the difference: a and b have the same mean order, as in a b b a.

    On each day and driver with a drift of its own; over all of them where they share one, as in a b and b a.
    """
    shared = model.shares_drift
    counts = Counter(run.session for run in model.runs)
    uneven: dict[Session | None, float] = {}
    for session in counts:
        runs = [run for run in model.runs if run.session == session]
        share_b = counts_by_group(runs)[1] / len(runs)
        own = None if shared or len(runs) < RUNS_FOR_A_DRIFT else session
        leaning = sum((_order(run) - model.middles[session]) * ((run.group == "b") - share_b) for run in runs)
        uneven[own] = uneven.get(own, 0.0) + leaning
    return all(abs(one) < 1e-9 for one in uneven.values())


def next_turn(runs: Sequence[TimedRun]) -> str:
    """The order to run next: b a a b where b was in the middle of the days so far, as in a b b a; else a b b a.

    A drift that bends then counts against b as often as for it.

    >>> runs = [TimedRun(group=group, order=order, time_s=15.6) for order, group in enumerate("abba", start=1)]
    >>> next_turn(runs)
    'baab'
    """
    sessions = list(dict.fromkeys(run.session for run in runs))
    group, *levels_and_drifts = _design(runs, {one: place for place, one in enumerate(sessions)}).columns
    left = least_squares(levels_and_drifts, group).residuals
    lean = sum(curve * one for curve, one in zip(_curve(runs), left, strict=True))
    return THE_OTHER_WAY if lean < -1e-9 else IN_TURN


def more_runs_needed(model: DriftModel) -> int | None:
    """More runs of each group, in whole turns of :func:`next_turn`, until the difference shows in four of five.

    Power of the model's own t test at 95 % by the noncentral t, P(|T| > t) with mean |d| / u(d), the runs added to the
    last day and driver with that drift going on, difference and scatter as seen. None over 200. The difference seen is
    itself uncertain, so this is only a guide.
    """
    if model.difference is None:
        return None
    away, scatter = abs(model.difference.value), model.fit.residual_sd
    runs = list(model.runs)
    last = runs[-1]
    sessions = list(dict.fromkeys(run.session for run in runs))
    drifts = (
        dict.fromkeys(sessions, 0) if model.shares_drift else _own_drifts([*runs, *([last] * len(IN_TURN))], sessions)
    )
    before, turn = len(runs), next_turn(runs)
    order = max(_order(run) for run in runs if run.session == last.session)
    for place in range(2 * MOST_MORE_RUNS):
        group = turn[place % len(turn)]
        order += 1
        runs.append(TimedRun(group=group, order=order, time_s=1.0, day=last.day, driver=last.driver))
    columns = _design(runs, drifts).columns

    def shows(more: int) -> bool:
        """Whether so many more runs of each are enough; if they are, so are any more."""
        rows = before + 2 * more
        fit = least_squares([column[:rows] for column in columns], [0.0] * rows)
        unit = fit.unit_error([1.0, *([0.0] * (len(columns) - 1))])
        if unit is None or fit.degrees_of_freedom < 1:
            return False
        return scatter == 0.0 or _power(away / (scatter * unit), fit.degrees_of_freedom) >= POWER

    turns = range(1, MOST_MORE_RUNS // BOTH_TWICE + 1)
    found = bisect_left(turns, True, key=lambda turn: shows(turn * BOTH_TWICE))
    return turns[found] * BOTH_TWICE if found < len(turns) else None


def _power(away: float, freedom: float) -> float:
    limit = t_value(freedom)
    if away > limit + 10.0:
        return 1.0
    return 1.0 - noncentral_t_chance(freedom, away, limit) + noncentral_t_chance(freedom, away, -limit)


def _order(run: TimedRun) -> int:
    return run.order or 0


def _middles(runs: Sequence[TimedRun]) -> dict[Session, float]:
    sessions = dict.fromkeys(run.session for run in runs)
    return {session: mean(_order(run) for run in runs if run.session == session) for session in sessions}


def _own_drifts(runs: Sequence[TimedRun], sessions: Sequence[Session]) -> dict[Session, int]:
    """Which drift each session has, by number: its own, or 0 for those with too few runs for one."""
    counts = Counter(run.session for run in runs)
    return {one: place if counts[one] >= RUNS_FOR_A_DRIFT else 0 for place, one in enumerate(sessions, start=1)}


def _design(runs: Sequence[TimedRun], drifts: Mapping[Session, int]) -> _Design:
    sessions = list(dict.fromkeys(run.session for run in runs))
    middles = _middles(runs)
    columns = [[1.0 if run.group == "b" else 0.0 for run in runs]]
    columns += [[1.0 if run.session == session else 0.0 for run in runs] for session in sessions]
    varied = {one for one in sessions if len({run.order for run in runs if run.session == one}) > 1}
    column_of: dict[int, int] = {}
    drift_of: dict[Session, int] = {}
    for session in sessions:
        if session not in varied or session not in drifts:
            continue
        number = drifts[session]
        if number not in column_of:
            column_of[number] = len(columns)
            same = {one for one in varied if drifts.get(one) == number}
            columns.append([_order(run) - middles[run.session] if run.session in same else 0.0 for run in runs])
        drift_of[session] = column_of[number]
    return _Design(columns, drift_of)


def _curve(runs: Sequence[TimedRun]) -> list[float]:
    middles = _middles(runs)
    return [(_order(run) - middles[run.session]) ** 2 for run in runs]


def _fitted(runs: Sequence[TimedRun], drifts: Mapping[Session, int], smallest_sd: float) -> DriftModel:
    design = _design(runs, drifts)
    fit = least_squares(design.columns, [run.time_s for run in runs], smallest_sd)
    bent = least_squares([*design.columns, _curve(runs)], [run.time_s for run in runs], smallest_sd)
    count = len(design.columns)
    is_b = [run.group == "b" for run in runs]
    of_b, with_bend = [1.0, *([0.0] * (count - 1))], [1.0, *([0.0] * count)]
    used = Counter(design.drift_of.values())
    counts = Counter(run.session for run in runs)
    of_all = sum(counts[session] for session in design.drift_of)
    weights = [0.0] * count
    for session, column in design.drift_of.items():
        weights[column] += counts[session] / of_all
    drift = fit.interval(weights) if design.drift_of else None
    return DriftModel(
        runs=tuple(runs),
        fit=fit,
        difference=interval_of_two_scatters(fit, of_b, is_b, smallest_sd),
        bent=interval_of_two_scatters(bent, with_bend, is_b, smallest_sd),
        hides_a_bend=bent.unit_error(with_bend) is None,
        drift=drift,
        drifts={} if drift is None else {one: fit.coefficients[at] for one, at in design.drift_of.items()},
        middles=_middles(runs),
        shares_drift=False,
        sharing=sum(used[column] for column in used if used[column] > 1),
    )
