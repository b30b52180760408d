"""Pouring: the stop mass from a metre away, and what each reading says."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Any, Final

from bevelbook.card.procedure import ProcedureStep
from bevelbook.reports.bench import JobOnBench
from bevelbook.web.entry import pouring_step
from bevelbook.web.entry.steps.step_screen import StepScreen


def shown(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> Mapping[str, Any]:
    """The button that ends the pouring."""
    return {"goes_on": "That is the last reading"}


SCREEN: Final = StepScreen(
    "pour",
    shown,
    pouring_step.wanted,
    numbers=pouring_step.numbers,
    course=pouring_step.course,
    stores=pouring_step.stores,
)
