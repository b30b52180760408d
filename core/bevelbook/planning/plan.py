"""The plan for an event, or for today: what is due, which oil, which parts, in what order, and how long it takes."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Final

from bevelbook.declare.in_command import in_command
from bevelbook.declare.vocabulary import CHANGE_THE_OIL, LEAVE_IT, PLAN_ACTS, SECOND_ONE, UNCLEAR_WHAT
from bevelbook.display.days import day_in_words
from bevelbook.facts.job_times import OIL_CHANGE, REBUILD
from bevelbook.facts.once import worked_out_once
from bevelbook.facts.stock import stock_left
from bevelbook.planning.event_to_come import EventToCome, cars_in_use, event_to_come
from bevelbook.planning.hours import WorkHours, hours_of
from bevelbook.planning.kept_plans import PlanInBook, latest_plan_of
from bevelbook.planning.lines_alike import hints_alike, oil_hints
from bevelbook.planning.made_plan import MadePlan, WorkOfPlan
from bevelbook.planning.open_points import open_points
from bevelbook.planning.packing_list import PackingList, bundled_packing_list, packed
from bevelbook.planning.parts_to_order import parts_to_order
from bevelbook.planning.parts_wanted import OPENING_ACTS, PartWanted, parts_wanted
from bevelbook.planning.places import DiffInPlace, DiffsInPlace, NoDiffThere, diffs_in_place
from bevelbook.planning.plan_changes import SincePlan, changes_since
from bevelbook.planning.plan_lines import CarInPlan, PlaceWithoutDiff, PlanLine
from bevelbook.planning.remarks import remarks_on
from bevelbook.planning.things_to_pack import things_to_pack
from bevelbook.planning.work_order import in_order_of_work
from bevelbook.plugin.registry import Registry
from bevelbook.reports.before_next_time_out import to_do
from bevelbook.reports.due import Due, due_of_diffs
from bevelbook.reports.shelf import shelf_rows
from bevelbook.reports.stock import count_again_findings

if TYPE_CHECKING:
    from bevelbook.planning.oil_for_event import OilForDiff

ACT_OF_OIL: Final[Mapping[str, str]] = {
    "keep": LEAVE_IT,
    "none": LEAVE_IT,
    "unclear": UNCLEAR_WHAT,
    "change": CHANGE_THE_OIL,
    "second": SECOND_ONE,
}
"""What the oil for an event asks for."""
_JOBS_THAT_WAIT: Final = (REBUILD, OIL_CHANGE)
"""Jobs with which a waiting goes."""


def make_plan(
    connection: sqlite3.Connection,
    registry: Registry,
    event: str | None,
    today: date,
    *,
    packing: PackingList | None = None,
    against: PlanInBook | None = None,
) -> MadePlan:
    """The plan for an event (by id), or for today where that is None, as the records stand.

    Each diff gets the heaviest of what is due for it and what its oil asks for; one that is opened for its oil alone
    is rebuilt where its seals are at their last use or something else is wrong with it. ``packing`` is the list of
    what to pack, the bundled one where it is None; ``against`` a kept plan to compare with. Raises LookupError for an
    event that is gone.
    """
    with worked_out_once(connection):
        return _made(connection, registry, event, today, packing, against)


def _made(
    connection: sqlite3.Connection,
    registry: Registry,
    event: str | None,
    today: date,
    packing: PackingList | None,
    against: PlanInBook | None,
) -> MadePlan:
    come = event_to_come(connection, event) if event is not None else None
    cars = cars_in_use(connection) if come is None else come.cars
    places = diffs_in_place(connection, cars)
    planned = {one.diff: one.runs_planned for one in places.diffs if not one.is_spare}
    shelf = shelf_rows(connection)
    due = due_of_diffs(connection, planned, shelf=shelf)
    opened = [diff for diff, one in due.items() if one.act in OPENING_ACTS]
    oils: dict[str, OilForDiff] = {}
    if come is not None:
        from bevelbook.planning.oil_for_event import oils_for

        oils = oils_for(connection, come, places.diffs, opened)
    for_oil = {diff for diff, oil in oils.items() if ACT_OF_OIL[oil.what] in OPENING_ACTS}.difference(opened)
    if for_oil:
        due = due_of_diffs(connection, planned, for_oil, shelf=shelf)
    acts = {one.diff: heaviest_act(due[one.diff], oils.get(one.diff)) for one in places.diffs}
    parts = parts_wanted(connection, acts)
    hours = hours_of(connection, acts, places.diffs)
    kept = latest_plan_of(connection, event)
    said_of_all = _said_of_all(oils.values())
    unplaced = [
        _line(one, acts[one.diff], due[one.diff], oils.get(one.diff), parts, hours, kept, said_of_all)
        for one in places.diffs
    ]
    lines, work = in_order_of_work(unplaced)
    in_cars = [one for one in lines if not one.is_spare]
    made = MadePlan(
        come,
        today.isoformat(),
        (*remarks_on(come, today, said_of_all), *_to_know_the_oil(oils.values(), come)),
        tuple(
            CarInPlan(
                car.car,
                car.name,
                car.runs,
                tuple(one for one in in_cars if one.car == car.car),
                (
                    *(_shared(one) for one in in_cars if one.car != car.car and car.name in one.shared_with),
                    *(_without(one) for one in places.without if one.car == car.car),
                ),
            )
            for car in cars
        ),
        tuple(one for one in lines if one.is_spare),
        work,
        _hours(hours, places),
        parts_to_order(lines, stock_left(connection)),
        tuple(dict.fromkeys(oil.short for one in lines for oil in one.oils if oil.short)),
        tuple(f"{one.remedy} {one.words}." for one in count_again_findings(connection)),
        packed(packing or bundled_packing_list(), things_to_pack(connection, lines)),
        open_points(connection, registry, come.venue if come else None, cars, lines),
        today=to_do(connection) if come is None else None,
        oil_hints=oil_hints(
            (*in_cars, *(one for one in lines if one.is_spare)), {diff: one.settle for diff, one in oils.items()}
        ),
    )
    return made if against is None else made._replace(since=_since(against, made))


def heaviest_act(due: Due, oil: OilForDiff | None) -> str:
    """The one act of a diff: the heavier of what is due and what its oil asks for."""
    return max(due.act, ACT_OF_OIL[oil.what] if oil else LEAVE_IT, key=PLAN_ACTS.index)


def _line(
    place: DiffInPlace,
    act: str,
    due: Due,
    oil: OilForDiff | None,
    parts: Mapping[str, tuple[PartWanted, ...]],
    hours: WorkHours,
    kept: PlanInBook | None,
    said_of_all: Sequence[str],
) -> PlanLine:
    by_oil = ACT_OF_OIL[oil.what] if oil else LEAVE_IT
    of_oil = oil.reasons[:1] if oil and by_oil != LEAVE_IT else ()
    of_due = due.reasons if due.act != LEAVE_IT or not of_oil else ()
    is_oil_heavier = PLAN_ACTS.index(by_oil) > PLAN_ACTS.index(due.act)
    reasons = (*of_oil, *of_due) if is_oil_heavier else (*of_due, *of_oil)
    is_own = oil is not None and not set(oil.reasons) <= set(said_of_all)
    settle = (*due.settle, *(oil.settle if oil and by_oil != LEAVE_IT else ()))
    return PlanLine(
        None,
        place.diff,
        place.label,
        place.mark,
        place.build,
        place.build_label,
        place.car,
        place.car_name,
        place.position,
        place.is_spare,
        place.shared_with,
        place.runs_planned,
        act,
        tuple(dict.fromkeys(reasons)),
        tuple(dict.fromkeys(settle)),
        due.runs_left,
        oil.what if oil else "none",
        oil.reasons if oil and is_own else (),
        oil.oils if oil and act in OPENING_ACTS else (),
        parts.get(place.diff, ()),
        hours.of_diffs.get(place.diff),
        kept.done.get(place.diff, "") if kept else "",
    )


def _said_of_all(oils: Iterable[OilForDiff]) -> tuple[str, ...]:
    """Why no oil is said, where that holds for every diff alike: it is said once, above the plan."""
    found = list(oils)
    if not found or any(one.what != "none" for one in found):
        return ()
    alike = set.intersection(*(set(one.reasons) for one in found))
    return tuple(one for one in found[0].reasons if one in alike)


def _shared(line: PlanLine) -> PlaceWithoutDiff:
    """A diff that stands under another car that shares it."""
    return PlaceWithoutDiff(
        line.position, line.label, f"{line.position}: {line.label}, shared with {line.car_name}: it stands there", ""
    )


def _without(place: NoDiffThere) -> PlaceWithoutDiff:
    if place.instead is not None:
        return PlaceWithoutDiff(place.position, place.instead, f"{place.position}: {place.instead}", "")
    where = f"{place.car_name} {place.position}" if place.position else place.car_name
    what = "which diff is in it" if place.position else "which diffs are in it"
    command = f"bevelbook record car-diff {in_command(f'car={place.car_name}')} {place.position or 'rear'}=..."
    return PlaceWithoutDiff(place.position, None, f"{where}: {what} is not written down", command)


def _to_know_the_oil(oils: Iterable[OilForDiff], event: EventToCome | None) -> tuple[str, ...]:
    """What would let an oil be said where none is, once for all diffs; what the event itself lacks is said with it."""
    if event is None or not event.venue or not event.has_forecast:
        return ()
    settle = [one for oil in oils if oil.what == "none" for one in oil.settle]
    return tuple(f"To say an oil: {one}." for one in hints_alike(settle))


def _hours(hours: WorkHours, places: DiffsInPlace) -> WorkOfPlan:
    names = {(one.car, one.position): f"{one.car_name} {one.position}" for one in places.diffs}
    out_and_in = tuple(
        f"out of {names.get(place, 'the car')} and in again: {minutes.words}"
        for place, minutes in hours.out_and_in.items()
        if minutes.hands is not None
    )
    to_type = tuple(_to_type(hours.to_type))
    return WorkOfPlan(hours.hands_min, hours.longest_wait_min, hours.words, hours.untimed, out_and_in, to_type)


def _to_type(jobs: Iterable[str]) -> Iterator[str]:
    """With which commands the minutes of jobs are written down that nobody timed or typed."""
    commands = []
    for job in jobs:
        waiting = " waiting_minutes=..." if job in _JOBS_THAT_WAIT else ""
        commands.append(f"'bevelbook record job-time job={in_command(job)} minutes=...{waiting}'")
    if commands:
        yield f"Your own figure stands in where none is timed: {' and '.join(commands)}."


def _since(kept: PlanInBook, made: MadePlan) -> SincePlan:
    when = f"{day_in_words(kept.made_at[:10])}, {kept.made_at[11:16]} UTC"
    name = f"{kept.event_name or 'today'}, kept {when}"
    return SincePlan(kept.plan, name, changes_since(kept.said, made.as_dict()))
