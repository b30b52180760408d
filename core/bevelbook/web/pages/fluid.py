"""The page of a fluid: its viscosity with the source, its bottles, the builds with it."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.coverage import COVERAGE_K, WITH_K
from bevelbook.facts.bottles_left import BottleLeft, left_in
from bevelbook.facts.sql import Row
from bevelbook.formulas.thick_oils import thick_oil_cautions
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.reports import questions
from bevelbook.reports.joined import also_written
from bevelbook.web.host.page import ROW, Page
from bevelbook.web.shared.blocks import ListedBlock, block, joined
from bevelbook.web.shared.blocks_of_builds import build_blocks
from bevelbook.web.shared.clash_blocks import clashes_here
from bevelbook.web.shared.figures import figure
from bevelbook.web.shared.kept_results import shown_calculations
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.newest_of import newest_of
from bevelbook.web.shared.offered_calculators import OfferedHere, offered_for, offered_links
from bevelbook.web.shared.record_facts import RecordFact, fact_lines, record_facts
from bevelbook.web.shared.request import page_request
from bevelbook.web.shared.short_text import short
from bevelbook.web.shared.writing_here import ways_to_write

BUILDS: Final = 12


class FluidPage(NamedTuple):
    """What the page asks of the database."""

    record: Row
    offered: list[OfferedHere]
    calculations: list[Row]
    facts: list[RecordFact]
    bottles: list[Row]
    left: dict[str, BottleLeft]
    builds: list[Row]


def fluid_page_of(connection: sqlite3.Connection, registry: Registry, row_id: str) -> FluidPage:
    """All that is known of a fluid, by its id. Raises DatabaseError where its record cannot be read."""
    kind = BY_NAME["fluid"]
    return FluidPage(
        record=questions.record(connection, kind, row_id),
        offered=offered_for(connection, registry, kind, row_id),
        calculations=questions.calculations_for(connection, kind, row_id),
        facts=record_facts(connection, kind, row_id),
        bottles=questions.bottles_of(connection, row_id),
        left=left_in(connection),
        builds=questions.builds_of(connection, "fluid", row_id, BUILDS + 1),
    )


async def fluid(request: Any, datasette: Any) -> Any:
    """One fluid: its cSt with the source, its bottles with own measurements, the builds with it."""
    page = await page_request(datasette, request)
    row_id = await page.row_id("fluid")
    links = page.links
    found = await page.ask(fluid_page_of, page.registry, row_id)
    row = found.record
    builds = newest_of(found.builds, BUILDS)
    return await page.render(
        PAGE,
        row["label"],
        clashes=await clashes_here(page, "fluid", row_id),
        also_written=await page.ask(also_written, BY_NAME["fluid"], row_id),
        write=ways_to_write(
            page,
            ("compare it with another", "comparison", {"thicker": row["label"]}),
            ("correct it", f"record/fluid/{row_id}", {}),
        ),
        lead=_viscosity_words(row),
        thick=thick_oil_cautions(row["viscosity_cst"] or 0.0),
        facts=fact_lines(links, found.facts),
        note=row["note"],
        offered=offered_links(links, found.offered),
        calculations=shown_calculations(links, page.registry, found.calculations),
        bottles=_bottle_blocks(links, found.bottles, found.left),
        builds=build_blocks(links, builds.rows, fluid=False),
        more_builds=builds.rest(links, "builds", fluid=row_id, _sort_desc="built_on"),
    )


def _viscosity_words(row: Row) -> str:
    if row["viscosity_cst"] is None:
        return "No viscosity is known: the label alone says nothing in cSt."
    source = row["viscosity_source"] or "source not recorded"
    return f"{figure('viscosity_cst', row['viscosity_cst'], unit=True)} at 25 °C ({short(source, 120)})"


def _bottle_blocks(links: Linker, rows: list[Row], left: Mapping[str, BottleLeft]) -> list[ListedBlock]:
    """The bottles, each with what is left in it, its own measurement, how it was taken, and the builds from it."""
    return [
        block(
            links.record("bottles", row["id"], row["lot"] or "no lot"),
            _measured(row),
            left[row["id"]].words if row["id"] in left and left[row["id"]].is_known else "",
            joined(f"measured {row['measured_on']}" if row["measured_on"] else "", short(row["method"])),
            f"density {figure('density_g_cm3', row['density_g_cm3'], unit=True)}" if row["density_g_cm3"] else "",
            short(row["note"]),
            quiet=joined(
                f"opened {row['opened_on']}" if row["opened_on"] else "",
                counted(row["builds"], "build"),
                "used up" if row["empty"] == "yes" else "",
            ),
        )
        for row in rows
    ]


def _measured(row: Row) -> str:
    if row["viscosity_cst"] is None:
        return "not measured"
    spread = row["viscosity_uncertainty_cst"]
    wide = "" if spread is None else f" ± {figure('viscosity_cst', COVERAGE_K * spread)} {WITH_K}"
    return f"{figure('viscosity_cst', row['viscosity_cst'])}{wide} cSt"


PAGE: Final = Page("fluid", fluid, ROW, shows="fluids", in_copy=True)
