"""The page of a run: what was where in the car, what changed in it since the run before, and how it went."""

from __future__ import annotations

import sqlite3
from typing import Any, Final, NamedTuple

from bevelbook.declare.vocabulary import POSITIONS
from bevelbook.display.spans import span_in_words
from bevelbook.entering.diff_readings import end_in_words
from bevelbook.entering.run_places import reading_words
from bevelbook.facts.car_diffs import set_at_run
from bevelbook.facts.car_times import moment_of
from bevelbook.facts.car_values import ValueChange, changes_since_last_run
from bevelbook.facts.sql import Row
from bevelbook.records import BY_NAME
from bevelbook.reports import questions
from bevelbook.web.host.page import ROW, Page
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.figures import figure
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.oil_words import oil
from bevelbook.web.shared.page_table import PageColumn, PageTable, page_table
from bevelbook.web.shared.record_facts import RecordFact, fact_lines, record_facts
from bevelbook.web.shared.request import page_request


class RunPage(NamedTuple):
    """What the page asks of the database; ``instead`` is what else sat in the car, ``spool in front``, by place."""

    record: Row
    sat: list[Row]
    instead: dict[str, str]
    changes: list[ValueChange]
    facts: list[RecordFact]


def run_page_of(connection: sqlite3.Connection, row_id: str) -> RunPage:
    """All that is known of a run, by its id. Raises DatabaseError where its record cannot be read."""
    kind = BY_NAME["run"]
    record = questions.record(connection, kind, row_id)
    sat = [row for row in questions.runs_of(connection, "run", row_id, len(POSITIONS) * 2) if row["build"]]
    return RunPage(
        record=record,
        sat=sorted(sat, key=lambda row: POSITIONS.index(row["position"]) if row["position"] else len(POSITIONS)),
        instead=_instead(connection, record, {row["position"] for row in sat}),
        changes=changes_since_last_run(connection, row_id) if record["car"] else [],
        facts=record_facts(connection, kind, row_id),
    )


def _instead(connection: sqlite3.Connection, record: Row, taken: set[str | None]) -> dict[str, str]:
    if not record["car"]:
        return {}
    there = set_at_run(connection, record["car"], moment_of(connection, record["id"])).after
    open_places = [place for place in POSITIONS if place in there and place not in taken]
    return {place: there[place].instead or "" for place in open_places if there[place].instead}


async def run(request: Any, datasette: Any) -> Any:
    """One run: what was where in the car, what changed since the run before, conditions and how it went."""
    page = await page_request(datasette, request)
    row_id = await page.row_id("run")
    found = await page.ask(run_page_of, row_id)
    return await page.render(
        PAGE,
        f"Run {found.record['label']}",
        note=found.record["note"],
        changed=[
            *([found.record["changed"]] if found.record["changed"] else []),
            *(one.words for one in found.changes),
        ],
        instead=[f"{place}: {what}" for place, what in found.instead.items()],
        tables=[_sat_table(page.links, found.sat)],
        facts=fact_lines(page.links, found.facts),
    )


def _when_taken(row: Row) -> str:
    after = f"{span_in_words(row['after_run_s'])} after the run" if row["after_run_s"] is not None else ""
    return ", ".join(one for one in (after, row["temp_taken"]) if one)


def _at_end(row: Row) -> str:
    columns = ("diff_temp_c", "after_run_s", "second_diff_temp_c", "second_after_run_s", "air_temp_c")
    return end_in_words(*(row[column] for column in columns)) or ""


SAT_COLUMNS: Final[tuple[PageColumn[Row], ...]] = (
    PageColumn("Oil", oil),
    PageColumn("Diff [°C]", lambda row: figure("diff_temp_c", row["diff_temp_c"]), numeric=True),
    PageColumn("When taken", _when_taken),
    PageColumn(
        "Read again", lambda row: ", ".join(reading_words(row["second_diff_temp_c"], row["second_after_run_s"]))
    ),
    PageColumn("Worked out for the end of the run", _at_end),
    PageColumn("Full?", lambda row: with_sign(row["fill_state"] or "")),
    PageColumn("Runs since opened", lambda row: figure("runs", row["runs_before"]), numeric=True),
)
"""What is shown of a diff in the run, after its place and build."""


def _sat_table(links: Linker, rows: list[Row]) -> PageTable:
    columns: tuple[PageColumn[Row], ...] = (
        PageColumn("Place", lambda row: row["position"] or "not said"),
        PageColumn("Build", lambda row: links.record("builds", row["build"], row["build_label"])),
        *SAT_COLUMNS,
    )
    return page_table("In the car", columns, rows)


PAGE: Final = Page("run", run, ROW, shows="runs")
