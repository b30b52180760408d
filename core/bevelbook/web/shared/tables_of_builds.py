"""The tables of builds, and of what was found in them: openings and seals."""

from __future__ import annotations

from collections.abc import Iterable
from operator import itemgetter

from bevelbook.facts.sql import Row
from bevelbook.physics.suspension import dark_oil_words
from bevelbook.reports.oil_lost_line import loss_in_cell
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.figures import figure
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.oil_words import oil
from bevelbook.web.shared.page_table import PageColumn, PageTable, page_table
from bevelbook.web.shared.short_text import short


def builds_table(
    links: Linker, caption: str, rows: Iterable[Row], *, fluid: bool = True, diff: bool = False
) -> PageTable:
    """Builds as a table, newest first."""
    columns: tuple[PageColumn[Row], ...] = (
        PageColumn("Build", lambda row: links.record("builds", row["id"], row["label"])),
        PageColumn("Oil lost", lambda row: with_sign(row["leak"] or "")),
        PageColumn("Day", itemgetter("built_on")),
        PageColumn("Diff", lambda row: links.record("diffs", row["diff"], row["diff_label"]) if diff else ""),
        PageColumn("What", itemgetter("kind")),
        PageColumn("Oil", lambda row: oil(row) if fluid else ""),
        PageColumn("Dry [g]", lambda row: figure("dry_mass_g", row["dry_mass_g"]), numeric=True),
        PageColumn("Oil [g]", lambda row: figure("oil_in_g", row["oil_in_g"]), numeric=True),
        PageColumn("Runs", lambda row: figure("runs", row["runs"]), numeric=True),
        PageColumn("Lost", loss_in_cell),
        PageColumn("Feel", itemgetter("hand_feel")),
        PageColumn("Opened", itemgetter("opened_on")),
        PageColumn("For", itemgetter("opened_for")),
        PageColumn("Leak", itemgetter("leak_place")),
        PageColumn("Note", lambda row: short(row["note"])),
    )
    return page_table(caption, columns, rows)


def openings_table(links: Linker, rows: list[Row]) -> PageTable:
    columns: tuple[PageColumn[Row], ...] = (
        PageColumn("Day", lambda row: links.record("openings", row["id"], row["opened_on"])),
        PageColumn("Build", lambda row: links.record("builds", row["build"], row["build_label"])),
        PageColumn("Why", itemgetter("reason")),
        PageColumn("Leak", itemgetter("leak_place")),
        PageColumn("How wet", itemgetter("leak_amount")),
        PageColumn("Oil", itemgetter("oil")),
        PageColumn("Side gears", itemgetter("side_gears")),
        PageColumn("Small gears", itemgetter("small_gears")),
        PageColumn("Shafts", itemgetter("shafts")),
        PageColumn("Cross pin", itemgetter("cross_pin")),
        PageColumn("Bores", itemgetter("bores")),
        PageColumn("Seals", itemgetter("seals")),
        PageColumn("Screws", itemgetter("screws")),
        PageColumn("Note", lambda row: short(row["note"])),
    )
    dark = next((words for row in rows if (words := dark_oil_words(row["oil"]))), "")
    return page_table("What was found when it was opened", columns, rows)._replace(note=dark[:1].upper() + dark[1:])


def seals_table(links: Linker, rows: list[Row]) -> PageTable:
    columns: tuple[PageColumn[Row], ...] = (
        PageColumn("Place", lambda row: links.record("seal_fittings", row["id"], row["place"])),
        PageColumn("Seal", lambda row: links.record("seals", row["seal"], row["seal_label"])),
        PageColumn("New or used", itemgetter("condition")),
        PageColumn("State", itemgetter("state")),
        PageColumn("Note", lambda row: short(row["note"])),
    )
    return page_table("Seals in it", columns, rows)
