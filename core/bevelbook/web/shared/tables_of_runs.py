"""The table of runs."""

from __future__ import annotations

from collections.abc import Iterable

from bevelbook.facts.sql import Row
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.page_table import PageTable, table
from bevelbook.web.shared.words import figure, oil, short


def runs_table(links: Linker, caption: str, rows: Iterable[Row], *, venue: bool) -> PageTable:
    """Runs as a table; what is not known to be full says so, and how long ago it was open."""
    return table(
        caption,
        "Day|Venue|Grip|#Track [°C]|#Diff [°C]|Place|Build|Oil|#Runs|#Best five [s]|Call|Full?|#Runs since opened|Note",
        (
            (
                links.record("runs", row["run"], row["run_on"]),
                links.record("venues", row["venue"], row["venue_name"]) if venue else "",
                row["grip"],
                figure("track_temp_c", row["track_temp_c"]),
                figure("diff_temp_c", row["diff_temp_c"]),
                row["position"],
                links.record("builds", row["build"], row["build_label"]),
                oil(row) if row["build"] else "",
                figure("runs", row["runs"]),
                figure("best_five_s", row["best_five_s"]),
                row["call"],
                with_sign(row["fill_state"] or ""),
                figure("runs", row["runs_before"]),
                short(row["note"] or row["happened"]),
            )
            for row in rows
        ),
    )
