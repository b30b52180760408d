"""Is it really faster: two groups of runs, the drift of each day taken out (``run-comparison``)."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from bevelbook import Calculator, Source, Worked, hookimpl
from bevelbook.formulas.lap_comparison import LAP_COMPARISON, compare_laps, judge_laps, laps_working
from bevelbook.formulas.lap_comparison import LapComparisonFound as Found
from bevelbook.formulas.lap_standing import LapComparisonGiven as Given
from bevelbook.physics.weighing import GUM
from bevelbook.stats.odd_one_out import GRUBBS
from bevelbook.stats.two_scatters import DEGREES_OF_FREEDOM, HC2

WELCH: Final = Source(
    "paper",
    "Welch: The generalization of Student's problem when several different population variances are involved",
    "Biometrika 34",
    "1947",
    "p. 28-35",
    "from memory; computed by scipy.stats.ttest_ind",
)
MODEL: Final = Source(
    "computed",
    "one linear model by least squares: a level and a drift for each day and driver, and b minus a; its numbers agree "
    "with those of an independent library",
)
HOLDS: Final = Source(
    "computed",
    "2,000 simulations a case: see the valid range; equal builds get ok as different in at most 7 %, also where one "
    "group scatters more, grip comes in fast, something jumps once or times hang together",
)
PROPOSALS: Final = Source(
    "proposal",
    "ok only where the times as they are agree with the model; a caution with a single a b b a and with one "
    "group run before the other; a time 10 % off its "
    "day is asked about; runs that would decide it: enough for four of five such comparisons",
)
HOW_OFTEN: Final = (
    "The interval holds the truth in 93 to 97 % with a steady drift and as many runs of each in turn, also where one "
    "scatters more. Not so: a single a b b a with unlike scatter, 89 %; groups of different size, 99 % where they "
    "scatter alike, 90 % where the fewer scatter three times as much and 87 % at ten times; one before the other "
    "(a a a a b b b b), 97 %, and 41 % if something jumped by five times the scatter at the change."
)
CONSTRUCTED: Final = Source("computed", "constructed; scipy 1.17, Welch's interval")
BY_LIBRARY: Final = Source("computed", "constructed; statsmodels' least squares (HC2), and scipy's Welch")


RUN_COMPARISON = Calculator(
    name="run-comparison",
    title=LAP_COMPARISON.title,
    question="Is one really faster, or was it the track and luck?",
    purpose="two groups of runs: difference without the drift of the day, its interval, runs that would decide it",
    version=2,
    given=Given,
    found=Found,
    compute=compare_laps,
    judge=judge_laps,
    working=laps_working,
    answer="difference_s",
    of_a_pair=True,
    valid=(
        "Two runs a side at least, one figure a run: the mean of its best five laps, or its best lap.",
        "The order of the runs over both groups, from 1 each day; without it a drift cannot be taken out.",
        "The drift is taken as steady over a day; run in turn, a b b a, and it cancels. On several days turn it round: "
        "a b b a, then b a a b, so that grip that comes in fast does not look like a difference.",
        HOW_OFTEN,
        "Decide before how many runs you will do: equal builds looked at after 8, 12, 16 and 20 runs are found "
        "different once in about 10 % instead of 5 %.",
        "Runs on a doubtful diff do not count. What else was changed is in the difference too.",
        "The runs that would decide it are a guide: they take the difference and the scatter as seen to be true.",
    ),
    sources=(WELCH, MODEL, HC2, DEGREES_OF_FREEDOM, HOLDS, GRUBBS, GUM, PROPOSALS),
    worked=(
        Worked(
            {"runs": ["a::15.61", "a::15.70", "a::15.65", "b::15.70", "b::15.72"]},
            {"plain_difference_s": 0.0567, "plain_low_s": -0.0424, "plain_high_s": 0.1557},
            0.00005,
            CONSTRUCTED,
            "unclear",
        ),
        Worked(
            {
                "runs": [
                    "a:1:15.70",
                    "b:2:15.63",
                    "b:3:15.66",
                    "a:4:15.82",
                    "a:5:15.85",
                    "b:6:15.78",
                    "b:7:15.81",
                    "a:8:15.97",
                ],
                "also_changed": "nothing",
            },
            {
                "difference_s": -0.115,
                "difference_low_s": -0.123,
                "difference_high_s": -0.107,
                "plain_difference_s": -0.115,
                "plain_low_s": -0.291,
                "plain_high_s": 0.061,
                "more_runs_needed": 0,
            },
            0.0005,
            BY_LIBRARY,
            "ok",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (RUN_COMPARISON,)
