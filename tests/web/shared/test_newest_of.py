"""A long list on a page shows the newest rows, says so, and leads to all of them."""

from __future__ import annotations

import html
import re
from pathlib import Path

from browser_team import site_over
from constructed import Team, adding

from bevelbook.plugin.registry import Registry
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer
from bevelbook.web.pages import diff, venue


def test_a_list_that_is_cut_says_so_and_leads_to_the_rest(db: Path, registry: Registry) -> None:
    """A run has two diffs, and the list is cut between them: the run is left to the table, not halved."""
    runs = venue.RUNS // 2 + 2
    connection = open_for_writing(db)
    with transaction(connection, db):
        add = adding(Writer(connection, "ana"))
        hall = add("venue", name="Tannery Hall")
        places = {"front": Team(add, "front-a"), "rear": Team(add, "rear-a")}
        builds = {place: team.build() for place, team in places.items()}
        for number in range(1, runs + 1):
            run = add("run", label=f"run {number}", run_on=f"2026-03-{number:02}", venue=hall)
            for place, build in builds.items():
                add("run_diff", run=run, build=build, position=place)
    connection.close()
    with site_over(db, registry) as site:
        page = site.page(f"/{db.stem}/-/venue/{hall}")
        assert page.count('<p class="head">oil not recorded, front<br>oil not recorded, rear</p>') == venue.RUNS // 2
        link = re.search(r'The newest are shown; <a href="([^"]+)">the table has all</a>', page)
        assert link
        assert f"{runs} rows" in site.page(html.unescape(link[1]))
        of_diff = site.page(f"/{db.stem}/-/diff/{places['rear'].diff}")
        assert ("The newest are shown" in of_diff) is (runs > diff.RUNS)
