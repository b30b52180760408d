"""The page of a run: what was where in the car, laps, what changed since the run before, and how it went."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.declare.vocabulary import POSITIONS
from bevelbook.display.days import day_in_words
from bevelbook.display.spans import span_in_words
from bevelbook.entering.diff_readings import end_in_words
from bevelbook.entering.run_places import reading_words
from bevelbook.facts.car_diffs import set_at_run
from bevelbook.facts.car_times import moment_of
from bevelbook.facts.runs import count_of, since_filled_words
from bevelbook.facts.sql import Row
from bevelbook.records import BY_NAME
from bevelbook.reports.race_day import RunAndChanges, RunInItsDay, run_in_its_day
from bevelbook.store.record_names import title_of
from bevelbook.web.host.page import ROW, Page
from bevelbook.web.shared.blocks import ListedBlock, block, joined
from bevelbook.web.shared.blocks_of_runs import called
from bevelbook.web.shared.clash_blocks import clashes_here
from bevelbook.web.shared.figures import figure
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.oil_words import oil
from bevelbook.web.shared.record_facts import RecordFact, fact_lines, record_facts
from bevelbook.web.shared.remark_words import remarks
from bevelbook.web.shared.request import page_request
from bevelbook.web.shared.runs_in_words import (
    balance_in_words,
    changed_words,
    conditions_of_run,
    full_or_not,
    laps_in_words,
    place_of,
)
from bevelbook.web.shared.writing_here import ways_to_write


class RunPage(NamedTuple):
    """What the page asks of the database; ``instead`` is what else sat in the car, ``spool in front``, by place;
    ``noted_in`` is the file of notes that the run came in with."""

    in_its_day: RunInItsDay
    instead: dict[str, str]
    noted_in: str | None
    facts: list[RecordFact]

    @property
    def run(self) -> RunAndChanges:
        return self.in_its_day.run


def run_page_of(connection: sqlite3.Connection, row_id: str) -> RunPage:
    """All that is known of a run, by its id. Raises DatabaseError where its record cannot be read."""
    found = run_in_its_day(connection, row_id)
    record = found.run.record
    return RunPage(
        in_its_day=found,
        instead=_instead(connection, record, {row["position"] for row in found.run.diffs}),
        noted_in=title_of(connection, BY_NAME["note_file"], record["note_file"]) if record["note_file"] else None,
        facts=record_facts(connection, BY_NAME["run"], row_id),
    )


def _instead(connection: sqlite3.Connection, record: Row, taken: set[str | None]) -> dict[str, str]:
    if not record["car"]:
        return {}
    there = set_at_run(connection, record["car"], moment_of(connection, record["id"])).after
    open_places = [place for place in POSITIONS if place in there and place not in taken]
    return {place: there[place].instead or "" for place in open_places if there[place].instead}


async def run(request: Any, datasette: Any) -> Any:
    """One run: what was where in the car, laps, what changed since the run before, conditions and how it went."""
    page = await page_request(datasette, request)
    row_id = await page.row_id("run")
    found = await page.ask(run_page_of, row_id)
    links, run, record = page.links, found.run, found.run.record
    return await page.render(
        PAGE,
        f"Run {record['label']}",
        clashes=await clashes_here(page, "run", row_id),
        write=ways_to_write(
            page,
            ("correct it", f"run/{row_id}", {}),
            ("note an idea", "idea", {"venue": record["venue_name"], "run": record["label"]}),
            ("the next run", "run", {"car": record["car_name"]}),
        ),
        call=called(record),
        where=joined(
            links.to(f"day/{record['run_on']}", day_in_words(record["run_on"])),
            f"run {run.place} of the day" if run.place is not None else "",
            record["started_at"],
            links.record("venues", record["venue"], record["venue_name"]) if record["venue"] else "",
            links.record("events", record["event"], record["event_name"]) if record["event"] else "",
            links.record("cars", record["car"], record["car_name"]) if record["car"] else "",
            record["driver_name"],
            count_of(record["runs"]) if record["runs"] not in (None, 1) else "",
        ),
        laps=laps_in_words(record),
        diffs=[*(_diff_block(links, row) for row in run.diffs), *_instead_blocks(found.instead)],
        changed=changed_words(links, run),
        remarks=list(remarks(record)),
        balance=balance_in_words(record),
        conditions=conditions_of_run(record, run.diffs),
        before=_neighbour(links, found.in_its_day.before),
        after=_neighbour(links, found.in_its_day.after),
        readings=[line for row in run.diffs for line in readings_of(row)],
        noted=_noted(links, record, found.noted_in),
        facts=fact_lines(links, found.facts),
    )


def _diff_block(links: Linker, row: Row) -> ListedBlock:
    """A diff in the run: its place and oil, its build, and how long ago that was filled."""
    runs = row["runs_before"]
    since = since_filled_words(runs) if runs is not None else ""
    return block(
        joined(place_of(row), oil(row), by=": "),
        full_or_not(row),
        quiet=joined(links.record("builds", row["build"], row["build_label"]), since),
    )


def _instead_blocks(instead: dict[str, str]) -> Iterator[ListedBlock]:
    for place, what in instead.items():
        yield block(f"{place}: {what}")


def _neighbour(links: Linker, run: tuple[str, str] | None) -> Markup | str:
    return links.record("runs", *run) if run else ""


def _noted(links: Linker, record: Row, file: str | None) -> list[Markup | str]:
    """Where the record of the run comes from."""
    if record["note_file"] is None:
        return []
    line = f"line {record['note_line']} of " if record["note_line"] is not None else ""
    return [Markup("{}{}").format(line, links.record("note_files", record["note_file"], file))]


def readings_of(row: Row) -> Iterator[str]:
    """What was read off a diff in its run and when, and what that makes at the end of the run."""
    of = place_of(row) or row["build_label"]
    if row["diff_temp_c"] is not None:
        after = f"{span_in_words(row['after_run_s'])} after the run" if row["after_run_s"] is not None else ""
        said = (f"{figure('diff_temp_c', row['diff_temp_c'])} °C", after, row["temp_taken"])
        yield f"{of}: {', '.join(part for part in said if part)}"
    second = reading_words(row["second_diff_temp_c"], row["second_after_run_s"])
    if second:
        yield f"{of}, read again: {', '.join(second)}"
    columns = ("diff_temp_c", "after_run_s", "second_diff_temp_c", "second_after_run_s", "air_temp_c")
    if end := end_in_words(*(row[column] for column in columns)):
        yield f"{of}, worked out for the end of the run: {end}"


PAGE: Final = Page("run", run, ROW, shows="runs", in_copy=True)
