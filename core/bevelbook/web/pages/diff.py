"""The page of a diff: its shelf word, builds, openings, masses, seals and runs."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any, Final

from bevelbook.facts.parts import parts_of_build
from bevelbook.records import BY_NAME
from bevelbook.reports import questions
from bevelbook.reports.mass_chart import masses_of_diff
from bevelbook.reports.shelf import all_words, shelf_row
from bevelbook.web.host.page import ROW, Page
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.drawing import drawn_masses
from bevelbook.web.shared.offered import offered_for
from bevelbook.web.shared.page_table import table
from bevelbook.web.shared.record_facts import facts_of
from bevelbook.web.shared.request import page_request
from bevelbook.web.shared.sentences import build_words
from bevelbook.web.shared.tables_of_builds import builds_table, openings_table, seals_table
from bevelbook.web.shared.tables_of_runs import runs_table

BUILDS: Final = 40
RUNS: Final = 40
CHARTED_BUILDS: Final = 4


async def diff(request: Any, datasette: Any) -> Any:
    """One diff: where it stands, its builds, openings, masses, seals and runs."""
    page = await page_request(datasette, request)
    row_id = await page.row_id("diff")
    links = page.links

    def gather(connection: sqlite3.Connection) -> dict[str, Any]:
        runs = questions.runs_of(connection, "diff", row_id, RUNS)
        builds = questions.builds_of(connection, "diff", row_id, BUILDS)
        return {
            "diff": questions.record(connection, BY_NAME["diff"], row_id),
            "offered": offered_for(connection, links, page.registry, BY_NAME["diff"], row_id),
            "shelf": shelf_row(connection, row_id),
            "facts": facts_of(connection, links, BY_NAME["diff"], row_id),
            "builds": builds,
            "openings": questions.openings_of(connection, "diff", row_id),
            "masses": masses_of_diff(connection, row_id, CHARTED_BUILDS),
            "parts": parts_of_build(connection, builds[0]["id"]) if builds else [],
            "fittings": questions.fittings_of(connection, builds[0]["id"]) if builds else [],
            "runs": runs,
        }

    found = await page.ask(gather)
    label = found["diff"]["label"]
    newest = found["builds"][0] if found["builds"] else None
    return await page.render(
        PAGE,
        label,
        word=with_sign(found["shelf"]["word"]) if found["shelf"] else "",
        why=list(all_words(found["shelf"])) if found["shelf"] else [],
        offered=found["offered"],
        newest=newest,
        newest_words=build_words(links, newest) if newest else None,
        facts=found["facts"],
        note=found["diff"]["note"],
        chart_of_masses=drawn_masses(label, page.registry, found["masses"]),
        tables=[
            builds_table(links, "Builds", found["builds"]),
            openings_table(links, found["openings"]),
            seals_table(links, found["fittings"]),
            table("Runs of its parts", "Part|Place|Mark|Since new|#Builds|#Runs", _part_cells(found["parts"])),
            runs_table(links, "Runs", found["runs"], venue=True),
        ],
    )


def _part_cells(parts: list[Any]) -> Iterator[tuple[Any, ...]]:
    for one in parts:
        place = "" if one.place == "not said" else one.place
        yield one.part, place, one.mark, "yes" if one.from_new else "not known", str(one.uses), f"{one.runs:g}"


PAGE: Final = Page("diff", diff, ROW, shows="diffs")
