"""Rest on paper: an hour lid up, an hour lid down, then dry or wet; it may be left open."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from bevelbook.card.procedure import ProcedureStep
from bevelbook.declare.errors import InputError, Place
from bevelbook.declare.vocabulary import WET_PLACES
from bevelbook.entering.question import Question, Way
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.reports.bench import JobOnBench
from bevelbook.reports.bench_waits import LID_DOWN, LID_UP
from bevelbook.reports.last_masses import LastMass, weighing_of_step
from bevelbook.reports.leak_found import place_in_words
from bevelbook.saving.record import WantedRecord
from bevelbook.store.ids import now_utc
from bevelbook.web.entry.sent import ANSWER
from bevelbook.web.entry.step_fields import StepField, number_text, step_field
from bevelbook.web.entry.steps.step_screen import StepCourse, StepScreen, change_of, in_build, of_build
from bevelbook.web.shared.typed_form import TypedForm
from bevelbook.web.shared.waiting import after_minutes, wait_shown

MINUTES: Final = 60
"""How long on each side; common practice, no source."""
SIDE: Final = "side"
DRY: Final = "dry"
WET: Final = "wet"
WET_AT: Final = "paper_wet_at"
"""The field of the build that keeps where it was wet."""
_SEEN_G: Final = 0.005
"""Less than this is 0.00 g as it is said."""
MASS: Final = "mass_g"
CLOSED: Final = "closed"


def shown(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> Mapping[str, Any]:
    """Which side it lies on and until when, and where it may be wet."""
    noted = job.steps.get(step.key)
    is_open = noted is not None and not noted.is_over
    weighed = _weighed(connection, job, step)
    return {
        "side": noted.note if noted and is_open else None,
        "wait": wait_shown(noted.until_at, now_utc()) if noted and is_open else None,
        "found": noted.note if noted and noted.is_over else "",
        "lid_up": LID_UP,
        "lid_down": LID_DOWN,
        "minutes": MINUTES,
        "wet": StepField(WET, "Where it is wet", "choice", choices=WET_PLACES, typed=_wet_as_stored(connection, job)),
        "mass": step_field(
            BY_NAME["weighing"].field(MASS), words="Weighed again, wiped", stored=weighed.mass_g if weighed else None
        ),
    }


def wanted(
    connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> Sequence[WantedRecord]:
    """Where it was wet, and what it weighed where it was weighed again."""
    mass, place = number_text(typed, MASS), _wet_at(typed)
    found: list[WantedRecord] = []
    if place != _wet_as_stored(connection, job):
        found.append(of_build({WET_AT: place}))
    weighed = _weighed(connection, job, step)
    if mass and weighed is not None and weighed.row_id is not None:
        found.append(change_of("weighing", weighed.row_id, {MASS: mass}))
    elif mass:
        found.append(in_build("weighing", {MASS: mass, "mass_basis": CLOSED, "wiped": "yes"}))
    return found


def _wet_as_stored(connection: sqlite3.Connection, job: JobOnBench) -> str:
    row = connection.execute(f"SELECT {WET_AT} FROM builds WHERE id = ?", (job.build,)).fetchone()
    return str(row[0]) if row and row[0] else ""


def _weighed(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> LastMass | None:
    """The weighing that this step has stored; None until it has."""
    noted = job.steps.get(step.key)
    return weighing_of_step(connection, job.build, noted.id) if noted is not None else None


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
        return StepCourse(note=f"wet: {place}")
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


def said(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> Iterator[str]:
    """That it leaks, where, and how much it lost on the paper if it was weighed."""
    place, weighed = _wet_as_stored(connection, job), _weighed(connection, job, step)
    if not place:
        return
    row = connection.execute("SELECT closed_mass_g FROM builds WHERE id = ?", (job.build,)).fetchone()
    lost_g = row[0] - weighed.mass_g if weighed and row[0] is not None else 0.0
    lost = f", {lost_g:.2f} g lost on paper" if lost_g >= _SEEN_G else ""
    where = place_in_words(place)
    yield f"Wet at {where}{lost}: open it and look at {where}."


SCREEN: Final = StepScreen("rest", shown, wanted, asks=False, said=said, course=course, may_stay_open=True)
