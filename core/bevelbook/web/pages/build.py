"""The page of a build: what went in, what the calculators say, what was run and found, what changed."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.facts.builds import BuildName, build_before
from bevelbook.facts.diffs import APART, OF_OIL_LOST
from bevelbook.facts.oil_days import days_kept_of
from bevelbook.facts.sql import Row
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.reports import questions
from bevelbook.reports.build_difference import Difference
from bevelbook.reports.compare import differences
from bevelbook.reports.oil_lost_verdict import LeakSaid, leak_said
from bevelbook.reports.photographs import Photograph, photographs_of_diff
from bevelbook.reports.shelf import reason_words, shelf_row
from bevelbook.store.lookup import check_has_diff
from bevelbook.store.sqlite_errors import unread_record
from bevelbook.web.host.page import ROW, Page
from bevelbook.web.host.photographs_shown import photograph_section
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.blocks import Words, joined
from bevelbook.web.shared.blocks_of_builds import (
    dark_oil_note,
    dry_words,
    filling_block,
    oil_lost_word,
    opening_blocks,
    seal_blocks,
)
from bevelbook.web.shared.blocks_of_runs import run_blocks
from bevelbook.web.shared.build_differences import build_differences
from bevelbook.web.shared.clash_blocks import clashes_here
from bevelbook.web.shared.kept_results import shown_calculations
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.newest_of import newest_of
from bevelbook.web.shared.offered_calculators import OfferedHere, offered_for, offered_links
from bevelbook.web.shared.photograph_forms import photograph_form
from bevelbook.web.shared.record_facts import RecordFact, fact_lines, record_facts
from bevelbook.web.shared.request import page_request
from bevelbook.web.shared.writing_here import FormOffered, ways_to_write

RUNS: Final = 40


class BuildPage(NamedTuple):
    """What the page asks of the database; ``differences`` are those from the build ``before``."""

    build: Row
    shelf: Row | None
    leak: LeakSaid | None
    offered: list[OfferedHere]
    facts: list[RecordFact]
    calculations: list[Row]
    fittings: list[Row]
    openings: list[Row]
    runs: list[Row]
    before: BuildName | None
    differences: tuple[Difference, ...]
    photos_of_diff: list[Photograph]


def build_page_of(connection: sqlite3.Connection, registry: Registry, row_id: str) -> BuildPage:
    """All that is known of a build, by its id. Raises DatabaseError where its record or its diff cannot be read."""
    kind = BY_NAME["build"]
    runs = questions.runs_of(connection, "build", row_id, RUNS + 1)
    check_has_diff(connection, row_id)
    before = build_before(connection, row_id)
    row = questions.build(connection, row_id)
    if row is None:
        raise unread_record("build")
    return BuildPage(
        build=row,
        shelf=shelf_row(connection, row["diff"]),
        leak=leak_said(connection, row_id),
        offered=offered_for(connection, registry, kind, row_id),
        facts=record_facts(connection, kind, row_id),
        calculations=questions.calculations_of(connection, row_id),
        fittings=questions.fittings_of(connection, row_id),
        openings=questions.openings_of(connection, "build", row_id),
        runs=runs,
        before=before,
        differences=differences(connection, before[0], row_id, registry) if before else (),
        photos_of_diff=photographs_of_diff(connection, row["diff"]),
    )


async def build(request: Any, datasette: Any) -> Any:
    """One build: what went in, what the calculators say, what was run, found, and changed since the build before."""
    page = await page_request(datasette, request)
    row_id = await page.row_id("build")
    links, registry = page.links, page.registry
    found = await page.ask(build_page_of, registry, row_id)
    row, before = found.build, found.before
    runs = newest_of(found.runs, RUNS, "run")
    shelf = _shelf_of_last(found.shelf, row_id)
    of_build = [one for one in found.photos_of_diff if one.build == row_id]
    return await page.render(
        PAGE,
        row["label"],
        clashes=await clashes_here(page, "build", row_id),
        build=row,
        write=ways_to_write(page, *_forms_for(found, row_id)),
        inside=filling_block(links, row, built=_built(links, row), went=_went(found.runs)),
        leak=found.leak,
        verdict=oil_lost_word(row) if found.leak else "",
        word=shelf.word,
        why=shelf.why,
        note=row["note"],
        facts=fact_lines(links, found.facts),
        card=links.page(f"card/{row_id}"),
        label=links.page(f"label/{row_id}"),
        calculations=shown_calculations(links, registry, found.calculations),
        offered=offered_links(links, found.offered),
        before=links.record("builds", *before) if before else None,
        changes=build_differences(before[1], row["label"], found.differences) if before else None,
        compare=links.page("compare", a=f"{before[0]}", b=row_id) if before else links.page("compare", a=row_id),
        runs=run_blocks(links, runs.rows, build=False),
        more_runs=runs.rest(links, "what_worked", build=row_id, _sort_desc="run_on"),
        seals=seal_blocks(links, found.fittings),
        openings=opening_blocks(links, found.openings),
        dark_oil=dark_oil_note(found.openings),
        photographs=photograph_section(links.page, of_build, {"build": row_id}, of_diff=found.photos_of_diff),
    )


def _built(links: Linker, row: Row) -> Words:
    by = f"by {row['builder']}" if row["builder"] else ""
    return joined(
        links.record("diffs", row["diff"], row["diff_label"]), row["kind"], row["built_on"], by, dry_words(row)
    )


def _went(runs: list[Row]) -> str:
    """What was decided after its runs, by day; empty where nothing was."""
    decided = days_kept_of(runs)
    return f"how it went: {decided.words}" if decided.days else ""


class LastBuildWord(NamedTuple):
    """The shelf word of a diff on the page of its last build, with the reasons; both empty for another build."""

    word: Markup | str
    why: list[str]


def _forms_for(found: BuildPage, row_id: str) -> Iterator[FormOffered]:
    """What may be written of a build: more of the one that is in its diff now."""
    if found.shelf is not None and found.shelf["build"] == row_id and found.shelf["word"] != APART:
        yield "weigh it", "weigh", {"build": found.build["label"]}
        yield "open it", "opening", {"build": found.build["label"]}
    yield from photograph_form("photograph it", build=row_id)
    yield "correct it", f"record/build/{row_id}", {}


def _shelf_of_last(shelf: Row | None, build: str) -> LastBuildWord:
    """The shelf word for the page of a diff's last build, with its reasons except oil lost."""
    if shelf is None or shelf["build"] != build:
        return LastBuildWord("", [])
    return LastBuildWord(with_sign(shelf["word"]), list(reason_words(shelf, besides=OF_OIL_LOST)))


PAGE: Final = Page("build", build, ROW, shows="builds", in_copy=True)
