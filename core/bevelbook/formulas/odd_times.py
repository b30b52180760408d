"""Times that lie so far off the others that they are asked about before they count."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

from bevelbook.formulas.drift_model import DriftModel, drift_model
from bevelbook.formulas.timed_runs import TimedRun
from bevelbook.stats.odd_one_out import odd_residual

FAR_OFF: Final = 0.10
"""A time this share off the middle of its day is asked about however few runs there are (our own figure)."""
RUNS_FOR_A_MIDDLE: Final = 3
MOST_ODD: Final = 4
"""At most one run in so many is taken as odd by the scatter of the others."""


class OddTime(NamedTuple):
    """A run that does not belong with the others, and how far off the middle of the others it is."""

    run: TimedRun
    off_s: float


class OddTimes(NamedTuple):
    """The runs that belong together, and the odd ones."""

    others: tuple[TimedRun, ...]
    odd: tuple[OddTime, ...]
    model: DriftModel | None = None
    """The model of the others as it was fitted last; None where none was fitted to all of them."""


def odd_times(runs: Sequence[TimedRun], smallest_sd: float, with_order: bool = True) -> OddTimes:
    """Take out the times more than 10 % off the middle of their day and driver (from three runs there on), then one by
    one those that do not belong with what the model says of the others (at 1 %).

    >>> times = [("a", 15.6), ("b", 15.5), ("b", 15.52), ("a", 15.62), ("a", 19.9), ("b", 15.51)]
    >>> runs = [TimedRun(group=group, order=order, time_s=time) for order, (group, time) in enumerate(times, start=1)]
    >>> [(odd.run.order, round(odd.off_s, 2)) for odd in odd_times(runs, 0.003).odd]
    [(5, 4.29)]
    """
    odd = list(_far_off(runs))
    left = [run for run in runs if not any(run is one for one in odd)]
    model: DriftModel | None = None
    for _ in range(len(runs) // MOST_ODD):
        if not left:
            break
        model = drift_model(left, smallest_sd, with_order)
        place = odd_residual(model.fit, [run.time_s for run in left], smallest_sd)
        if place is None:
            break
        odd.append(left.pop(place))
        model = None
    off = tuple(OddTime(run, run.time_s - _middle_beside(run, left or odd)) for run in odd)
    return OddTimes(tuple(left), off, model)


def _far_off(runs: Sequence[TimedRun]) -> Iterator[TimedRun]:
    from statistics import median

    for session in dict.fromkeys(run.session for run in runs):
        own = [run for run in runs if run.session == session]
        middle = median(run.time_s for run in own)
        if len(own) >= RUNS_FOR_A_MIDDLE:
            yield from (run for run in own if abs(run.time_s - middle) > FAR_OFF * middle)


def _middle_beside(run: TimedRun, others: Sequence[TimedRun]) -> float:
    """The median of the runs most like it: of its group and day, of its day, of all."""
    from statistics import median

    own = [one for one in others if one.session == run.session]
    alike = [one for one in own if one.group == run.group]
    return median(one.time_s for one in alike or own or others)
