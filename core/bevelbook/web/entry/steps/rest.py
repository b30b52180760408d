"""Rest on paper: an hour lid up, an hour lid down, then dry or wet; it may be left open."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from typing import Any, Final

from bevelbook.card.procedure import ProcedureStep
from bevelbook.declare.errors import InputError, Place
from bevelbook.entering.question import Question, Way
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.reports.bench import JobOnBench
from bevelbook.reports.bench_waits import LID_DOWN, LID_UP
from bevelbook.saving.record import WantedRecord
from bevelbook.store.ids import now_utc
from bevelbook.web.entry.sent import ANSWER
from bevelbook.web.entry.step_fields import StepField, number_text, step_field
from bevelbook.web.entry.steps.step_screen import StepCourse, StepScreen, in_build
from bevelbook.web.shared.typed_form import TypedForm
from bevelbook.web.shared.waiting import after_minutes, wait_shown

MINUTES: Final = 60
"""How long on each side; common practice, no source."""
SIDE: Final = "side"
DRY: Final = "dry"
WET: Final = "wet"
_WET_AT: Final = "wet: "
"""Begins the note of a step that found the paper wet."""
MASS: Final = "mass_g"
CLOSED: Final = "closed"


def shown(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> Mapping[str, Any]:
    """Which side it lies on and until when, and where it may be wet."""
    noted = job.steps.get(step.key)
    is_open = noted is not None and not noted.is_over
    weighing, opening = BY_NAME["weighing"], BY_NAME["opening"]
    places = tuple(one for one in opening.field("leak_place").choices if one != "unknown")
    place = noted.note.removeprefix(_WET_AT) if noted and noted.note and noted.note.startswith(_WET_AT) else ""
    return {
        "side": noted.note if noted and is_open else None,
        "wait": wait_shown(noted.until_at, now_utc()) if noted and is_open else None,
        "found": noted.note if noted and noted.is_over else "",
        "lid_up": LID_UP,
        "lid_down": LID_DOWN,
        "minutes": MINUTES,
        "wet": StepField(WET, "Where it is wet", "choice", choices=places, typed=place),
        "mass": step_field(weighing.field(MASS), words="Weighed again, wiped"),
    }


def wanted(
    connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> Sequence[WantedRecord]:
    """What it weighed, where it was weighed again."""
    mass, place = number_text(typed, MASS), _wet_at(typed)
    if not mass:
        return []
    note = {"note": f"wet on paper: {place}"} if place else {}
    return [in_build("weighing", {MASS: mass, "mass_basis": CLOSED, "wiped": "yes", **note})]


def _wet_at(typed: TypedForm) -> str:
    """The wet place; none where it was dry after all."""
    place = typed.text(WET)
    return "" if place and _answer(typed) == _all_the_same(DRY, place) else place


def _answer(typed: TypedForm) -> str:
    return typed.text(f"{ANSWER}{WET}")


def _all_the_same(button: str, place: str) -> str:
    """The answer that a button is meant though a wet place was chosen."""
    return f"{button}, not {place}"


def course(
    connection: sqlite3.Connection, registry: Registry, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> StepCourse:
    """Laid down on a side until the hour is over; or what the paper shows.

    Raises InputError where that is not said, and Question where a wet place was chosen beside another button.
    """
    place, answer = typed.text(WET), _answer(typed)
    for button in (LID_UP, LID_DOWN, DRY):
        if place and answer == _all_the_same(button, place):
            return _course_of(button)
    touched = DRY if typed.text(DRY) else typed.text(SIDE) if typed.text(SIDE) in (LID_UP, LID_DOWN) else ""
    if touched and place:
        raise _which(touched, place)
    if touched:
        return _course_of(touched)
    if place:
        return StepCourse(note=f"{_WET_AT}{place}")
    raise InputError(
        "what the paper shows is still needed",
        code="missing_input",
        place=Place(field=WET),
        remedy="Say that it is dry, or choose where it is wet.",
    )


def _course_of(button: str) -> StepCourse:
    if button == DRY:
        return StepCourse(note=DRY)
    return StepCourse(is_over=False, until_at=after_minutes(now_utc(), MINUTES), note=button)


def _which(touched: str, place: str) -> Question:
    """Whether it is wet, as chosen, or what the button says."""
    meant = "It is dry" if touched == DRY else f"Not wet: it lies {touched}"
    return Question(
        f"wet at {place} was chosen, and then {touched}: which is it?",
        code="dry_or_wet",
        field=WET,
        found=place,
        answers=(Way(f"wet at {place}", f"Wet: {place}"), Way(_all_the_same(touched, place), meant)),
    )


SCREEN: Final = StepScreen("rest", shown, wanted, asks=False, course=course, may_stay_open=True)
