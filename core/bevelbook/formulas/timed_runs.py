"""Timed runs of two groups: their order in a day, and one figure a run."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import pairwise
from math import sqrt
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.fields import LAP_S, choice, quantity, record, text, which_day, whole
from bevelbook.formulas.inputs import was_doubtful
from bevelbook.stats.spread import mean

Session = tuple[str | None, str | None]
"""A day and a driver: what has a level of its own."""
STEPS_S: Final = (1.0, 0.1, 0.01, 0.001, 0.0001, 0.00001)
"""Steps that times are read off to, in seconds."""


@record
class TimedRun:
    group: str = choice(("a", "b"), "Which of the two")
    order: int | None = whole("Place in the day, over both groups, from 1", default=None, minimum=1)
    time_s: float = quantity("s", "Mean of the best laps of the run, or its best lap", above=0, plausible=LAP_S)
    day: str | None = which_day("Day, a date or a number, if the runs are from more than one", default=None)
    driver: str | None = text("Driver, if more than one drove", default=None)
    doubtful: str = was_doubtful()

    @property
    def session(self) -> Session:
        return self.day, self.driver


class OneFigureARun(NamedTuple):
    """Runs with the laps of one run made one figure; ``laps`` is how many rows were laps, ``of`` of how many runs."""

    runs: tuple[TimedRun, ...]
    laps: int
    of: int


def place_of(run: TimedRun) -> str:
    """Which run it is, in words: ``run 5 of 2026-05-03, ana``; empty where nothing says."""
    when = ", ".join(one for one in run.session if one)
    number = "" if run.order is None else f"run {run.order}"
    return " of ".join(one for one in (number, when) if one)


def order_fault(runs: Sequence[TimedRun]) -> str | None:
    """Why the order of the runs cannot be used, in words; None if it can.

    It cannot where a run has none, and where one place in a day is given to a run of each group.
    """
    without = sum(run.order is None for run in runs)
    if without:
        if without == len(runs):
            return "the order of the runs is not known"
        return f"{counted(without, 'run')} {'has' if without == 1 else 'have'} no order"
    groups: dict[tuple[Session, int | None], set[str]] = {}
    for run in runs:
        groups.setdefault((run.session, run.order), set()).add(run.group)
    twice = [(session, order) for (session, order), sides in groups.items() if len(sides) > 1]
    if not twice:
        return None
    if len({run.order for run in runs}) == 1:
        return f"all runs have the order {runs[0].order}, so the order in which they were run is not known"
    (day, driver), order = twice[0]
    when = "".join(f", {one}" for one in (day, driver) if one)
    return f"the order {order} is given to a run of a and to a run of b{when}"


def one_figure_a_run(runs: Sequence[TimedRun]) -> OneFigureARun:
    """Rows of one group with the same day, driver and order are laps of one run: their mean is its figure."""
    by_run: dict[tuple[Session, str, int | None], list[TimedRun]] = {}
    for run in runs:
        by_run.setdefault((run.session, run.group, run.order), []).append(run)
    several = [laps for laps in by_run.values() if len(laps) > 1]
    figures = tuple(_mean_of(laps) if len(laps) > 1 else laps[0] for laps in by_run.values())
    return OneFigureARun(figures, sum(map(len, several)), len(several))


def _mean_of(laps: Sequence[TimedRun]) -> TimedRun:
    first = laps[0]
    return TimedRun(
        group=first.group,
        order=first.order,
        time_s=mean(lap.time_s for lap in laps),
        day=first.day,
        driver=first.driver,
        doubtful=first.doubtful,
    )


def timing_step_s(times: Sequence[float]) -> float:
    """The step that all times are read off to; 0 where they are finer than 0.00001 s.

    >>> timing_step_s([15.6, 15.62, 15.7]), timing_step_s([15.0, 16.0])
    (0.01, 1.0)
    """
    for decimals, step in enumerate(STEPS_S):
        if all(abs(round(time, decimals) - time) < 1e-9 for time in times):
            return step
    return 0.0


def smallest_sd_s(runs: Sequence[TimedRun]) -> float:
    """The scatter that reading off alone makes: step / sqrt 12 (JCGM 100:2008, F.2.2.1).

    >>> runs = [TimedRun(group="a", time_s=15.6), TimedRun(group="b", time_s=15.7)]
    >>> round(smallest_sd_s(runs), 4)
    0.0289
    """
    return timing_step_s([run.time_s for run in runs]) / sqrt(12.0)


def is_in_blocks(runs: Sequence[TimedRun]) -> bool:
    """Whether no day and driver went from one group to the other more than once, and always the same way round.

    >>> def of(groups): return [TimedRun(group=one, order=n, time_s=15.6) for n, one in enumerate(groups, start=1)]
    >>> is_in_blocks(of("aaabbb")), is_in_blocks(of("abba"))
    (True, False)
    """
    changes: set[str] = set()
    for session in dict.fromkeys(run.session for run in runs):
        own = sorted((run for run in runs if run.session == session), key=lambda run: run.order or 0)
        found = [one.group + other.group for one, other in pairwise(own) if one.group != other.group]
        if len(found) > 1:
            return False
        changes.update(found)
    return len(changes) == 1


def counts_by_group(runs: Sequence[TimedRun]) -> tuple[int, int]:
    """How many runs of a and of b."""
    counts = Counter(run.group for run in runs)
    return counts["a"], counts["b"]
