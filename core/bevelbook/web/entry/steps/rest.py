"""Rest on paper: an hour lid up, an hour lid down, then dry or wet; it may be left open."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from typing import Any, Final

from bevelbook.card.procedure import ProcedureStep
from bevelbook.declare.errors import InputError, Place
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.reports.bench import JobOnBench
from bevelbook.reports.bench_waits import LID_DOWN, LID_UP
from bevelbook.saving.record import WantedRecord
from bevelbook.store.ids import now_utc
from bevelbook.web.entry.step_fields import StepField, step_field
from bevelbook.web.entry.steps.step_screen import StepCourse, StepScreen, in_build
from bevelbook.web.shared.typed_form import TypedForm
from bevelbook.web.shared.waiting import after_minutes, wait_shown

MINUTES: Final = 60
"""How long on each side; common practice, no source."""
SIDE: Final = "side"
DRY: Final = "dry"
WET: Final = "wet"
MASS: Final = "mass_g"
CLOSED: Final = "closed"


def shown(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> Mapping[str, Any]:
    """Which side it lies on and until when, and where it may be wet."""
    noted = job.steps.get(step.key)
    is_open = noted is not None and not noted.is_over
    weighing, opening = BY_NAME["weighing"], BY_NAME["opening"]
    places = tuple(one for one in opening.field("leak_place").choices if one != "unknown")
    return {
        "side": noted.note if noted and is_open else None,
        "wait": wait_shown(noted.until_at, now_utc()) if noted and is_open else None,
        "found": noted.note if noted and noted.is_over else "",
        "lid_up": LID_UP,
        "lid_down": LID_DOWN,
        "minutes": MINUTES,
        "wet": StepField(WET, "Where it is wet", "choice", choices=places),
        "mass": step_field(weighing.field(MASS), words="Weighed again, wiped"),
    }


def wanted(
    connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> Sequence[WantedRecord]:
    """A weighing where it was wet and weighed again."""
    mass, place = typed.text(MASS), typed.text(WET)
    if not (mass and place) or typed.text(SIDE) or typed.text(DRY):
        return []
    return [in_build("weighing", {MASS: mass, "mass_basis": CLOSED, "wiped": "yes", "note": f"wet on paper: {place}"})]


def course(
    connection: sqlite3.Connection, registry: Registry, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> StepCourse:
    """Laid down on a side until the hour is over; or what the paper shows. Raises InputError where that is not said."""
    side = typed.text(SIDE)
    if side in (LID_UP, LID_DOWN):
        return StepCourse(is_over=False, until_at=after_minutes(now_utc(), MINUTES), note=side)
    if typed.text(DRY):
        return StepCourse(note=DRY)
    place = typed.text(WET)
    if place:
        return StepCourse(note=f"wet: {place}")
    raise InputError(
        "what the paper shows is still needed",
        code="missing_input",
        place=Place(field=WET),
        remedy="Say that it is dry, or choose where it is wet.",
    )


SCREEN: Final = StepScreen("rest", shown, wanted, asks=False, course=course, may_stay_open=True)
