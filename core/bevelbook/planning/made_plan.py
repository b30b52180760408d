"""A plan as it is made: for people as lines, for programs as data."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from bevelbook.display.format import wrapped
from bevelbook.planning.event_to_come import EventToCome
from bevelbook.planning.lines_alike import cars_alike, lines_alike, steps_alike
from bevelbook.planning.open_points import OpenPoints
from bevelbook.planning.packing_list import PackedTogether
from bevelbook.planning.parts_to_order import PartToOrder
from bevelbook.planning.plain_data import plain_data
from bevelbook.planning.plan_changes import SincePlan
from bevelbook.planning.plan_lines import SURER_OF_OILS, CarInPlan, OilHint, PlanLine
from bevelbook.planning.work_order import WorkStep
from bevelbook.reports.before_next_time_out import HEADING, ToDo


class WorkOfPlan(NamedTuple):
    """How long all of it takes: minutes of hands added up, and the longest waiting; None where nothing was timed.

    ``untimed`` names what is in neither; ``out_and_in`` says for each place of a car how long its diff takes out of the
    car and in again, in words. ``to_type`` says how a figure of the team's own is written down where none is known.
    """

    hands_min: float | None
    longest_wait_min: float | None
    words: str
    untimed: tuple[str, ...] = ()
    out_and_in: tuple[str, ...] = ()
    to_type: tuple[str, ...] = ()


class MadePlan(NamedTuple):
    """A plan for an event, or for today where ``event`` is None, made on a day (ISO 8601).

    ``remarks`` say what is missing of the event or odd about it. ``work`` has the diffs with something to do in the
    order of work. ``oil_short`` says which oil there is too little of, ``to_count`` what to count again. ``since`` is
    set where a kept plan is compared, ``today`` where there is no event: all that is to be done before the next time
    out, as the check begins.
    """

    event: EventToCome | None
    made_on: str
    remarks: tuple[str, ...]
    cars: tuple[CarInPlan, ...]
    spares: tuple[PlanLine, ...]
    work: tuple[WorkStep, ...]
    hours: WorkOfPlan
    to_order: tuple[PartToOrder, ...]
    oil_short: tuple[str, ...]
    to_count: tuple[str, ...]
    to_pack: tuple[PackedTogether, ...]
    points: OpenPoints
    since: SincePlan | None = None
    today: ToDo | None = None
    oil_hints: tuple[OilHint, ...] = ()
    """What would make the oils of several diffs clear; the line of each of them has it too, as data."""

    @property
    def said_once(self) -> tuple[str, ...]:
        """What stands once for several diffs, and so not at each of them."""
        return tuple(one.what for one in self.oil_hints)

    @property
    def every_line(self) -> tuple[PlanLine, ...]:
        """The lines of all diffs, car by car and front to rear, then the spares."""
        return (*(line for car in self.cars for line in car.lines_of_diffs), *self.spares)

    @property
    def in_order_of_work(self) -> tuple[PlanLine, ...]:
        """The lines with something to do, in the order of work."""
        return tuple(sorted((one for one in self.every_line if one.place), key=lambda one: one.place or 0))

    @property
    def title(self) -> str:
        """Of which event the plan is."""
        return "What is due" if self.event is None else f"Plan for {self.event.name}"

    def lines(self, *, in_full: bool = False) -> Iterator[str]:
        """The whole plan for people, a paragraph a subject; an empty line between them. ``in_full`` with all that
        speaks for each oil."""
        for number, paragraph in enumerate(self.paragraphs(in_full=in_full)):
            if number:
                yield ""
            yield from paragraph

    def paragraphs(self, *, in_full: bool = False) -> Iterator[list[str]]:
        """The plan as the command prints it, cut where a subject ends."""
        since = _under(f"Since the plan of {self.since.kept}", self._lines_since()) if self.since else []
        if self.today is not None:
            yield from (part for part in (list(_lines_of_today(self.today)), since) if part)
            return
        head = [line for one in (self.title, *self.remarks) for line in wrapped(one)]
        spares, once = lines_alike(self.spares, in_full=in_full), self.said_once
        parts = [
            head,
            *(list(cars.said(in_full=in_full, said_once=once)) for cars in cars_alike(self.cars, in_full=in_full)),
            _under("Spare", (line for one in spares for line in one.said(in_full=in_full, said_once=once))),
            _under(SURER_OF_OILS, (line for one in self.oil_hints for line in wrapped(one.words, "  "))),
            _under("In this order", (line for one in steps_alike(self.work) for line in one.said())),
            _under("Time", self._lines_of_time()),
            _under("To order", self._lines_to_order()),
            _under("To count", (line for one in self.to_count for line in wrapped(one, "  "))),
            list(self.points.lines()),
            *(list(one.lines()) for one in self.to_pack),
            since,
        ]
        yield from (part for part in parts if part)

    def _lines_of_time(self) -> Iterator[str]:
        for one in (self.hours.words, *self.hours.to_type, *self.hours.out_and_in) if self.work else ():
            yield from wrapped(one, "  ")

    def _lines_to_order(self) -> Iterator[str]:
        for one in (*(part.words for part in self.to_order), *self.oil_short):
            yield from wrapped(one, "  ")

    def _lines_since(self) -> Iterator[str]:
        changes = self.since.changes if self.since else ()
        for one in changes:
            yield from wrapped(f"{one.label}: {one.words}" if one.label else one.words, "  ")
        if not changes:
            yield "  nothing changed"

    def as_dict(self) -> dict[str, Any]:
        """The whole plan for programs."""
        return {
            "event": plain_data(self.event),
            "made_on": self.made_on,
            "remarks": list(self.remarks),
            "cars": [one.as_dict() for one in self.cars],
            "spares": [one.as_dict() for one in self.spares],
            "work": [one.as_dict() for one in self.work],
            "hours": plain_data(self.hours),
            "to_order": plain_data(self.to_order),
            "oil_hints": plain_data(self.oil_hints),
            "oil_short": list(self.oil_short),
            "to_count": list(self.to_count),
            "to_pack": plain_data(self.to_pack),
            **self.points.as_dict(),
            "since": plain_data(self.since),
            "today": self.today.as_dict() if self.today else None,
        }


def _lines_of_today(today: ToDo) -> Iterator[str]:
    """What is due before the next time out, as the check begins."""
    lines = list(today.lines())
    yield HEADING if lines else "Nothing is due: no diff is written down."
    for line in lines:
        yield from wrapped(line, indent="  ")


def _under(title: str, lines: Iterator[str]) -> list[str]:
    found = list(lines)
    return [title, *found] if found else []
