"""How well the own scale repeats itself: ``scale-check``."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from bevelbook import Calculator, Source, Worked, hookimpl
from bevelbook.formulas.scale_check import (
    SCALE_CHECK,
    ScaleCheckFound,
    ScaleCheckGiven,
    judge_scale_check,
    scale_check,
    scale_check_working,
)
from bevelbook.physics.weighing import GUM
from bevelbook.stats.odd_one_out import GRUBBS
from bevelbook.stats.variance_parts import TYPE_A

LIMITS: Final = Source(
    "proposal",
    "ten readings are wanted and five needed, four days for the term from day to day; rounding is taken out of the "
    "scatter of the readings, since every mass counts it by itself, down to what rounding alone makes",
)

CHECK: Final[Calculator[ScaleCheckGiven, ScaleCheckFound]] = Calculator(
    name="scale-check",
    title=SCALE_CHECK.title,
    question="How small a loss can this scale see?",
    purpose="repeatability of a scale, its drift and what a day changes, from one thing weighed again and again",
    version=1,
    given=ScaleCheckGiven,
    found=ScaleCheckFound,
    compute=scale_check,
    judge=judge_scale_check,
    working=scale_check_working,
    answer="smallest_seen_g",
    of="scale",
    valid=(
        "Method: a closed diff that does not run, or another thing of about that mass that loses nothing. Put it on "
        "ten times, take it off and let the scale come back to zero each time, and type what it shows, also where it "
        "is the same. The same again on other days.",
        "It tells how well the scale repeats itself, not whether it is right: a known mass shows that.",
        "Ten equal readings say that the scatter is hidden by the rounding, not that there is none: it counts as "
        "step / √12 then, beside the rounding itself, so that one digit of flicker is not seen as a loss.",
        "Ten readings know a standard deviation to -31/+83 % (95 %); what counts is widened for that.",
    ),
    sources=(GUM, TYPE_A, GRUBBS, LIMITS),
    worked=(
        Worked(
            {"readings": ["20.00"] * 10, "scale_step_g": "0.01"},
            {"repeatability_g": 0.0028868, "counted_repeatability_g": 0.0028868, "day_to_day_g": None},
            1e-6,
            Source("computed", "hand calculation: 0.01 g / √12 = 0.0028868 g"),
            "ok",
        ),
        Worked(
            {"readings": ["20.00:1", "20.02:1", "20.04:1", "20.06:2", "20.08:2", "20.10:2"], "scale_step_g": "0.01"},
            {"repeatability_g": 0.02, "day_to_day_g": 0.0408248},
            1e-6,
            Source(
                "computed",
                "hand calculation: MSW = (2 × 0.0008)/4 = 0.0004 g², MSB = 6 × 0.03²/1 = 0.0054 g², n0 = 3, "
                "d² = (0.0054 − 0.0004)/3 g²",
            ),
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (CHECK,)
