"""The plan for an event, or what is due today: car by car, front to rear, then the work, what it takes, what to try."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.declare.vocabulary import SECOND_ONE, UNCLEAR_WHAT
from bevelbook.display.days import day_in_words, to_come_in_words
from bevelbook.planning.event_to_come import EventToCome
from bevelbook.planning.findings_to_settle import FindingToSettle
from bevelbook.planning.kept_plans import latest_plan_of
from bevelbook.planning.lines_alike import LinesAlike, StepsAlike, cars_alike, lines_alike, steps_alike
from bevelbook.planning.made_plan import MadePlan
from bevelbook.planning.oils_at_hand import blend_cautions
from bevelbook.planning.packing_list import PackingList
from bevelbook.planning.plan import make_plan
from bevelbook.planning.plan_lines import SURER_OF_OILS, PlaceWithoutDiff, part_in_words
from bevelbook.plugin.registry import Registry
from bevelbook.reports.race_events import EventAhead, events_ahead
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.page import NavigationEntry, Page
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.acts_here import form_of_act
from bevelbook.web.shared.blocks import Words, joined
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.request import PageRequest, page_request
from bevelbook.web.shared.writing_here import FormOffered, ways_to_write, writing_here

PATIENCE: Final = 15
"""How many times the limit of one query a plan may take: it asks for all that is due and all that is open."""
MOST_REASONS: Final = 2
"""Reasons that stand on a line; more are folded below it, so that a car keeps to one screen of a phone."""
DONE: Final = "done"


class ShownLine(NamedTuple):
    """A diff as the page shows it: its name and place, the act with its sign, the address where that is done (empty
    where the device may not write), and what is said below: the oil that goes in first.
    ``more`` is folded."""

    name: Words
    place: str
    act: Markup
    address: str
    oils: tuple[str, ...]
    done: str
    short: tuple[str, ...]
    why: str
    settle: tuple[str, ...]
    below: tuple[str, ...]
    more: tuple[str, ...]


class ShownGap(NamedTuple):
    """A place without a diff; the address, or else the command, that writes down what is there."""

    place: str
    words: str
    address: str
    command: str


class ShownCar(NamedTuple):
    """A car, several of which the same is said, or the spares, with its lines; ``anchor`` is its section of the page,
    ``in_short`` what leads there."""

    anchor: str
    in_short: str
    title: str
    lines: tuple[ShownLine, ...]
    gaps: tuple[ShownGap, ...] = ()


class ShownWorkStep(NamedTuple):
    """A step of the order of work, or several alike: its place from 1, which diff and where, what to do, and why it
    stands there."""

    place: str
    name: Words
    where: str
    what: str
    why_here: str
    done: str


class PlanPage(NamedTuple):
    """What the page asks of the database: the plan, and the events to come that there could be another one for."""

    made: MadePlan
    events: list[EventAhead]


def plan_page_of(
    connection: sqlite3.Connection,
    registry: Registry,
    event: str | None,
    today: date,
    packing: PackingList | None = None,
) -> PlanPage:
    """The plan for an event (by id), or today's, with what changed since the one that was kept last; ``packing`` is the
    team's own list of what to pack."""
    before = latest_plan_of(connection, event)
    made = make_plan(connection, registry, event, today, packing=packing, against=before)
    return PlanPage(made, events_ahead(connection, today.isoformat()))


async def plan(request: Any, datasette: Any) -> Any:
    """The plan for an event, or today's."""
    page = await page_request(datasette, request)
    event = await page.row_id("event") if request.url_vars.get("row") else None
    state = state_of(page.datasette)
    today = (state.copy.day if state.copy else None) or date.today()
    found = await page.ask(plan_page_of, page.registry, event, today, state.packing, patience=PATIENCE)
    made, links = found.made, page.links
    writing = await writing_here(page)
    return await page.render(
        PAGE,
        made.title,
        writing=writing if writing and not writing.pair else None,
        made=made,
        made_on=day_in_words(made.made_on),
        about=event_about(links, made.event, today) if made.event else "",
        change=ways_to_write(page, ("Change the event or its forecast", f"record/event/{event}", {})) if event else [],
        elsewhere=[links.to(f"plan/{one.event}", one.name) for one in found.events if one.event != event],
        today=links.to("plan", "what is due today") if event else "",
        cars=list(_cars(page, made)),
        surer_of_oils=SURER_OF_OILS,
        work=[_step(links, one) for one in steps_alike(made.work)],
        findings=[_finding(one) for one in made.points.findings],
        comparisons=made.points.comparisons,
        ideas=[(links.record("ideas", one.id, one.text), one.venue or "") for one in made.points.ideas],
        keep=ways_to_write(page, ("Keep this plan", f"plan/{event}" if event else "plan", {})),
    )


