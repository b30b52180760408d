"""The page of an event: days, place, what is expected, the cars that go, and its runs by day."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any, Final, NamedTuple

from bevelbook.display.days import days_in_words
from bevelbook.facts.runs import count_of, notes_and_runs
from bevelbook.facts.sql import Row
from bevelbook.planning.event_to_come import EventToCome, event_to_come
from bevelbook.reading.dates import today_iso
from bevelbook.records import BY_NAME
from bevelbook.reports import questions
from bevelbook.reports.joined import also_written
from bevelbook.reports.race_events import DayOfEvent, days_of_event
from bevelbook.store.lookup import label_of
from bevelbook.web.host.page import ROW, Page
from bevelbook.web.pages.day import day_link
from bevelbook.web.shared.blocks import Words, joined
from bevelbook.web.shared.blocks_of_runs import run_blocks
from bevelbook.web.shared.clash_blocks import clashes_here
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.newest_of import newest_of
from bevelbook.web.shared.record_facts import RecordFact, fact_lines, record_facts
from bevelbook.web.shared.request import PageRequest, page_request
from bevelbook.web.shared.writing_here import WayToWrite, ways_to_write

RUNS: Final = 40
_EVENT: Final = BY_NAME["event"]


class EventPage(NamedTuple):
    """What the page asks of the database."""

    name: str
    event: EventToCome
    days: list[DayOfEvent]
    runs: list[Row]
    facts: list[RecordFact]
    also: tuple[str, ...]


def event_page_of(connection: sqlite3.Connection, row_id: str) -> EventPage:
    """All that is known of an event, by its id."""
    return EventPage(
        label_of(connection, _EVENT, row_id),
        event_to_come(connection, row_id),
        days_of_event(connection, row_id),
        questions.runs_of(connection, "event", row_id, RUNS + 1),
        record_facts(connection, _EVENT, row_id),
        also_written(connection, _EVENT, row_id),
    )


async def event(request: Any, datasette: Any) -> Any:
    """One event: days, place, what is expected, the cars that go, its runs by day."""
    page = await page_request(datasette, request)
    row_id = await page.row_id("event")
    links = page.links
    found = await page.ask(event_page_of, row_id)
    runs = newest_of(found.runs, RUNS, "run")
    return await page.render(
        PAGE,
        found.name,
        clashes=await clashes_here(page, "event", row_id),
        also_written=found.also,
        write=_ways(page, found),
        where=_where(links, found.event),
        expected=list(_expected(found.event)),
        cars=[_car(links, found.event, number) for number in range(len(found.event.cars))],
        are_cars_said=found.event.are_cars_said,
        note=found.event.note,
        plan=links.page(f"plan/{row_id}"),
        days=[_day(links, one) for one in found.days],
        runs=run_blocks(links, runs.rows, venue=found.event.venue is None),
        more_runs=runs.rest(links, "runs", event=row_id, _sort_desc="run_on"),
        facts=fact_lines(links, found.facts),
    )


def _ways(page: PageRequest, found: EventPage) -> list[WayToWrite]:
    """What may be written of it: a run on one of its days, what is still missing once it began, corrections."""
    event, today = found.event, today_iso()
    is_on = event.first_on is not None and event.first_on <= today <= (event.last_on or "")
    has_begun = bool(found.days) or (event.first_on is not None and event.first_on <= today)
    return ways_to_write(
        page,
        *((("note a run of it", "run", {"event": found.name}),) if is_on else ()),
        *((("finish it: calls, temperatures, weighings", f"after-event/{event.event}", {}),) if has_begun else ()),
        ("a car that goes", "record/event_car", {"event": found.name}),
        ("correct it", f"record/event/{event.event}", {}),
    )


def _where(links: Linker, event: EventToCome) -> Words:
    """Place and days, and what is not written down of these."""
    return joined(
        links.record("venues", event.venue, event.venue_name) if event.venue else "no venue noted",
        days_in_words(event.first_on, event.last_on) if event.first_on else "no day noted",
    )


def _expected(event: EventToCome) -> Iterator[str]:
    """Air, track and grip, as far as they are expected."""
    for words, expected in (("air", event.air), ("track", event.track)):
        if expected.is_known:
            yield f"{words} {expected.words}"
    if event.grip:
        yield f"{event.grip} grip"


def _car(links: Linker, event: EventToCome, number: int) -> Words:
    car = event.cars[number]
    planned = f"{count_of(car.runs)} planned" if car.runs is not None else ""
    return joined(links.record("cars", car.car, car.name), planned)


def _day(links: Linker, one: DayOfEvent) -> Words:
    return joined(day_link(links, one.day), notes_and_runs(one.notes, one.runs))


PAGE: Final = Page("event", event, ROW, shows="events", in_copy=True)
