"""Weighing again after the bubbles: what is missing to the stop mass, or over it."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Any, Final

from bevelbook.card.procedure import ProcedureStep
from bevelbook.reports.bench import JobOnBench
from bevelbook.web.entry import pouring_step
from bevelbook.web.entry.steps.step_screen import StepScreen


def shown(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> Mapping[str, Any]:
    """The button that goes on; left empty, the reading is as it was before the bubbles."""
    stored = pouring_step.build_values(connection, job).get(pouring_step.FILLED)
    return {"goes_on": "Next" if stored is None else f"Next: {stored:.12g} g, or as typed"}


SCREEN: Final = StepScreen(
    "weigh-again",
    shown,
    pouring_step.wanted,
    numbers=pouring_step.numbers,
    course=pouring_step.course,
    stores=pouring_step.stores,
)
