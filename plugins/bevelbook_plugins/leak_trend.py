"""Is it still full: oil lost since the fill, from weighings on one mass basis (``leak-trend``)."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from bevelbook import Calculator, Source, Worked, hookimpl
from bevelbook.formulas.leak import LeakFound, LeakGiven, judge_leak, leak, leak_working
from bevelbook.physics.weighing import GUM
from bevelbook.stats.known_scatter import AITKEN
from bevelbook.stats.several import SIDAK

LIMITS: Final = Source("proposal", "5 % of the oil lost is a caution, 10 % is a stop")
BETWEEN_DAYS: Final = Source("proposal", "a scale never checked on a second day is off by one step from day to day")
CONSTRUCTED: Final = Source(
    "computed",
    "constructed: 0.30 g by difference, U = 2 × √2 × √(0.01²/12 + 0.005²) g = 0.016 g; 0.30 / 1.86 = 16.1 %; "
    "0.29 g in 7 runs = 0.041 g per run",
)

LEAK_TREND = Calculator(
    name="leak-trend",
    title="Leak trend",
    question="Is this diff still full, and how long will it be?",
    purpose="oil lost between weighings, with what the scale can see, and the runs left",
    version=4,
    given=LeakGiven,
    found=LeakFound,
    compute=leak,
    judge=judge_leak,
    working=leak_working,
    answer="loss_g",
    seen_first=("oil_mass_g",),
    page=("build",),
    valid=(
        "Weighings on one mass basis only: the same parts on the scale, outside wiped, one scale if possible.",
        "Loss and intervals from two weighings; a trend and a date only from five whose scatter the scale explains.",
        "Before the scale was checked no stretch is called seen, none sudden, and no date is given.",
        "A weighing that the others contradict does not count; a sudden loss is one that a later weighing confirms.",
        "Without the oil put in there is no share and no date, and a bad weighing is one with a loss detected.",
        "The scale's own error is left out: the same scale at nearly the same mass makes the same error twice.",
        "How far the scale moves from one day to another counts: one step between days where it is not known.",
    ),
    sources=(GUM, AITKEN, SIDAK, LIMITS, BETWEEN_DAYS),
    cautions=("lost-oil",),
    worked=(
        Worked(
            {
                "weighings": ["0:22.35", "6:22.34", "13:22.05"],
                "repeatability_g": "0.005",
                "oil_mass_g": "1.86",
            },
            {
                "loss_g": 0.30,
                "loss_low_g": 0.284,
                "loss_high_g": 0.316,
                "loss_share": 0.1613,
                "smallest_loss_seen_g": 0.016,
                "changed_after_runs": 6,
                "changed_before_runs": 13,
                "runs_to_limit": None,
            },
            0.0005,
            CONSTRUCTED,
            "stop",
        ),
        Worked(
            {"weighings": ["0:22.60", "8:22.47"], "oil_mass_g": "1.86"},
            {"loss_g": 0.13, "loss_share": 0.0699},
            0.00005,
            Source("computed", "constructed: 0.13 g of 1.86 g = 7.0 %"),
            "caution",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (LEAK_TREND,)
