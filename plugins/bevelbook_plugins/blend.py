"""How much of each bottle makes the oil in between: ``blend``."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from bevelbook import Calculator, Source, Worked, hookimpl
from bevelbook.formulas.oil_blend import OIL_BLEND, BlendFound, BlendGiven, blend, blend_working, judge_blend
from bevelbook.formulas.thick_oils import SHEAR_RATES, THICK_OILS, THINNING
from bevelbook.physics.blending import BLEND_BAND, LOG_BLEND, THINNEST_CST
from bevelbook.physics.viscosity import LABELS

RATIOS: Final = Source(
    "proposal",
    "Look twice at parts more than four times apart in viscosity; more than ten times apart, measure the blend "
    "or make it in steps: no measured series of silicone blends was found",
)


BLEND: Final = Calculator(
    name="blend",
    title=OIL_BLEND.title,
    question="How much of each bottle makes the oil in between?",
    purpose="masses for a blend, or the viscosity of a blend of these masses",
    version=2,
    given=BlendGiven,
    found=BlendFound,
    compute=blend,
    judge=judge_blend,
    working=blend_working,
    answer="viscosity_blend_cst",
    seen_first=("target_viscosity_cst", "blend_mass_g"),
    valid=(
        "Silicone oils (polydimethylsiloxane) only, by mass, all viscosities at 25 °C, "
        f"from {THINNEST_CST:g} cSt up. Any number of parts; with a target the two nearest to it are used.",
        "No measured series of silicone blends was found, so no accuracy is published: the band shows how far "
        "published rules differ. Weigh, stir slowly until no streaks are seen, and let the bubbles out.",
        THICK_OILS,
        "Grease, putty and oils known only by a number in wt cannot be computed: measure them first.",
    ),
    sources=(LOG_BLEND, BLEND_BAND, RATIOS, LABELS, THINNING, SHEAR_RATES),
    cautions=("oil-on-floor", "oil-in-eye"),
    worked=(
        Worked(
            {"parts": ["1000", "300"], "target_viscosity_cst": "600", "blend_mass_g": "100 g"},
            {"viscosity_blend_cst": 600.0},
            1e-6,
            LOG_BLEND,
            "ok",
        ),
        Worked(
            {"parts": ["1000:57.5g", "300:42.5g"]},
            {"viscosity_blend_cst": 600.0},
            3.0,
            LOG_BLEND,
            "ok",
        ),
        Worked(
            {"parts": ["5000:5.15 g", "10000:10.85 g"]},
            {"viscosity_blend_cst": 8000.0},
            1.0,
            Source("computed", "hand calculation: ln(8000/5000) / ln(10000/5000) = 0.6781; 0.6781 × 16 g = 10.85 g"),
            "ok",
        ),
        Worked(
            {"parts": ["1000:10g", "20000:10g"]},
            {"viscosity_blend_cst": 4472.0},
            1.0,
            Source("computed", "hand calculation: √(1000 × 20000) = 4472"),
            "caution",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (BLEND,)
