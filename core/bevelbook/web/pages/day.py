"""The page of a day: its runs in their order, its oils by place, and the days before and after."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from contextlib import suppress
from datetime import date
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.declare.counting import counted
from bevelbook.display.days import day_in_words
from bevelbook.facts.runs import count_of, runs_of_row
from bevelbook.facts.sql import Row
from bevelbook.reports.day_drift import drift_of_day
from bevelbook.reports.oils_in_runs import OilInRuns, has_lost_oil, oils_in_runs
from bevelbook.reports.race_day import RaceDay, RunAndChanges, near_days, race_day
from bevelbook.web.host.page import Page
from bevelbook.web.shared.blocks import ListedBlock, Words, block, joined
from bevelbook.web.shared.drawing import drawn_meanwhile, laps_chart
from bevelbook.web.shared.figures import figure
from bevelbook.web.shared.links import Linker, NamesOnly
from bevelbook.web.shared.oil_words import oil
from bevelbook.web.shared.own_file import as_file
from bevelbook.web.shared.remark_words import remarks
from bevelbook.web.shared.request import PageRequest, page_request
from bevelbook.web.shared.runs_in_words import (
    LONGEST_REMARK,
    balance_in_words,
    changed_words,
    conditions_of_run,
    diff_in_run,
    laps_in_words,
)
from bevelbook.web.shared.writing_here import ways_to_write

LONGEST_IN_FILE: Final = 4_000
"""A remark in the file, where no link leads to the rest of it."""


class DayPage(NamedTuple):
    """What the page asks of the database: the day, and for one without runs the days near it; ``laps`` are the rows of
    its chart."""

    day: RaceDay
    near: list[str]
    laps: Sequence[Mapping[str, Any]]


def day_page_of(connection: sqlite3.Connection, day: str) -> DayPage:
    """All that is known of a day."""
    found = race_day(connection, day)
    return DayPage(found, [] if found.runs else near_days(connection, day), drift_of_day(connection, day))


async def day(request: Any, datasette: Any) -> Any:
    """One day: where, in which conditions, its oils by place, and its runs in their order."""
    from datasette.utils import tilde_decode

    page = await page_request(datasette, request)
    asked = tilde_decode(request.url_vars["day"])
    found = await page.ask(day_page_of, asked)
    if not found.day.runs:
        return await _no_such_day(page, asked, found.near)
    title = day_in_words(asked)
    laps = await drawn_meanwhile(laps_chart(len(found.laps)), page.registry, found.laps if len(found.laps) > 1 else ())
    if request.url_vars["file"]:
        shown = day_as_shown(NamesOnly(page.team.name), found.day, LONGEST_IN_FILE)
        return await as_file(page, PAGE, title, f"bevelbook-{asked}.html", found=shown, laps=laps)
    save = page.links.page(f"day/{asked}.html")
    write = ways_to_write(
        page, ("note a run", "run", {"run_on": found.day.day}), ("its run sheet", "sheet", {"day": found.day.day})
    )
    return await page.render(PAGE, title, write=write, found=day_as_shown(page.links, found.day), laps=laps, save=save)


async def _no_such_day(page: PageRequest, asked: str, near: list[str]) -> Any:
    words = (
        f"No run was noted for {day_in_words(asked)}."
        if _is_day(asked)
        else "An address of a day ends like 2026-05-03."
    )
    answer = await page.render(PAGE, "No such day", missing=words, near=[day_link(page.links, one) for one in near])
    answer.status = 404
    return answer


def _is_day(text: str) -> bool:
    with suppress(ValueError):
        return date.fromisoformat(text).isoformat() == text
    return False


class ShownDay(NamedTuple):
    """A day as it is shown."""

    where: Words
    conditions: str
    before: Words
    after: Words
    oils: list[ListedBlock]
    not_counted: str
    runs: list[ListedBlock]
    left_out: str


def day_as_shown(links: Linker, found: RaceDay, longest_remark: int = LONGEST_REMARK) -> ShownDay:
    """A day in words; ``links`` makes its links, and remarks are cut at so many letters."""
    several_cars = len({one.record["car"] for one in found.runs}) > 1
    lost = sum(runs_of_row(row) for row in found.diffs if has_lost_oil(row))
    return ShownDay(
        where=_where(links, found),
        conditions=_conditions_of_day([one.record for one in found.runs]),
        before=day_link(links, found.before) if found.before else "",
        after=day_link(links, found.after) if found.after else "",
        oils=[_oil_block(one) for one in oils_in_runs(found.diffs)],
        not_counted=f"{count_of(lost)} on a diff that had lost oil, or may have, not counted for its oil"
        if lost
        else "",
        runs=[_run_block(links, one, longest_remark, several_cars=several_cars) for one in found.runs],
        left_out=f"{counted(found.left_out, 'later run')} of that day left out." if found.left_out else "",
    )


def day_link(links: Linker, day: str) -> Words:
    """A link to the page of a day, in words."""
    return links.to(f"day/{day}", day_in_words(day))


def _where(links: Linker, found: RaceDay) -> Words:
    """Venues, events, cars and drivers, each once."""
    venues = {one.record["venue"]: one.record["venue_name"] for one in found.runs if one.record["venue"]}
    named = [
        name
        for column in ("car_name", "driver_name")
        for name in dict.fromkeys(one.record[column] for one in found.runs)
        if name
    ]
    events = {one.record["event"]: one.record["event_name"] for one in found.runs if one.record["event"]}
    runs = sum(runs_of_row(one.record) for one in found.runs)
    links_of = (("venues", venues), ("events", events))
    of_day = [links.record(table, *one) for table, found_there in links_of for one in found_there.items()]
    return joined(*of_day, *named, count_of(runs))


def _conditions_of_day(records: list[Row]) -> str:
    """The grips and surfaces of the day, and its coldest and warmest track and air."""
    words = [
        *dict.fromkeys(one["surface_state"] for one in records if one["surface_state"]),
        *dict.fromkeys(f"{one['grip']} grip" for one in records if one["grip"]),
    ]
    for name, column in (("track", "track_temp_c"), ("air", "air_temp_c")):
        values = [one[column] for one in records if one[column] is not None]
        if values:
            low, high = (figure(column, value) for value in (min(values), max(values)))
            words.append(f"{name} {low} °C" if low == high else f"{name} {low} to {high} °C")
    return ", ".join(words)


def _oil_block(one: OilInRuns) -> ListedBlock:
    """An oil in its place: how it did, its runs and builds."""
    builds = ", ".join(dict.fromkeys(row["build_label"] for row in one.rows))
    unknown = one.not_known_full().runs
    return block(
        joined(one.place, oil(one.rows[0]), by=": "),
        one.by_day.words_of_one_day,
        quiet=joined(count_of(one.runs), builds, f"not known to be full in {count_of(unknown)}" if unknown else ""),
    )


def _run_block(links: Linker, run: RunAndChanges, longest_remark: int, *, several_cars: bool) -> ListedBlock:
    """A run of the day: what changed, what was in the car, laps, conditions, how it went."""
    record = run.record
    car = record["car_name"]
    changed = changed_words(links, run)
    return block(
        joined(
            links.record("runs", record["run"], f"Run {run.place}" if run.place is not None else record["label"]),
            car if several_cars else "",
            record["started_at"],
            count_of(record["runs"]) if record["runs"] not in (None, 1) else "",
        ),
        Markup("<strong>{}</strong>").format(record["call"]) if record["call"] else "",
        joined("Changed: ", joined(*changed, by="; "), by="") if changed else "",
        *(diff_in_run(links, row) for row in run.diffs),
        laps_in_words(record),
        *remarks(record, longest_remark),
        balance_in_words(record),
        conditions_of_run(record, run.diffs),
        quiet=joined(
            "" if several_cars else car, record["driver_name"], f"tyres {record['tyres']}" if record["tyres"] else ""
        ),
    )


PAGE: Final = Page("day", day, r"/(?P<day>[^/]+?)(?P<file>\.html)?", in_copy=True)