def event_about(links: Linker, event: EventToCome, today: date) -> Words:
    """An event with a link to its page, and how far off it is: ``spring race, in 5 days``."""
    far = to_come_in_words(event.first_on, event.last_on, today) if event.first_on else ""
    return joined(links.record("events", event.event, event.name), far)


def _cars(page: PageRequest, made: MadePlan) -> Iterator[ShownCar]:
    for number, alike in enumerate(cars_alike(made.cars), start=1):
        lines = tuple(_line(page, one, made.said_once) for one in alike.lines)
        car = alike.cars[0]
        gaps = tuple(_gap(page, car.car, one) for one in car.without)
        yield ShownCar(f"car-{number}", alike.in_short, alike.title, lines, gaps)
    if made.spares:
        spares = tuple(_line(page, one, made.said_once) for one in lines_alike(made.spares))
        yield ShownCar("spare", "Spare", "Spare", spares)


def _line(page: PageRequest, alike: LinesAlike, said_once: Sequence[str]) -> ShownLine:
    """A line, which leads to the form of its act where it is of one diff; of several each leads to its page. What is
    ``said_once`` stands below."""
    links, line = page.links, alike.line
    form = (
        None if line.done or len(alike.lines) > 1 else form_of_act(line.act, line.label, line.build, line.build_label)
    )
    oils = line.oils[-1:] if line.act == SECOND_ONE else line.oils
    is_poured = bool(oils) and line.oil_what != UNCLEAR_WHAT
    about_oil = line.about_oil(is_named=is_poured)
    cautions = (caution for one in line.oils for caution in blend_cautions(one))
    lacking = tuple(part_in_words(one) for one in line.parts if one.short)
    takes = ", ".join(part_in_words(one) for one in line.parts if not one.short)
    minutes = line.minutes.words if line.minutes else ""
    return ShownLine(
        joined(*(links.record("diffs", one.diff, one.called) for one in alike.lines)),
        line.position or ("" if line.is_spare else "somewhere"),
        with_sign(line.act),
        _address(page, form),
        tuple(one.words for one in oils) if is_poured else (),
        line.done.removeprefix("done: "),
        (*(one.short for one in line.oils if one.short), *lacking),
        "; ".join(line.reasons[:MOST_REASONS]),
        line.settle_in_words(said_once),
        tuple(one for one in (about_oil if oils else "", *cautions, takes, minutes, line.shared) if one),
        tuple(one for one in (*line.reasons[MOST_REASONS:], "" if oils else about_oil) if one),
    )


def _address(page: PageRequest, form: FormOffered | None) -> str:
    """Where a form is, for a device that may write; empty for any other."""
    return next((one.address for one in ways_to_write(page, form)), "") if form else ""


def _gap(page: PageRequest, car: str, gap: PlaceWithoutDiff) -> ShownGap:
    form = ("swap", "swap", {"car": car}) if gap.command else None
    return ShownGap(gap.position or "", gap.instead or gap.words, _address(page, form), gap.command)


def _step(links: Linker, alike: StepsAlike) -> ShownWorkStep:
    step, where = alike.steps[0], alike.where
    names = ((links.record("diffs", one.diff, one.label), "" if where else f"({one.where})") for one in alike.steps)
    name = joined(*(joined(*one, by=" ") for one in names))
    return ShownWorkStep(alike.places, name, where, step.what, step.why_here, step.done)


def _finding(finding: FindingToSettle) -> tuple[Markup, FindingToSettle]:
    return with_sign(finding.severity), finding


PAGE: Final = Page("plan", plan, r"(/(?P<row>[^/]+))?", navigation=NavigationEntry("Plan", 15), in_copy=True)
