"""The calculators that a step of the procedure names, with the diff on the bench filled in."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Any

from bevelbook.card.procedure import ProcedureStep
from bevelbook.plugin.registry import Registry
from bevelbook.reports.bench import JobOnBench
from bevelbook.web.shared.offered_calculators import OfferedHere
from bevelbook.web.shared.typed_form import TypedForm


def step_calculators(
    connection: sqlite3.Connection, registry: Registry, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> Mapping[str, Any]:
    """Those that are loaded, under ``work_out``."""
    offered = (registry.in_force(name) for name in step.calculators)
    return {
        "work_out": [
            OfferedHere(one.calculator.name, one.calculator.title, {"for": f"diff:{job.diff}"})
            for one in offered
            if one is not None
        ]
    }
