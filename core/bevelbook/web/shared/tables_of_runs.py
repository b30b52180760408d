"""The table of runs."""

from __future__ import annotations

from collections.abc import Iterable
from operator import itemgetter

from bevelbook.facts.places import place_words
from bevelbook.facts.sql import Row
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.figures import figure
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.oil_words import oil
from bevelbook.web.shared.page_table import PageColumn, PageTable, page_table
from bevelbook.web.shared.short_text import short


def runs_table(links: Linker, caption: str, rows: Iterable[Row], *, venue: bool) -> PageTable:
    """Runs as a table; what is not known to be full says so, and how long ago it was open."""
    columns: tuple[PageColumn[Row], ...] = (
        PageColumn("Day", lambda row: links.record("runs", row["run"], row["run_on"])),
        PageColumn("Venue", lambda row: links.record("venues", row["venue"], row["venue_name"]) if venue else ""),
        PageColumn("Grip", itemgetter("grip")),
        PageColumn("Track [°C]", lambda row: figure("track_temp_c", row["track_temp_c"]), numeric=True),
        PageColumn("Diff [°C]", lambda row: figure("diff_temp_c", row["diff_temp_c"]), numeric=True),
        PageColumn("Place", lambda row: place_words(row["place"], row["place_from"])),
        PageColumn("Build", lambda row: links.record("builds", row["build"], row["build_label"])),
        PageColumn("Oil", lambda row: oil(row) if row["build"] else ""),
        PageColumn("Runs", lambda row: figure("runs", row["runs"]), numeric=True),
        PageColumn("Best five [s]", lambda row: figure("best_five_s", row["best_five_s"]), numeric=True),
        PageColumn("Call", itemgetter("call")),
        PageColumn("Full?", lambda row: with_sign(row["fill_state"] or "")),
        PageColumn("Runs since opened", lambda row: figure("runs", row["runs_before"]), numeric=True),
        PageColumn("Note", lambda row: short(row["note"] or row["happened"])),
    )
    return page_table(caption, columns, rows)
