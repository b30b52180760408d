"""What the screens share that take a reading while oil goes in: pouring, and weighing again after the bubbles."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, Final

from bevelbook.calculating.calculate import Answer
from bevelbook.calculating.for_record import PutIn
from bevelbook.card.build_card import filling_of, oil_known_on_card
from bevelbook.card.contents import PouringStrip, pouring_in_words
from bevelbook.card.procedure import ProcedureStep
from bevelbook.declare.errors import BevelbookError, InputError, Place
from bevelbook.declare.vocabulary import TOP_UP
from bevelbook.entering.question import Question, Way
from bevelbook.entering.shown_values import shown_values
from bevelbook.facts.dry_mass import dry_mass_of
from bevelbook.formulas.fill_target import FillFound, FillGiven, fill, judge_room
from bevelbook.formulas.fill_window import reading_in_words, window_in_words
from bevelbook.formulas.pouring_goal import PouringGoal, for_script, pouring_goal, pouring_in_short
from bevelbook.formulas.pouring_strip import pouring_strip
from bevelbook.planning.plan_in_use import OilPlanned
from bevelbook.plugin.registry import Registry
from bevelbook.reading import BY_HAND, read
from bevelbook.records import BY_NAME
from bevelbook.reports.bench import JobOnBench
from bevelbook.reports.top_up_fill import TopUpFill, top_up_fill
from bevelbook.saving.record import WantedRecord
from bevelbook.store.lookup import label_of
from bevelbook.web.entry.bench_plan import oil_of_job
from bevelbook.web.entry.entry_fields import NOTHING, TYPED, EntryField, entry_field
from bevelbook.web.entry.likely_records import likely_records
from bevelbook.web.entry.sent import ANSWER
from bevelbook.web.entry.step_fields import StepField, step_field
from bevelbook.web.entry.steps.step_screen import StepCourse, of_build
from bevelbook.web.shared.typed_form import TypedForm

BUILD: Final = BY_NAME["build"]
POUR: Final = "pour"
"""The screen of the first reading."""
READING: Final = "reading"
FILLED: Final = "filled_mass_g"
SETTING: Final = ("fluid", "bottle", "target_oil_mass_g")
"""What may be chosen here: the oil and how much of it."""
_TARGET: Final = "target_oil_mass_g"
SET: Final = "set"
"""The button that stores what was chosen, and goes on with this screen."""
_ANSWERED: Final = f"{ANSWER}{READING}"
_MEANT: Final = " in place of "
OF_ANOTHER_OIL: Final = ("viscosity_cst", "viscosity_from", "bottle")
"""What belongs to the oil, and goes with it."""
NO_OIL: Final = "There is no stop mass yet: how much oil goes in is not chosen."
OIL_TO_ADD: Final = "What it weighed full last time is not known. Type how much oil you add to get the stop mass."
NOT_OPEN: Final = (
    "What it weighed full last time is not known. Weigh it open first: the stop mass is that and the oil added."
)
NOT_DRY: Final = "There is no stop mass yet: it was not weighed dry."


def build_values(connection: sqlite3.Connection, job: JobOnBench) -> Mapping[str, Any]:
    """What is stored of the build that the job makes, with names for ids; nothing before it is made."""
    return shown_values(connection, BUILD, job.build) if job.build else {}


def numbers(
    connection: sqlite3.Connection, registry: Registry, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> Mapping[str, Any]:
    """The stop mass and its window, what a reading says, and what is still to be chosen."""
    build, last, planned = _to_go_by(connection, job, step)
    top_up = _top_up(connection, job)
    oil = _oil_offered(build, last, typed)
    answer, lacking = (None, OIL_TO_ADD) if top_up else _filling(connection, registry, job, oil)
    goal, _ = _goal(connection, registry, job, oil)
    needed = set() if build.get("fluid") or (top_up and last.get("fluid")) else {"fluid", "bottle"}
    if top_up:
        last = {name: value for name, value in last.items() if name != "target_oil_mass_g"}
        if goal is None:
            needed.add("target_oil_mass_g")
            lacking = OIL_TO_ADD if top_up.open_g is not None else NOT_OPEN
    elif not build.get("target_oil_mass_g") and not build.get("oil_mass_g"):
        needed.add("target_oil_mass_g")
        lacking = lacking if lacking == NOT_DRY else NO_OIL
    setting = [_setting(connection, name, build, last if name in needed else {}, typed) for name in SETTING]
    offered = ""
    if goal is not None and not top_up and needed and setting[0].typed:
        needed, offered = set(), _offered_in_words(setting)
    above = _top_up_in_words(top_up) if top_up else _above(connection, registry, job, build)
    shown: dict[str, Any] = {
        "planned": f"{planned.plan_of} says {planned.words}" if planned else "",
        "above": "; ".join(one for one in (offered, above) if one),
        "lacking": "" if goal else lacking,
        "needed": [one for one in setting if one.name in needed],
        "folded": [one for one in setting if one.name not in needed],
        "reading": _reading(build, typed),
        "goal": None,
        "says": "",
    }
    if goal is not None:
        if answer is not None:
            shown["room"], shown["more"] = _more_on(answer)
            shown["strip"] = _strip(goal).lines
        text = typed.text(READING) or shown["reading"].greyed
        low, high = (reading_in_words(one, goal.scale_step_g) for one in (goal.on_scale.low_g, goal.on_scale.high_g))
        shown |= {
            "goal": for_script(goal),
            "stop_at": reading_in_words(goal.stop_g, goal.scale_step_g),
            "window": window_in_words(low, high),
            "says": _says(goal, text),
        }
    return shown


def wanted(
    connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> Sequence[WantedRecord]:
    """The oil where another one was chosen, and the reading as the filled mass."""
    build = build_values(connection, job)
    held = {name: _as_typed(name, build.get(name)) for name in SETTING}
    texts = {name: text for name in SETTING if (text := _chosen(typed, name, held[name])) != held[name]}
    if "fluid" in texts and build:
        texts = {**{name: "" for name in OF_ANOTHER_OIL if build.get(name) is not None}, **texts}
    reading = _settled(typed)
    if reading:
        texts[FILLED] = reading
    return [of_build(texts)] if texts else []


def stores(step: ProcedureStep) -> Sequence[str]:
    """What either screen may change, whichever of it its step lists."""
    return [f"builds.{name}" for name in (*SETTING, FILLED)]


def _chosen(typed: TypedForm, name: str, held: str) -> str:
    """What was chosen or typed; what is stored already where the input was not sent."""
    beside = typed.text(f"{name}{TYPED}")
    text = beside or (typed.text(name) if name in typed.texts else held)
    return "" if text == NOTHING else text


def course(
    connection: sqlite3.Connection, registry: Registry, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> StepCourse:
    """Over with a reading inside the window, or one that a person keeps; else what the reading says is asked back."""
    if typed.text(SET):
        return StepCourse(is_over=False)
    reading = _settled(typed)
    if not reading:
        if build_values(connection, job).get(FILLED) is None:
            raise InputError(
                "the reading at the end is still needed",
                code="missing_input",
                place=Place(field=READING),
                remedy="Type what the scale shows when you have stopped pouring.",
            )
        return StepCourse()
    build, last, _ = _to_go_by(connection, job, step)
    goal, _ = _goal(connection, registry, job, _oil_offered(build, last, typed))
    mass_g = _mass(reading)
    if (
        goal is not None
        and mass_g is not None
        and not goal.is_full(mass_g)
        and typed.text(_ANSWERED) != _as_it_is(reading)
    ):
        raise _asked_back(goal, reading, mass_g)
    return StepCourse()


def _asked_back(goal: PouringGoal, text: str, mass_g: float) -> Question:
    """What a reading outside the window says, with the ways on besides another reading."""
    slipped = goal.slipped_g(mass_g)
    ways = [Way(_as_it_is(text), f"Store {text} g as it is")]
    if slipped is not None:
        meant = reading_in_words(slipped, goal.scale_step_g)
        ways.insert(0, Way(f"{meant}{_MEANT}{text}", f"{meant} g", instead=meant))
    return Question(pouring_in_short(goal, mass_g), code="not_full", field=READING, found=text, answers=ways)


def _settled(typed: TypedForm) -> str:
    """The reading as typed, or the one that was meant where its decimal point slipped."""
    reading = typed.text(READING)
    if _mass(reading) is None:
        return ""
    meant, _, slipped = typed.text(_ANSWERED).partition(_MEANT)
    return meant if slipped and slipped == reading else reading


def _as_it_is(reading: str) -> str:
    """The answer that keeps this reading, and no other that is typed later."""
    return f"keep {reading}"


def _mass(text: str) -> float | None:
    """A reading in g; None for a dash or nothing. Raises InputError with the field as place."""
    try:
        mass_g: float | None = read(BUILD.field(FILLED), text, BY_HAND)
        return mass_g
    except BevelbookError as fault:
        fault.place = Place(field=READING)
        raise


def _says(goal: PouringGoal, text: str) -> str:
    try:
        mass_g = _mass(text)
    except BevelbookError:
        return ""
    return "" if mass_g is None else pouring_in_short(goal, mass_g)


def _oil_offered(build: Mapping[str, Any], last: Mapping[str, Any], typed: TypedForm) -> str:
    """How much oil goes in where that is not stored yet: as typed, else as last time; empty where neither is known."""
    if build.get(_TARGET) or build.get("oil_mass_g"):
        return ""
    text = typed.text(_TARGET) if _TARGET in typed.texts else _as_typed(_TARGET, last.get(_TARGET))
    try:
        return text if read(BUILD.field(_TARGET), text, BY_HAND) else ""
    except BevelbookError:
        return ""


def _offered_in_words(setting: Sequence[StepField | EntryField]) -> str:
    """What goes in where nothing else is chosen: ``house 7k, grey cap, 1.86 g, as rear-b/2``."""
    fluid, bottle, target = (one.typed for one in setting)
    origin = next((one.origin for one in setting if one.origin), "")
    return ", ".join(one for one in (bottle or fluid, f"{target} g" if target else "", origin) if one)


def _goal(
    connection: sqlite3.Connection, registry: Registry, job: JobOnBench, oil: str
) -> tuple[PouringGoal | None, str]:
    """Where to stop; or what is not known yet, in words. ``oil`` is how much goes in where that is not stored yet."""
    top_up = _top_up(connection, job)
    if top_up is not None:
        given = top_up.given(connection)
        return (None if given is None else pouring_goal(given, fill(given))), OIL_TO_ADD
    answer, lacking = _filling(connection, registry, job, oil)
    return (None if answer is None else pouring_goal(answer.given, answer.found)), lacking


def _top_up(connection: sqlite3.Connection, job: JobOnBench) -> TopUpFill | None:
    return top_up_fill(connection, job) if job.kind == TOP_UP else None


def _top_up_in_words(found: TopUpFill) -> str:
    """What was on the scale at the last fill, what it weighed then, and what it weighs open."""
    basis = f"on the scale: {found.mass_basis}" if found.mass_basis else "the same on the scale as after the last fill"
    last = f"full, {found.label} was {found.last_fill_g:.2f} g" if found.last_fill_g is not None else ""
    now = f"open {found.open_g:.2f} g" if found.open_g is not None else ""
    return "; ".join(one for one in (basis, last, now) if one)


def _filling(
    connection: sqlite3.Connection, registry: Registry, job: JobOnBench, oil: str = ""
) -> tuple[Answer[FillGiven, FillFound] | None, str]:
    """The fill target; or what is not known yet, in words."""
    if job.build is None:
        return None, NO_OIL if job.kind == TOP_UP else NOT_DRY
    done = filling_of(connection, registry, job.build, {"oil_mass_g": PutIn(oil, "offered")} if oil else None)
    if done.answer is not None:
        return done.answer, ""
    if dry_mass_of(connection, job.build).mass_g is None:
        return None, NOT_DRY
    return None, f"Not known yet: {' and '.join(done.lacking)}." if done.lacking else done.refused or ""


def _more_on(answer: Answer[FillGiven, FillFound]) -> tuple[str, tuple[str, ...]]:
    """Whether the oil leaves too little room for heat, without a verdict, and all else that is said of the fill."""
    room = judge_room(answer.given, answer.found).reason or ""
    said = (*answer.judgement.reasons, *answer.findings)
    return room, tuple(one for one in said if one != room)


def _strip(goal: PouringGoal) -> PouringStrip:
    """The readings on the way, each with what is still to go, as the card has them."""
    half_width_g = goal.on_scale.half_width_g
    rows = pouring_strip(goal.oil_mass_g, half_width_g, goal.scale_step_g, goal.dry_mass_g)
    return pouring_in_words(rows, goal.scale_step_g)


def _above(connection: sqlite3.Connection, registry: Registry, job: JobOnBench, build: Mapping[str, Any]) -> str:
    """Oil, bottle and what is on the scale, in one line."""
    oil, _ = oil_known_on_card(connection, registry, job.build) if job.build else ("", {})
    bottle = f"bottle {build['bottle']}" if build.get("bottle") else ""
    basis = f"on the scale: {build['mass_basis']}" if build.get("mass_basis") else ""
    return "; ".join(one for one in (oil, bottle, basis) if one)


def _reading(build: Mapping[str, Any], typed: TypedForm) -> StepField:
    """The reading; what is stored already is greyed, and holds where nothing is typed."""
    field = step_field(BUILD.field(FILLED), name=READING, words="On the scale")
    stored = build.get(FILLED)
    greyed = "" if stored is None else f"{stored:.12g}"
    return field._replace(greyed=greyed, origin=f"{greyed} g is stored" if greyed else "").drawn(typed)


def _to_go_by(
    connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep
) -> tuple[Mapping[str, Any], Mapping[str, Any], OilPlanned | None]:
    """What is stored of the build, what is taken where that says nothing, and the oil that a kept plan has for it.

    Until something was chosen here, the oil of the plan comes before the one that was taken over from another build.
    """
    build, last = build_values(connection, job), _as_last_time(connection, job)
    is_untouched = step.screen == POUR and step.key not in job.steps and build.get(FILLED) is None
    planned = oil_of_job(connection, job, date.today()) if is_untouched and job.kind != TOP_UP else None
    if planned is None or planned.fluid is None:
        return build, last, planned
    target = planned.oil_mass_g if planned.oil_mass_g is not None else last.get(_TARGET)
    amount = f", as much as {last['label']}" if planned.oil_mass_g is None and target is not None else ""
    oil = {"fluid": label_of(connection, BY_NAME["fluid"], planned.fluid), _TARGET: target}
    kept_back = {*SETTING, *OF_ANOTHER_OIL, "oil_mass_g"}
    without_oil = {name: value for name, value in build.items() if name not in kept_back}
    return without_oil, {**oil, "label": f"{planned.plan_of} says{amount}"}, planned


def _as_last_time(connection: sqlite3.Connection, job: JobOnBench) -> Mapping[str, Any]:
    """Oil, bottle and amount of the build that it is done like, else of the one before; with the name of that build."""
    before = job.like or job.ends
    if before is None:
        return {}
    found = shown_values(connection, BUILD, before)
    target = found.get("target_oil_mass_g", found.get("oil_mass_g"))
    return {**found, "target_oil_mass_g": target}


def _setting(
    connection: sqlite3.Connection, name: str, build: Mapping[str, Any], last: Mapping[str, Any], typed: TypedForm
) -> StepField | EntryField:
    """An input for what goes in; until something is chosen, as last time."""
    field = BUILD.field(name)
    is_taken = build.get(name) is None and last.get(name) is not None
    shown = step_field(field, stored=last.get(name) if is_taken else build.get(name))
    origin = f"as {last['label']}" if is_taken else ""
    if field.kind != "reference":
        return shown._replace(origin=origin).drawn(typed)
    names = likely_records(connection, BUILD, field)
    text = _chosen(typed, name, shown.typed)
    return entry_field(field, typed=text, names=names, was=shown.typed or None)._replace(origin=origin)


def _as_typed(name: str, value: Any) -> str:
    return step_field(BUILD.field(name), stored=value).typed
