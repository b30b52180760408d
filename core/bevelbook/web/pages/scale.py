"""The page of a scale: what is known of it, what it sees, and its readings by day."""

from __future__ import annotations

import sqlite3
from itertools import groupby
from typing import Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.in_command import in_command
from bevelbook.display.days import day_in_words
from bevelbook.facts.scale_readings import differs_in_words, readings_of, said_of
from bevelbook.facts.scales import ScaleKnown, known_scale
from bevelbook.facts.sql import Row
from bevelbook.formulas.fill_window import reading_in_words
from bevelbook.formulas.scale_check import CheckReading
from bevelbook.plugin.returned_values import Judgement
from bevelbook.records import BY_NAME
from bevelbook.reports import questions
from bevelbook.reports.joined import also_written
from bevelbook.store.lookup import label_of
from bevelbook.web.host.page import ROW, Page
from bevelbook.web.shared.clash_blocks import clashes_here
from bevelbook.web.shared.request import page_request


class ScalePage(NamedTuple):
    """What the page asks of the database."""

    record: Row
    known: ScaleKnown
    readings: tuple[CheckReading, ...]
    says: Judgement
    doubtful: tuple[tuple[str, str], ...] = ()
    """Id and name of the readings that are asked about."""


class ReadingsOfDay(NamedTuple):
    """The readings of one thing on one day, as the scale showed them, in g."""

    day: str
    thing: str
    readings: str
    shown: str


def scale_page_of(connection: sqlite3.Connection, row_id: str) -> ScalePage:
    """All that is known of a scale, by its id. Raises DatabaseError where its record cannot be read."""
    record = questions.record(connection, BY_NAME["scale"], row_id)
    known = known_scale(connection, row_id)
    said = said_of(connection, known)
    differs = differs_in_words(known, said)
    says = said.judgement if differs is None else said.judgement._replace(reasons=(*said.judgement.reasons, differs))
    doubtful = tuple((one, label_of(connection, BY_NAME["scale_reading"], one)) for one in said.doubtful)
    return ScalePage(record, known, readings_of(connection, row_id), says, doubtful)


def by_day(known: ScaleKnown, readings: tuple[CheckReading, ...]) -> list[ReadingsOfDay]:
    """The readings of each thing and day, the newest day first."""
    found = []
    for (day, thing), group in groupby(readings, key=lambda one: (one.day or "", one.thing or "")):
        shown = [reading_in_words(one.mass_g, known.noise.step_g) for one in group]
        found.append(ReadingsOfDay(day_in_words(day), thing, counted(len(shown), "reading"), ", ".join(shown)))
    return found[::-1]


async def scale(request: Any, datasette: Any) -> Any:
    """One scale: what is known of it, what it sees, and its readings by day."""
    page = await page_request(datasette, request)
    row_id = await page.row_id("scale")
    found = await page.ask(scale_page_of, row_id)
    return await page.render(
        PAGE,
        found.known.name,
        clashes=await clashes_here(page, "scale", found.known.row_id),
        also_written=await page.ask(also_written, BY_NAME["scale"], found.known.row_id),
        known=found.known.words,
        is_checked=found.known.is_checked,
        says=found.says.reasons,
        doubtful=[(page.links.record("scale_readings", one, name), in_command(name)) for one, name in found.doubtful],
        note=found.record["note"],
        days=by_day(found.known, found.readings),
        all_scales=page.links.page("scales"),
    )


PAGE: Final = Page("scale", scale, ROW, shows="scales", in_copy=True)
