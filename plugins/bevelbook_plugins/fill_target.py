"""At what reading of the scale to stop pouring: ``fill-target``."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from bevelbook import (
    Calculator,
    Source,
    Worked,
    hookimpl,
)
from bevelbook.formulas.fill_target import FILL, FillFound, FillGiven, fill, fill_working, judge_fill
from bevelbook.physics.density import EXPANSION_SOURCE
from bevelbook.physics.weighing import GUM

HEADSPACE: Final = Source(
    "proposal",
    "over 50 kPa above the outside air when hot is a caution, as in headspace; over 95 % full is a stop, "
    "since it leaves 1.5 % of the room for air at 60 °C, about the drop or two by which a fill is off; the pressure "
    "itself depends on the housing",
)
WINDOW: Final = Source(
    "proposal",
    "a fill is right within 1 % of the oil, not under 0.02 g, about a drop (common practice, no source); a scale that "
    "cannot tell 3 % of the oil is a caution; washing leaves about 0.01 g of old oil",
)


FILL_TARGET = Calculator(
    name="fill-target",
    title=FILL.title,
    question="At what reading of the scale do I stop pouring?",
    purpose="stop mass for a fill, with what the scale can see",
    version=4,
    given=FillGiven,
    found=FillFound,
    compute=fill,
    judge=judge_fill,
    working=fill_working,
    answer="stop_mass_g",
    in_place_of={"stop_mass_g": "zeroed_stop_g", "stop_low_g": "zeroed_low_g", "stop_high_g": "zeroed_high_g"},
    one_of=FILL.one_of,
    read_now=FILL.read_now,
    page=("build",),
    valid=(
        "Any positive masses. The window is your own limit 'fill window', else 1 % of the oil, not under 0.02 g, about "
        "a drop; it is rounded inwards to readings that the scale can show.",
        "What the scale can tell (k = 2) is said beside it, and does not widen it.",
        "Air buoyancy is left out: 2.0 mg on 1.86 g of oil, and the same in every build.",
        "Density from the grade table: 0.65 to 1,000,000 cSt; expansion from -20 to 100 °C.",
    ),
    sources=(GUM, EXPANSION_SOURCE, HEADSPACE, WINDOW),
    cautions=("oil-on-floor", "oil-in-eye"),
    worked=(
        Worked(
            {"dry_mass_g": "12.40 g", "oil_mass_g": "1.86 g", "reading_g": "14.25"},
            {"stop_mass_g": 14.26, "stop_low_g": 14.24, "stop_high_g": 14.28, "remaining_g": 0.01},
            1e-9,
            Source(
                "computed",
                "hand calculation: 12.40 + 1.86 = 14.26 g; 1 % of 1.86 g is under a drop, so 0.02 g either way",
            ),
            "ok",
        ),
        Worked(
            {
                "dry_mass_g": "12.40 g",
                "oil_mass_g": "1.86 g",
                "scale_step_g": "0.01",
                "repeatability_g": "0.005",
                "scale_error_g": "0.01",
            },
            {"uncertainty_g": 0.02},
            1e-5,
            GUM,
        ),
        Worked(
            {"dry_mass_g": "12.40 g", "oil_mass_g": "2.12 g", "free_volume_cm3": "2.24", "viscosity_cst": "7000"},
            {"oil_mass_g": 2.12},
            1e-9,
            HEADSPACE,
            "stop",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (FILL_TARGET,)
