"""Is it still full: oil lost since the fill, from weighings on one mass basis (``leak-trend``)."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from bevelbook import Calculator, Source, Worked, hookimpl
from bevelbook.formulas.leak import LeakFound, LeakGiven, judge_leak, leak, leak_working
from bevelbook.physics.regression import INVERSE
from bevelbook.physics.weighing import GUM

LIMITS: Final = Source("proposal", "5 % of the oil lost asks for a second look, 10 % is a stop")
CONSTRUCTED: Final = Source(
    "computed",
    "constructed: 0.25 g by difference, U = 2 × √2 × √(0.01²/12 + 0.005²) g = 0.016 g; 0.25 / 1.50 = 16.7 %; "
    "0.24 g in 7 runs = 0.034 g per run",
)

LEAK_TREND = Calculator(
    name="leak-trend",
    title="Leak trend",
    question="Is this diff still full, and how long will it be?",
    purpose="oil lost between weighings, with what the scale can tell, and the runs left",
    version=3,
    given=LeakGiven,
    found=LeakFound,
    compute=leak,
    judge=judge_leak,
    working=leak_working,
    answer="loss_g",
    valid=(
        "Weighings on one mass basis only: the same parts on the pan, outside wiped, one scale if possible.",
        "Loss and intervals from two weighings; a trend and a date only from five whose scatter the scale explains.",
        "Without the oil put in there is no share and no date, and a bad weighing is one with a loss detected.",
        "The scale's own error is left out: the same scale at nearly the same mass makes the same one twice.",
    ),
    sources=(GUM, INVERSE, LIMITS),
    cautions=("lost-oil",),
    worked=(
        Worked(
            {
                "weighings": ["0:18.35", "6:18.34", "13:18.10"],
                "repeatability_g": "0.005",
                "oil_mass_g": "1.50",
            },
            {
                "loss_g": 0.25,
                "loss_low_g": 0.234,
                "loss_high_g": 0.266,
                "loss_share": 0.1667,
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
            {"weighings": ["0:18.60", "8:18.49"], "oil_mass_g": "1.50"},
            {"loss_g": 0.11, "loss_share": 0.0733},
            0.00005,
            Source("computed", "constructed: 0.11 g of 1.50 g = 7.3 %"),
            "caution",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (LEAK_TREND,)
