"""Is it really faster: two groups of runs, the drift of the day first, then the difference (``run-comparison``)."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from bevelbook import Calculator, Source, Worked, hookimpl
from bevelbook.formulas.lap_comparison import (
    LAP_COMPARISON,
    LapComparisonFound,
    LapComparisonGiven,
    compare_laps,
    judge_laps,
    laps_working,
)

WELCH: Final = Source(
    "paper",
    "Welch: The generalization of Student's problem when several different population variances are involved",
    "Biometrika 34",
    "1947",
    "p. 28-35",
    "from memory; computed by scipy.stats.ttest_ind",
)
DRIFT: Final = Source(
    "computed",
    "drift: slope of time on order within each group (ordinary least squares with a level for each group)",
)
ENOUGH: Final = Source(
    "proposal", "runs that would decide it: enough for a difference as seen to show in four of five such comparisons"
)
CONSTRUCTED: Final = Source("computed", "constructed; scipy 1.17, Welch's interval")


RUN_COMPARISON = Calculator(
    name="run-comparison",
    title=LAP_COMPARISON.title,
    question="Is one really faster, or was it the track and luck?",
    purpose="two groups of runs: drift of the day, difference with its interval, runs that would decide it",
    version=1,
    given=LapComparisonGiven,
    found=LapComparisonFound,
    compute=compare_laps,
    judge=judge_laps,
    working=laps_working,
    answer="difference_s",
    of_a_pair=True,
    valid=(
        "Two runs a side at least, in one unit of time, each the same kind of time (one lap, or a mean of best laps).",
        "The drift is taken as steady over the day; run in turn, a b b a, and it cancels.",
        "Runs on a doubtful diff do not count. What else was changed is in the difference too.",
        "The runs that would decide it are a guide: they take the difference and the spread as seen to be true.",
    ),
    sources=(WELCH, DRIFT, ENOUGH),
    worked=(
        Worked(
            {"runs": ["a:1:15.61", "a:2:15.70", "a:3:15.65", "b:4:15.70", "b:5:15.72"]},
            {"difference_s": 0.0567, "difference_low_s": -0.0424, "difference_high_s": 0.1557},
            0.00005,
            CONSTRUCTED,
            "unclear",
        ),
        Worked(
            {
                "runs": [
                    "a:1:15.90",
                    "b:2:15.70",
                    "b:3:15.74",
                    "a:4:15.94",
                    "a:5:15.88",
                    "b:6:15.69",
                    "b:7:15.76",
                    "a:8:15.95",
                ],
                "also_changed": "nothing",
            },
            {"difference_s": -0.195, "difference_low_s": -0.252, "difference_high_s": -0.138, "more_runs_needed": 0},
            0.0005,
            CONSTRUCTED,
            "ok",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (RUN_COMPARISON,)
