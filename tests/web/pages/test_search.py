"""What the search page asks of the database."""

from __future__ import annotations

import sqlite3

from constructed import Add, Team

from bevelbook.plugin.registry import Registry
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
    assert search_page_of(connection, registry, "") == ([], {}, {}, [])


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
