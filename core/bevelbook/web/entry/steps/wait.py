"""Bubbles: standing or pumped, how long by the oil, and the clock time at which it ends."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from math import ceil
from typing import Any, Final

from bevelbook.card.bench_numbers import BenchWaits, bench_waits
from bevelbook.card.procedure import ProcedureStep
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import BevelbookError, InputError, Place
from bevelbook.declare.fields import field_of, quantity, record
from bevelbook.plugin.on_bench import BenchWait
from bevelbook.plugin.registry import Registry
from bevelbook.reading import BY_HAND, read
from bevelbook.reports.bench import JobOnBench, NotedStep
from bevelbook.saving.record import WantedRecord
from bevelbook.store.ids import now_utc
from bevelbook.web.entry.pouring_step import build_values
from bevelbook.web.entry.step_fields import StepField, step_field
from bevelbook.web.entry.steps.step_screen import StepCourse, StepScreen, of_build
from bevelbook.web.shared.typed_form import TypedForm
from bevelbook.web.shared.waiting import after_minutes, wait_shown

HOW: Final = "how"
MINUTES: Final = "minutes"
OVER: Final = "over"
"""The button that ends the wait."""
UNKNOWN: Final[tuple[BenchWait, ...]] = (BenchWait("stand", "standing open", 60.0), BenchWait("pump", "pumped", 60.0))
"""Ways to wait where no calculator knows how long; the times are not used."""


@record
class TypedWait:
    minutes: float | None = quantity("min", "How long it stands: 15, 15 min or 1 h", default=None, above=0, below=1440)


def shown(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> Mapping[str, Any]:
    """When the wait that goes on ends; none before it is begun."""
    noted = job.steps.get(step.key)
    return {"wait": _going_on(noted), "how_it_was_done": build_values(connection, job).get("degassing", "")}


def numbers(
    connection: sqlite3.Connection, registry: Registry, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> Mapping[str, Any]:
    """The ways to wait with their minutes, what the calculator asks for, and its cautions."""
    found = _waits(connection, registry, job, step, typed)
    ways = found.waits or UNKNOWN
    noted = job.steps.get(step.key)
    last = str((noted.note if noted else None) or build_values(connection, job).get("degassing", ""))
    way = _chosen(ways, typed.text(HOW)) or next((one for one in ways if last.startswith(one.words)), None)
    times = [f"{minutes_of(one)} {one.words}" for one in found.waits]
    minutes = StepField(
        MINUTES,
        "Minutes",
        "quantity",
        "min",
        typed=typed.text(MINUTES),
        greyed="by the oil" if times else "",
        keypad="decimal",
    )
    return {
        "how": StepField(
            HOW,
            "How",
            "choice",
            typed="" if way is None else _value(way),
            choices=tuple((_value(one), _way_in_words(one, found)) for one in ways),
        ),
        "minutes": minutes,
        "asks": [step_field(field).drawn(typed) for field in found.asks],
        "reasons": (*found.reasons, *found.findings),
        "lacking": found.lacking,
        "more_cautions": found.cautions,
    }


def wanted(
    connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> Sequence[WantedRecord]:
    """How the bubbles were drawn out and how long it took, once that is over."""
    noted = job.steps.get(step.key)
    note = _done_as(noted, typed) if typed.text(OVER) else None
    return [of_build({"degassing": note})] if note else []


def _done_as(noted: NotedStep | None, typed: TypedForm) -> str | None:
    """How it was done: as it was begun, but for what was chosen or typed since, and as long as it really took. Raises
    InputError for odd minutes."""
    if noted is None or not noted.note:
        return None
    way, _, lasted = noted.note.rpartition(", ")
    minutes = _typed_minutes(typed)
    way = typed.text(HOW).partition(": ")[2] or way
    return f"{way}, {_lasted(noted, lasted) if minutes is None else f'{minutes:g} min'}"


def _lasted(noted: NotedStep, planned: str) -> str:
    """How long a wait lasted that ends now: as planned, or less where it has not come to its end."""
    left = _going_on(noted)
    try:
        planned_min = float(planned.removesuffix(" min"))
    except ValueError:
        return planned
    if left is None or left.is_over:
        return planned
    passed_min = int(planned_min - left.left_s / 60)
    return f"{passed_min} min" if passed_min else "less than a minute"


def course(
    connection: sqlite3.Connection, registry: Registry, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> StepCourse:
    """Begun: until when; or over. Raises InputError where it is not said how, or how long."""
    noted = job.steps.get(step.key)
    if typed.text(OVER):
        return StepCourse(until_at=noted.until_at if noted else None, note=_done_as(noted, typed))
    found = _waits(connection, registry, job, step, typed)
    way = _chosen(found.waits or UNKNOWN, typed.text(HOW))
    if way is None:
        raise InputError(
            "not chosen yet",
            code="missing_input",
            place=Place(field=HOW),
            remedy="Choose standing or pumped, or leave this step out.",
        )
    minutes = _typed_minutes(typed)
    if minutes is None and not found.waits:
        raise InputError(
            "the minutes are still needed: how long this oil takes is not known",
            code="missing_input",
            place=Place(field=MINUTES),
            remedy="Type how long it is to stand.",
        )
    minutes = minutes_of(way) if minutes is None else minutes
    return StepCourse(is_over=False, until_at=after_minutes(now_utc(), minutes), note=f"{way.words}, {minutes:g} min")


def minutes_of(wait: BenchWait) -> int:
    """Whole minutes that are long enough.

    >>> minutes_of(BenchWait("stand", "standing open", 128.6))
    3
    """
    return max(1, ceil(wait.at_most_s / 60 - 1e-9))


def _going_on(noted: NotedStep | None) -> Any:
    return None if noted is None or noted.is_over else wait_shown(noted.until_at, now_utc())


def _waits(
    connection: sqlite3.Connection, registry: Registry, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> BenchWaits:
    if job.build is None:
        return BenchWaits(lacking="the build is not begun yet")
    texts = {name: typed.text(name) for name in typed.texts}
    return bench_waits(connection, registry, job.build, step.calculators, texts, step.cautions)


def _value(wait: BenchWait) -> str:
    """What the form sends for a way to wait."""
    return f"{wait.how}: {wait.words}"


def _chosen(ways: Sequence[BenchWait], value: str) -> BenchWait | None:
    """The way that was chosen; with another reading of the gauge it has other words, and is the one of its kind."""
    same = (one for one in ways if _value(one) == value)
    return next(same, next((one for one in ways if value.startswith(f"{one.how}: ")), None))


def _way_in_words(wait: BenchWait, found: BenchWaits) -> str:
    return f"{wait.words}: {counted(minutes_of(wait), 'minute')}" if found.waits else wait.words


def _typed_minutes(typed: TypedForm) -> float | None:
    """The minutes as typed; None where they are left to the oil. Raises InputError with the field as place."""
    try:
        minutes: float | None = read(field_of(TypedWait, MINUTES), typed.text(MINUTES), BY_HAND)
        return minutes
    except BevelbookError as fault:
        fault.place = Place(field=MINUTES)
        raise


SCREEN: Final = StepScreen("wait", shown, wanted, asks=False, numbers=numbers, course=course)
