"""The page of a diff: its shelf word, builds, openings, masses, seals and runs."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.display.days import built_in_words
from bevelbook.display.diff_names import with_mark
from bevelbook.facts.diffs import APART
from bevelbook.facts.sql import Row
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.reports import questions
from bevelbook.reports.before_next_time_out import Job, jobs_on_shelf
from bevelbook.reports.dry_mass_findings import last_dry_mass_line
from bevelbook.reports.joined import also_written
from bevelbook.reports.mass_chart import masses_of_diff
from bevelbook.reports.photographs import Photograph, photographs_of_diff
from bevelbook.reports.pieces import PieceWithMotors, pieces_with_motors
from bevelbook.reports.shelf import all_words, shelf_row
from bevelbook.web.host.page import ROW, Page
from bevelbook.web.host.photographs_shown import photograph_section
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.blocks import ListedBlock, joined
from bevelbook.web.shared.blocks_of_builds import (
    build_blocks,
    dark_oil_note,
    filling_block,
    opening_blocks,
    seal_blocks,
)
from bevelbook.web.shared.blocks_of_pieces import piece_blocks
from bevelbook.web.shared.blocks_of_runs import run_blocks
from bevelbook.web.shared.clash_blocks import clashes_here
from bevelbook.web.shared.drawing import Drawn, drawn_meanwhile, masses_chart
from bevelbook.web.shared.job_lines import job_line
from bevelbook.web.shared.kept_results import shown_calculations
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.newest_of import newest_of
from bevelbook.web.shared.offered_calculators import OfferedHere, offered_for, offered_links
from bevelbook.web.shared.photograph_forms import photograph_form, photographs_of_pieces
from bevelbook.web.shared.record_facts import RecordFact, fact_lines, record_facts
from bevelbook.web.shared.request import PageRequest, page_request
from bevelbook.web.shared.writing_here import FormOffered, ways_to_write

BUILDS: Final = 6
PIECES: Final = 12
RUNS: Final = 6
OPENINGS: Final = 6
CHARTED_BUILDS: Final = 4


class DiffPage(NamedTuple):
    """What the page asks of the database; the seals are those of the newest build."""

    record: Row
    offered: list[OfferedHere]
    calculations: list[Row]
    shelf: Row | None
    facts: list[RecordFact]
    builds: list[Row]
    openings: list[Row]
    times_opened: questions.TimesOpened
    masses: list[Mapping[str, Any]]
    pieces: list[PieceWithMotors]
    fittings: list[Row]
    runs: list[Row]
    dry_mass: str
    jobs: list[Job]
    photos: list[Photograph]


def diff_page_of(connection: sqlite3.Connection, registry: Registry, row_id: str) -> DiffPage:
    """All that is known of a diff, by its id. Raises DatabaseError where its record cannot be read."""
    kind = BY_NAME["diff"]
    runs = questions.runs_of(connection, "diff", row_id, RUNS + 1)
    shelf = shelf_row(connection, row_id)
    builds = questions.builds_of(connection, "diff", row_id, BUILDS + 1)
    return DiffPage(
        record=questions.record(connection, kind, row_id),
        offered=offered_for(connection, registry, kind, row_id),
        calculations=questions.calculations_for(connection, kind, row_id),
        shelf=shelf,
        facts=record_facts(connection, kind, row_id),
        builds=builds,
        openings=questions.openings_of(connection, "diff", row_id, OPENINGS),
        times_opened=questions.times_opened(connection, row_id),
        masses=masses_of_diff(connection, row_id, CHARTED_BUILDS),
        pieces=pieces_with_motors(connection, row_id),
        fittings=questions.fittings_of(connection, builds[0]["id"]) if builds else [],
        runs=runs,
        dry_mass=last_dry_mass_line(connection, builds[0]["id"]) if builds else "",
        jobs=jobs_on_shelf(connection, [shelf] if shelf else []),
        photos=photographs_of_diff(connection, row_id),
    )


async def diff(request: Any, datasette: Any) -> Any:
    """One diff: its shelf word, builds, openings, masses, seals and runs."""
    page = await page_request(datasette, request)
    row_id = await page.row_id("diff")
    links = page.links
    found = await page.ask(diff_page_of, page.registry, row_id)
    label = found.record["label"]
    newest = found.builds[0] if found.builds else None
    newest_masses = _of_newest(found.masses)
    runs, builds = newest_of(found.runs, RUNS, "run"), newest_of(found.builds, BUILDS)
    return await page.render(
        PAGE,
        with_mark(label, found.record["mark"]),
        clashes=await clashes_here(page, "diff", row_id),
        also_written=await page.ask(also_written, BY_NAME["diff"], row_id),
        write=ways_to_write(page, *_forms_for(found, row_id)),
        label=links.page(f"label/{newest['id']}") if newest else "",
        word=with_sign(found.shelf["word"]) if found.shelf else "",
        why=list(all_words(found.shelf)) if found.shelf else [],
        offered=offered_links(links, found.offered),
        calculations=shown_calculations(links, page.registry, found.calculations),
        inside=_inside(links, newest, found.dry_mass) if newest else None,
        jobs=[job_line(links, job) for job in found.jobs],
        facts=fact_lines(links, found.facts),
        note=found.record["note"],
        chart_of_masses=await drawn_meanwhile(masses_chart(label), page.registry, newest_masses),
        earlier_masses=await _earlier_chart(page, label, found.masses[len(newest_masses) :]),
        runs=run_blocks(links, runs.rows),
        more_runs=runs.rest(links, "what_worked", diff=label, _sort_desc="run_on"),
        builds=build_blocks(links, builds.rows),
        more_builds=builds.rest(links, "builds", diff=row_id, _sort_desc="built_on"),
        openings=opening_blocks(links, found.openings),
        opened=found.times_opened.in_words,
        about_openings=" ".join((dark_oil_note(found.openings), _earlier(found.times_opened.times))).strip(),
        seals=seal_blocks(links, found.fittings),
        photographs=photograph_section(links.page, found.photos, {"diff": label}, of_diff=found.photos),
        pieces=piece_blocks(links, found.pieces[:PIECES], photographs_of_pieces(page, row_id, found.photos)),
        more_pieces=_more_pieces(len(found.pieces) - PIECES),
    )


def _of_newest(masses: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """The rows of the chart that are of the newest build in it."""
    return [row for row in masses if row["panel_order"] == masses[0]["panel_order"]]


async def _earlier_chart(page: PageRequest, label: str, earlier: Sequence[Mapping[str, Any]]) -> Drawn | None:
    """The chart of the builds before, which opens on request; None where none was weighed twice."""
    if not earlier:
        return None
    return await drawn_meanwhile(masses_chart(f"{label}, earlier builds"), page.registry, earlier)


def _forms_for(found: DiffPage, row_id: str) -> Iterator[FormOffered]:
    """What may be written of a diff; one that is apart cannot be opened."""
    label = found.record["label"]
    yield "weigh it", "weigh", {"build": label}
    if found.shelf is not None and found.shelf["word"] != APART:
        yield "open it", "opening", {"build": label}
    yield "to the bench", "bench", {"diff": label}
    if found.builds:
        yield from photograph_form("photograph it", build=found.builds[0]["id"])
    yield "note an idea", "idea", {}
    yield "correct it", f"record/diff/{row_id}", {}


def _inside(links: Linker, newest: Row, dry_mass: str) -> ListedBlock:
    built = joined(links.record("builds", newest["id"], newest["label"]), built_in_words(newest["built_on"]))
    return filling_block(links, newest, built=built, dry=dry_mass)


def _earlier(times_opened: int) -> str:
    return f"The newest {OPENINGS} of {times_opened} are shown." if times_opened > OPENINGS else ""


def _more_pieces(count: int) -> str:
    return f"{counted(count, 'earlier piece')} left out." if count > 0 else ""


PAGE: Final = Page("diff", diff, ROW, shows="diffs", in_copy=True)
