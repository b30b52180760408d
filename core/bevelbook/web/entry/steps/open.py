"""Opening the diff: why, and what the screws are like; the day and who did it are taken by themselves."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from typing import Any, Final

from bevelbook.card.procedure import ProcedureStep
from bevelbook.declare.vocabulary import OIL_CHANGE, TOP_UP
from bevelbook.records import BY_NAME
from bevelbook.reports.bench import JobOnBench
from bevelbook.reports.opening_of_job import seen_so_far
from bevelbook.saving.record import WantedRecord
from bevelbook.web.entry.step_fields import step_field, typed_texts
from bevelbook.web.entry.steps.step_screen import StepScreen, of_opening
from bevelbook.web.shared.typed_form import TypedForm

_FIELDS: Final = ("reason", "screws")
_SOUND: Final = "ok"
_WET: Final = ("damp", "drops", "empty")


def shown(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> Mapping[str, Any]:
    """The reason, as the kind of the job or a wet place has it until another is chosen, and the screws."""
    stored = seen_so_far(connection, job)
    kind = BY_NAME["opening"]
    noted = job.steps.get(step.key)
    is_said = noted is not None and noted.is_over
    reason = stored.get("reason") if is_said else _usual_reason(job, stored)
    return {
        "reason": step_field(kind.field("reason"), words="Why it is opened", stored=reason),
        "screws": step_field(kind.field("screws"), stored=stored.get("screws") or _SOUND),
    }


def _usual_reason(job: JobOnBench, stored: Mapping[str, Any]) -> str:
    if stored.get("leak_amount") in _WET:
        return "leak"
    return job.kind if job.kind in (OIL_CHANGE, TOP_UP) else "routine"


def wanted(
    connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> Sequence[WantedRecord]:
    """The opening, with what is chosen."""
    texts = typed_texts(typed, _FIELDS)
    return [of_opening(texts)] if texts else []


SCREEN: Final = StepScreen("open", shown, wanted)
