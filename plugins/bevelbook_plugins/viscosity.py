"""How thick an oil is when warm or cold: ``viscosity``."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from bevelbook import Calculator, Source, Worked, hookimpl
from bevelbook.formulas.oil_at_temperature import (
    OIL_AT_TEMPERATURE,
    ViscosityFound,
    ViscosityGiven,
    judge_warm,
    warm,
    warm_working,
)
from bevelbook.formulas.thick_oils import SHEAR_RATES, THICK_OILS, THINNING
from bevelbook.physics.viscosity import (
    LABELS,
    LAW_RANGE,
    VISCOSITY_CURVES,
    VISCOSITY_LAW,
    VISCOSITY_TABLE,
)

VISCOSITY: Final = Calculator(
    name="viscosity",
    title=OIL_AT_TEMPERATURE.title,
    question="How thick is this oil at the temperature of the diff?",
    purpose="viscosity of an oil at a temperature",
    version=2,
    given=ViscosityGiven,
    found=ViscosityFound,
    compute=warm,
    judge=judge_warm,
    working=warm_working,
    answer="viscosity_at_temperature_cst",
    page=("fluid",),
    valid=(*LAW_RANGE, THICK_OILS),
    sources=(VISCOSITY_LAW, VISCOSITY_TABLE, VISCOSITY_CURVES, THINNING, SHEAR_RATES, LABELS),
    cautions=("oil-hot", "hot-parts", "oil-on-floor", "oil-in-eye"),
    worked=(
        Worked(
            {"viscosity_cst": "1000", "temperature_c": "50 °C"},
            {"viscosity_at_temperature_cst": 633.0},
            16.0,
            VISCOSITY_TABLE,
            "ok",
        ),
        Worked(
            {"viscosity_cst": "10000", "temperature_c": "0"},
            {"viscosity_at_temperature_cst": 17500.0},
            438.0,
            VISCOSITY_TABLE,
            "ok",
        ),
        Worked(
            {"viscosity_cst": "7000", "temperature_c": "35"},
            {"viscosity_at_temperature_cst": 5780.0, "ratio_to_25": 0.826},
            5.0,
            Source("computed", "hand calculation: exp(1757.1 × (1/308.15 - 1/298.15)) = 0.8259"),
            "ok",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (VISCOSITY,)
