"""The page of runs without a call: the newest day first, remark first, and how many there are."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from browser_team import site_over
from conftest import FIXED_NOW
from constructed import Add, Team, adding

from bevelbook.plugin.registry import load
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer
from bevelbook.web.pages.calls import SHOWN, calls_page_of


def fill(add: Add) -> None:
    team = Team(add, usual_position="rear")
    build = team.build()
    for day, remark, call in ((3, "felt <planted>", None), (4, None, None), (5, "lazy", "keep")):
        run = add("run", label=f"run {day}", run_on=f"2026-05-0{day}", note=remark, call=call)
        add("run_diff", run=run, build=build)


def test_it_asks_for_the_newest_runs_that_have_no_call(connection: sqlite3.Connection, add: Add) -> None:
    fill(add)
    found = calls_page_of(connection)
    assert [(run.label, run.remark) for run in found.runs] == [("run 4", None), ("run 3", "felt <planted>")]
    assert found.runs[0].diffs[0].place == "rear, its usual place"
    for number in range(SHOWN):
        add("run", label=f"old {number}", run_on="2025-01-01")
    found = calls_page_of(connection)
    assert (len(found.runs), found.without_call) == (SHOWN, (SHOWN + 2, SHOWN + 2.0, False))
    add("run", label="of a note", run_on="2025-01-02", runs=5.0)
    assert calls_page_of(connection).without_call.words == "203 notes (207 runs) have no call"


def test_the_remark_comes_first_on_the_page(db: Path) -> None:
    connection = open_for_writing(db)
    with transaction(connection, db):
        fill(adding(Writer(connection, "ana", lambda: FIXED_NOW)))
    connection.close()
    with site_over(db, load(entry_points=())) as site:
        page = site.page(f"/{db.stem}/-/calls")
    assert "2 runs have no call." in page
    assert page.index("“felt &lt;planted&gt;”") < page.index("run 3")
    assert "lazy" not in page
