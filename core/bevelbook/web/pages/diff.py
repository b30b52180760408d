"""The page of a diff: its shelf word, builds, openings, masses, seals and runs."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Any, Final, NamedTuple

from bevelbook.declare.vocabulary import NOT_SAID
from bevelbook.display.days import built_in_words
from bevelbook.display.diff_names import with_mark
from bevelbook.facts.parts import PartCount, parts_of_build
from bevelbook.facts.sql import Row
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.reports import questions
from bevelbook.reports.dry_mass_findings import last_dry_mass_line
from bevelbook.reports.mass_chart import masses_of_diff
from bevelbook.reports.shelf import all_words, shelf_row
from bevelbook.web.host.page import ROW, Page
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.blocks_of_runs import run_blocks
from bevelbook.web.shared.drawing import drawn_meanwhile, masses_chart
from bevelbook.web.shared.offered_calculators import OfferedHere, offered_for, offered_links
from bevelbook.web.shared.page_table import PageColumn, PageTable, page_table
from bevelbook.web.shared.record_facts import RecordFact, fact_lines, record_facts
from bevelbook.web.shared.request import page_request
from bevelbook.web.shared.sentences import build_words
from bevelbook.web.shared.tables_of_builds import builds_table, openings_table, seals_table

BUILDS: Final = 40
RUNS: Final = 40
CHARTED_BUILDS: Final = 4


class DiffPage(NamedTuple):
    """What the page asks of the database; parts and seals are those of the newest build."""

    record: Row
    offered: list[OfferedHere]
    shelf: Row | None
    facts: list[RecordFact]
    builds: list[Row]
    openings: list[Row]
    masses: list[Mapping[str, Any]]
    parts: list[PartCount]
    fittings: list[Row]
    runs: list[Row]
    dry_mass: str


def diff_page_of(connection: sqlite3.Connection, registry: Registry, row_id: str) -> DiffPage:
    """All that is known of a diff, by its id. Raises DatabaseError where its record cannot be read."""
    kind = BY_NAME["diff"]
    runs = questions.runs_of(connection, "diff", row_id, RUNS)
    builds = questions.builds_of(connection, "diff", row_id, BUILDS)
    return DiffPage(
        record=questions.record(connection, kind, row_id),
        offered=offered_for(connection, registry, kind, row_id),
        shelf=shelf_row(connection, row_id),
        facts=record_facts(connection, kind, row_id),
        builds=builds,
        openings=questions.openings_of(connection, "diff", row_id),
        masses=masses_of_diff(connection, row_id, CHARTED_BUILDS),
        parts=parts_of_build(connection, builds[0]["id"]) if builds else [],
        fittings=questions.fittings_of(connection, builds[0]["id"]) if builds else [],
        runs=runs,
        dry_mass=last_dry_mass_line(connection, builds[0]["id"]) if builds else "",
    )


async def diff(request: Any, datasette: Any) -> Any:
    """One diff: its shelf word, builds, openings, masses, seals and runs."""
    page = await page_request(datasette, request)
    row_id = await page.row_id("diff")
    links = page.links
    found = await page.ask(diff_page_of, page.registry, row_id)
    label = found.record["label"]
    newest = found.builds[0] if found.builds else None
    return await page.render(
        PAGE,
        with_mark(label, found.record["mark"]),
        word=with_sign(found.shelf["word"]) if found.shelf else "",
        why=list(all_words(found.shelf)) if found.shelf else [],
        offered=offered_links(links, found.offered),
        newest=newest,
        newest_words=build_words(links, newest) if newest else None,
        newest_built=built_in_words(newest["built_on"]) if newest else "",
        dry_mass=found.dry_mass,
        facts=fact_lines(links, found.facts),
        note=found.record["note"],
        chart_of_masses=await drawn_meanwhile(masses_chart(label), page.registry, found.masses),
        runs=run_blocks(links, found.runs),
        tables=[
            builds_table(links, "Builds", found.builds),
            openings_table(links, found.openings),
            seals_table(links, found.fittings),
            _parts_table(found.parts),
        ],
    )


def _parts_table(parts: list[PartCount]) -> PageTable:
    columns: tuple[PageColumn[PartCount], ...] = (
        PageColumn("Part", lambda part: part.part),
        PageColumn("Place", lambda part: "" if part.place == NOT_SAID else part.place),
        PageColumn("Mark", lambda part: part.mark),
        PageColumn("Since new", lambda part: "yes" if part.from_new else "not known"),
        PageColumn("Builds", lambda part: str(part.uses), numeric=True),
        PageColumn("Runs", lambda part: f"{part.runs:g}", numeric=True),
    )
    return page_table("Runs of its parts", columns, parts)


PAGE: Final = Page("diff", diff, ROW, shows="diffs")
