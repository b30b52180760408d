"""The page of a fluid: its viscosity with the source, its bottles, the builds with it."""

from __future__ import annotations

import sqlite3
from operator import itemgetter
from typing import Any, Final, NamedTuple

from bevelbook.declare.coverage import COVERAGE_K, WITH_K
from bevelbook.facts.sql import Row
from bevelbook.formulas.thick_oils import thick_oil_cautions
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.reports import questions
from bevelbook.web.host.page import ROW, Page
from bevelbook.web.shared.figures import figure
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.offered_calculators import OfferedHere, offered_for, offered_links
from bevelbook.web.shared.page_table import PageColumn, PageTable, page_table
from bevelbook.web.shared.record_facts import RecordFact, fact_lines, record_facts
from bevelbook.web.shared.request import page_request
from bevelbook.web.shared.short_text import short
from bevelbook.web.shared.tables_of_builds import builds_table

BUILDS: Final = 40


class FluidPage(NamedTuple):
    """What the page asks of the database."""

    record: Row
    offered: list[OfferedHere]
    facts: list[RecordFact]
    bottles: list[Row]
    builds: list[Row]


def fluid_page_of(connection: sqlite3.Connection, registry: Registry, row_id: str) -> FluidPage:
    """All that is known of a fluid, by its id. Raises DatabaseError where its record cannot be read."""
    kind = BY_NAME["fluid"]
    return FluidPage(
        record=questions.record(connection, kind, row_id),
        offered=offered_for(connection, registry, kind, row_id),
        facts=record_facts(connection, kind, row_id),
        bottles=questions.bottles_of(connection, row_id),
        builds=questions.builds_of(connection, "fluid", row_id, BUILDS),
    )


async def fluid(request: Any, datasette: Any) -> Any:
    """One fluid: its cSt with the source, its bottles with own measurements, the builds with it."""
    page = await page_request(datasette, request)
    row_id = await page.row_id("fluid")
    links = page.links
    found = await page.ask(fluid_page_of, page.registry, row_id)
    row = found.record
    return await page.render(
        PAGE,
        row["label"],
        lead=_viscosity_words(row),
        thick=thick_oil_cautions(row["viscosity_cst"] or 0.0),
        facts=fact_lines(links, found.facts),
        note=row["note"],
        offered=offered_links(links, found.offered),
        tables=[
            _bottles_table(links, found.bottles),
            builds_table(links, "Builds with it", found.builds, fluid=False, diff=True),
        ],
    )


def _viscosity_words(row: Row) -> str:
    if row["viscosity_cst"] is None:
        return "No viscosity is known: the label alone says nothing in cSt."
    source = row["viscosity_source"] or "source not recorded"
    return f"{figure('viscosity_cst', row['viscosity_cst'], unit=True)} at 25 °C ({short(source, 120)})"


def _bottles_table(links: Linker, rows: list[Row]) -> PageTable:
    columns: tuple[PageColumn[Row], ...] = (
        PageColumn("Bottle", lambda row: links.record("bottles", row["id"], row["lot"] or "no lot")),
        PageColumn("Opened", itemgetter("opened_on")),
        PageColumn("Own measurement [cSt]", lambda row: figure("viscosity_cst", row["viscosity_cst"]), numeric=True),
        PageColumn(f"± {WITH_K}", lambda row: _half_width(row["viscosity_uncertainty_cst"]), numeric=True),
        PageColumn("Measured", itemgetter("measured_on")),
        PageColumn("How", lambda row: short(row["method"])),
        PageColumn("Density [g/cm³]", lambda row: figure("density_g_cm3", row["density_g_cm3"]), numeric=True),
        PageColumn("Builds", lambda row: str(row["builds"]), numeric=True),
        PageColumn("Used up", itemgetter("empty")),
        PageColumn("Note", lambda row: short(row["note"])),
    )
    return page_table("Bottles", columns, rows)


def _half_width(uncertainty_cst: float | None) -> str:
    return figure("viscosity_cst", None if uncertainty_cst is None else COVERAGE_K * uncertainty_cst)


PAGE: Final = Page("fluid", fluid, ROW, shows="fluids")
