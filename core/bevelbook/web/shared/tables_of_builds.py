"""The tables of builds, and of what was found in them: openings and seals."""

from __future__ import annotations

from collections.abc import Iterable

from bevelbook.facts.sql import Row
from bevelbook.reports.loss_said import loss_in_cell
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.page_table import PageTable, table
from bevelbook.web.shared.words import figure, oil, short


def builds_table(
    links: Linker, caption: str, rows: Iterable[Row], *, fluid: bool = True, diff: bool = False
) -> PageTable:
    """Builds as a table, newest first."""
    return table(
        caption,
        "Build|Oil lost|Day|Diff|What|Oil|#Dry [g]|#Oil [g]|#Runs|Lost|Feel|Opened|For|Leak|Note",
        (
            (
                links.record("builds", row["id"], row["label"]),
                with_sign(row["leak"] or ""),
                row["built_on"],
                links.record("diffs", row["diff"], row["diff_label"]) if diff else "",
                row["kind"],
                oil(row) if fluid else "",
                figure("dry_mass_g", row["dry_mass_g"]),
                figure("oil_in_g", row["oil_in_g"]),
                figure("runs", row["runs"]),
                loss_in_cell(row),
                row["hand_feel"],
                row["opened_on"],
                row["opened_for"],
                row["leak_place"],
                short(row["note"]),
            )
            for row in rows
        ),
    )


def openings_table(links: Linker, rows: list[Row]) -> PageTable:
    return table(
        "What was found when it was opened",
        "Day|Build|Why|Leak|How wet|Oil|Side gears|Small gears|Shafts|Cross pin|Bores|Seals|Screws|Note",
        (
            (
                links.record("openings", row["id"], row["opened_on"]),
                links.record("builds", row["build"], row["build_label"]),
                *(row[name] for name in ("reason", "leak_place", "leak_amount", "oil", "side_gears", "small_gears")),
                *(row[name] for name in ("shafts", "cross_pin", "bores", "seals", "screws")),
                short(row["note"]),
            )
            for row in rows
        ),
    )


def seals_table(links: Linker, rows: list[Row]) -> PageTable:
    return table(
        "Seals in it",
        "Place|Seal|New or used|State|Note",
        (
            (
                links.record("seal_fittings", row["id"], row["place"]),
                links.record("seals", row["seal"], row["seal_label"]),
                row["condition"],
                row["state"],
                short(row["note"]),
            )
            for row in rows
        ),
    )
