"""What the search page asks of the database."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from browser_team import make_team, site_over
from constructed import Add, Team

from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.record_names import name_of, names_of
from bevelbook.store.writing import Writer
from bevelbook.web.pages.search import search_page_of


def test_search_finds_rows_with_the_words_and_calculators_that_speak_of_them(
    connection: sqlite3.Connection, registry: Registry, team: Team
) -> None:
    build = team.build(note="quince on the shaft")
    team.build(note="nothing to say")
    found = search_page_of(connection, registry, "quin")
    assert [(hit.kind.name, hit.row_id, hit.name) for hit in found.hits] == [("build", build, "rear-a/1")]
    assert found.calculators == []
    assert [row["built_on"] for row in found.builds.values()] == ["2026-01-02"]
    speaking = search_page_of(connection, registry, "POURING").calculators
    assert "fill-target" in [one.name for one in speaking]
    assert [one.title for one in speaking] == sorted(one.title for one in speaking)


def test_no_words_find_nothing(connection: sqlite3.Connection, registry: Registry, team: Team) -> None:
    team.build(note="quince")
    assert search_page_of(connection, registry, "") == ([], {}, {}, {}, [])


def test_a_run_that_is_found_comes_with_what_is_needed_to_choose(
    connection: sqlite3.Connection, registry: Registry, add: Add, team: Team
) -> None:
    build = team.build(viscosity_cst=7000.0)
    with_diff = add("run", label="2026-05-03/1", run_on="2026-05-03", note="loose on the sweeper", call="keep")
    add("run_diff", run=with_diff, build=build, position="rear")
    without = add("run", label="2026-05-03/2", run_on="2026-05-03", note="loose again")
    found = search_page_of(connection, registry, "loose")
    assert {run: [(row["build"], row["place"]) for row in rows] for run, rows in found.runs.items()} == {
        with_diff: [(build, "rear")],
        without: [(None, None)],
    }


def test_a_weighing_and_an_opening_lead_to_their_place_on_the_page_of_their_build(
    tmp_path: Path, registry: Registry
) -> None:
    made = make_team(tmp_path / "team.db")
    writing = open_for_writing(made.path)
    with transaction(writing, made.path):
        build = writing.execute("SELECT id FROM builds WHERE label = 'rear-a/1'").fetchone()[0]
        writer = Writer(writing, "ana")
        writer.insert(BY_NAME["opening"], {"build": build, "opened_on": "2026-05-01", "note": "quince smell"})
        for day in ("2026-04-29", "2026-04-30"):
            weighing = {"build": build, "weighed_on": day, "mass_g": 14.1, "note": "quince on it"}
            last = writer.insert(BY_NAME["weighing"], weighing)
        number = (name_of(writing, BY_NAME["weighing"], last) or "").removeprefix("rear-a/1#")
    writing.close()
    with site_over(made.path, registry) as site:
        found, page = site.page("/team/-/search?q=quince"), site.page(f"/team/-/build/{build}")
        table, row = site.page("/team/weighings"), site.page(f"/team/weighings/{last}")
    assert found.count(f'href="/team/-/build/{build}#oil-lost"') == 2
    assert f'href="/team/-/build/{build}#openings">opening of rear-a/1' in found
    assert 'id="openings"' in page
    assert f'href="/team/weighings/{last}">rear-a/1#{number}</a>' in table
    assert f"Weighing rear-a/1#{number}</h1>" in row


def test_the_names_of_a_page_are_those_of_its_records_one_by_one_and_cost_no_more_questions(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    asked: list[str] = []
    builds = [team.build(), team.build()]
    kind = BY_NAME["weighing"]
    ids = [add("weighing", build=build, weighed_on="2026-05-01", mass_g=14.0) for build in builds * 20]
    one_by_one = {row_id: name_of(connection, kind, row_id) for row_id in ids}
    connection.set_trace_callback(asked.append)
    assert names_of(connection, kind, ids) == one_by_one
    connection.set_trace_callback(None)
    assert len(set(one_by_one.values())) == len(ids)
    assert len(asked) < 10
