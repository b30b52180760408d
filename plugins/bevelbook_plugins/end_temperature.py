"""How hot the diff was when the run ended: ``end-temperature``."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from bevelbook import Calculator, Source, Worked, hookimpl
from bevelbook.formulas.end_temperature import (
    END_TEMPERATURE,
    EndFound,
    EndGiven,
    end_temperature,
    end_working,
    judge_end,
)
from bevelbook.physics.cooling import NEWTON_COOLING

READING_ERROR: Final = Source(
    "proposal",
    "a reading by hand, of the air too, is off by anything up to 1 °C either way, independently; taking back over more "
    "than the time between the readings is a caution; the first minute is too early",
)
BOUNDED_ERRORS: Final = Source(
    "standard",
    "Evaluation of measurement data: Supplement 1 to the GUM, propagation of distributions, JCGM 101:2008",
    "Joint Committee for Guides in Metrology",
    "2008",
    "",
    "not opened; the distribution of a sum of evenly spread errors is computed here",
)

END: Final[Calculator[EndGiven, EndFound]] = Calculator(
    name="end-temperature",
    title=END_TEMPERATURE.title,
    question="How hot was the diff when the run ended?",
    purpose="temperature at the end of a run from readings after it",
    version=3,
    given=EndGiven,
    found=EndFound,
    compute=end_temperature,
    judge=judge_end,
    working=end_working,
    answer="end_temperature_c",
    of="run_diff",
    valid=(
        "Two readings of one spot or more, the air around the same all the time; from about a minute after the run on.",
        "It is the case that was read: the oil inside is hotter at first, by how much this cannot tell.",
        "How fast it cools depends on wind, on the hand that carries it and on the car around it: one curve of one "
        "place says nothing of another.",
        "An error that the thermometer makes alike in every reading (a shiny case under an infra-red gun) moves the "
        "answer by as much and is not in the interval.",
        "Readings less than twice their error above the air are refused.",
    ),
    sources=(NEWTON_COOLING, BOUNDED_ERRORS, READING_ERROR),
    cautions=("hot-parts",),
    worked=(
        Worked(
            {"readings": ["120:38", "300:35"], "ambient_c": "22"},
            {"end_temperature_c": 40.38},
            0.005,
            Source("computed", "hand calculation: 22 + 16 × (16/13)^(120/180) = 22 + 16 × 1.1485 = 40.38"),
            "ok",
        ),
        Worked(
            {"readings": ["10 min:81.4", "30 min:61.2"], "ambient_c": "20"},
            {"end_temperature_c": 95.0},
            0.1,
            Source("computed", "constructed: 20 + 75 exp(-0.02 t), t in minutes, is 81.40 at 10 and 61.16 at 30"),
            "ok",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (END,)
