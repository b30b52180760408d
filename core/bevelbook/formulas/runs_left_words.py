"""The runs that are left until a limit of oil lost, in words: the same for the calculator, the check and the pages."""

from __future__ import annotations

from math import floor
from typing import Final

from bevelbook.declare.counting import counted
from bevelbook.formulas.leak_rate import RunsToLimit

NONE_LEFT: Final = "no runs left"
UNCLEAR_IF_ANY: Final = "unclear whether any runs are left"
_NOISE_RUNS: Final = 1e-6
_FAR_OFF: Final = 4
"""How many times the runs that are left at least the upper end may be, to be worth printing."""


def is_limit_undecided(loss_g: float, uncertainty_g: float, stop_g: float) -> bool:
    """Whether a loss ± U (k = 2) may or may not be over the limit: then no number of runs is called left.

    >>> [is_limit_undecided(loss_g, 0.016, 0.186) for loss_g in (0.16, 0.18, 0.21)]
    [False, True, False]
    """
    return loss_g - uncertainty_g < stop_g <= loss_g + uncertainty_g


def whole_runs(runs: float) -> int:
    """Whole runs that are left: of 1.7 the second would pass the limit. A run short by noise is whole.

    >>> [whole_runs(one) for one in (1.7, 1.9999999, -3.0)]
    [1, 2, 0]
    """
    return max(0, floor(runs + _NOISE_RUNS))


def left_by_trend_in_words(reached: RunsToLimit, now_runs: float) -> str:
    """How many runs are left after ``now_runs`` runs since the build, by the trend.

    >>> left_by_trend_in_words(RunsToLimit(30.3, 18.2, 91.9), 16.0)
    'about 14 runs left after run 16 (2 to 75, 95 %)'
    >>> left_by_trend_in_words(RunsToLimit(None, 18.2, None), 16.0)
    'at least 2 runs left after run 16, if nothing changes (95 %)'
    """
    low, after = whole_runs(reached.low - now_runs), f"left after run {now_runs:g}"
    if reached.runs is None or reached.high is None:
        return f"at least {counted(low, 'run')} {after}, if nothing changes (95 %)"
    most = whole_runs(reached.high - now_runs)
    return f"about {counted(whole_runs(reached.runs - now_runs), 'run')} {after} ({low} to {most}, 95 %)"


def left_in_words(low: float, high: float | None) -> str:
    """The runs left between two ends: where the upper one is far off, only the lower one says anything.

    >>> [left_in_words(*ends) for ends in ((8.6, 19.5), (2.0, 75.0), (3.1, 3.9), (0.2, 1.4), (0.0, 0.7), (5.0, None))]
    ['8 to 19 runs', 'at least 2 runs', 'about 3 runs', 'at most 1 run', 'no whole run', 'at least 5 runs']
    """
    least, most = whole_runs(low), None if high is None else whole_runs(high)
    if most is None or (least and most > _FAR_OFF * least):
        return f"at least {counted(least, 'run')}"
    if not most:
        return "no whole run"
    if not least:
        return f"at most {counted(most, 'run')}"
    return f"about {counted(most, 'run')}" if least == most else f"{least} to {most} runs"
