"""The page of a venue: what was run there in which conditions, open ideas, the latest runs."""

from __future__ import annotations

import sqlite3
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.facts.ideas import OpenIdea, open_ideas
from bevelbook.facts.runs import notes_and_runs
from bevelbook.facts.sql import Row
from bevelbook.plugin.registry import Registry
from bevelbook.reading.dates import today_iso
from bevelbook.records import BY_NAME
from bevelbook.reports import questions
from bevelbook.reports.joined import also_written
from bevelbook.reports.race_events import EventAhead, events_ahead
from bevelbook.web.host.page import ROW, Page
from bevelbook.web.shared.blocks_of_runs import run_blocks
from bevelbook.web.shared.clash_blocks import clashes_here
from bevelbook.web.shared.event_lines import event_line
from bevelbook.web.shared.figures import figure
from bevelbook.web.shared.kept_results import shown_calculations
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.newest_of import newest_of
from bevelbook.web.shared.offered_calculators import OfferedHere, offered_for, offered_links
from bevelbook.web.shared.record_facts import RecordFact, fact_lines, record_facts
from bevelbook.web.shared.request import page_request
from bevelbook.web.shared.short_text import short
from bevelbook.web.shared.writing_here import ways_to_write

RUNS: Final = 20
BANDS: Final = ("up to 15 °C", "15 to 25 °C", "25 to 35 °C", "above 35 °C")
_BAND_EDGES: Final = ((None, 15.0), (15.0, 25.0), (25.0, 35.0), (35.0, None))


class VenuePage(NamedTuple):
    """What the page asks of the database."""

    record: Row
    offered: list[OfferedHere]
    calculations: list[Row]
    facts: list[RecordFact]
    conditions: list[Row]
    count_of_runs: int
    ideas: list[OpenIdea]
    runs: list[Row]
    to_come: list[EventAhead]


def venue_page_of(connection: sqlite3.Connection, registry: Registry, row_id: str) -> VenuePage:
    """All that is known of a venue, by its id. Raises DatabaseError where its record cannot be read."""
    kind = BY_NAME["venue"]
    runs = questions.runs_of(connection, "venue", row_id, RUNS + 1)
    return VenuePage(
        record=questions.record(connection, kind, row_id),
        offered=offered_for(connection, registry, kind, row_id),
        calculations=questions.calculations_for(connection, kind, row_id),
        facts=record_facts(connection, kind, row_id),
        conditions=questions.conditions_at(connection, row_id),
        count_of_runs=questions.runs_at(connection, row_id),
        ideas=open_ideas(connection, row_id),
        runs=runs,
        to_come=events_ahead(connection, today_iso(), row_id),
    )


async def venue(request: Any, datasette: Any) -> Any:
    """One venue: what was run there in which conditions, open ideas, the latest runs."""
    page = await page_request(datasette, request)
    row_id = await page.row_id("venue")
    links = page.links
    found = await page.ask(venue_page_of, page.registry, row_id)
    row = found.record
    runs = newest_of(found.runs, RUNS, "run")
    return await page.render(
        PAGE,
        row["name"],
        clashes=await clashes_here(page, "venue", row_id),
        also_written=await page.ask(also_written, BY_NAME["venue"], row_id),
        write=ways_to_write(
            page,
            ("note an idea", "idea", {"venue": row["name"]}),
            ("an event there", "record/event", {"venue": row["name"]}),
            ("correct it", f"record/venue/{row_id}", {}),
        ),
        facts=fact_lines(links, found.facts),
        note=row["note"],
        offered=offered_links(links, found.offered),
        calculations=shown_calculations(links, page.registry, found.calculations),
        newest=f"{questions.CONDITIONS_OF:,}" if found.count_of_runs > questions.CONDITIONS_OF else "",
        conditions=[_condition(links, row_id, one) for one in found.conditions],
        to_come=[] if links.is_in_copy else [event_line(links, one, venue=False) for one in found.to_come],
        ideas=[links.record("ideas", one.id, short(one.text, 200)) for one in found.ideas],
        onward=links.page("worked", venue=row["name"]),
        runs=run_blocks(links, runs.rows, venue=False),
        more_runs=runs.rest(links, "runs", venue=row_id, _sort_desc="run_on"),
    )


class Condition(NamedTuple):
    """What was run in one grip and band of temperature."""

    words: Markup
    runs: str
    calls: str
    not_counted: str
    oils: str


def _condition(links: Linker, venue_id: str, row: Row) -> Condition:
    grip = f"{row['grip']} grip" if row["grip"] else "grip not recorded"
    band = f"track {BANDS[row['band']]}" if row["band"] is not None else "track not measured"
    low, high = _BAND_EDGES[row["band"]] if row["band"] is not None else (None, None)
    return Condition(
        links.to(
            "worked",
            f"{grip}, {band}",
            venue=venue_id,
            grip=row["grip"],
            track_from=low and f"{low:g}",
            track_to=high and f"{high:g}",
        ),
        notes_and_runs(row["notes"], row["runs"]),
        row["by_day"].words,
        _not_counted(row),
        "; ".join(f"{place or 'place not noted'} {_span(*ends)}" for place, ends in row["oils"].items()),
    )


def _span(thinnest_cst: float, thickest_cst: float) -> str:
    thin, thick = (figure("viscosity_cst", end) for end in (thinnest_cst, thickest_cst))
    return f"{thin} cSt" if thin == thick else f"{thin} to {thick} cSt"


def _not_counted(row: Row) -> str:
    """How many of these runs count for no oil, and why."""
    parts = (("without_call", "without a call"), ("on_lost_oil", "on a diff that lost oil"))
    said = ", ".join(f"{row[name]} {words}" for name, words in parts if row[name])
    return f"not counted for an oil: {said}" if said else ""


PAGE: Final = Page("venue", venue, ROW, shows="venues", in_copy=True)
