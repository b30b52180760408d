"""What the page of a diff asks of the database."""

from __future__ import annotations

import sqlite3

from constructed import Add, Team

from bevelbook.plugin.registry import Registry
from bevelbook.web.pages.diff import diff_page_of


def test_the_page_of_a_diff_knows_its_builds_weighings_openings_seals_and_runs(
    connection: sqlite3.Connection, registry: Registry, add: Add, team: Team
) -> None:
    first = team.build(oil_mass_g=1.86)
    team.weigh(first, (0.0, 22.40), (4.0, 22.38))
    team.run(first, "2026-02-02", runs=4.0)
    opened = team.open(first, day="2026-02-20", oil="grey")
    second = team.build(built_on="2026-02-21")
    ring = add("seal", label="shaft ring")
    fitting = add("seal_fitting", build=second, place="case-side shaft", seal=ring, condition="new")
    found = diff_page_of(connection, registry, team.diff)
    assert found.record["label"] == "rear-a"
    assert [build["id"] for build in found.builds] == [second, first], "the newest first"
    assert found.shelf is not None
    assert found.shelf["build"] == second
    assert [job.words for job in found.jobs] == ["weigh rear-a (how much oil is in it is not known)"]
    assert [opening["id"] for opening in found.openings] == [opened]
    assert found.times_opened.times == 1
    assert [(row["build_label"], row["mass_g"]) for row in found.masses] == [("rear-a/1", 22.4), ("rear-a/1", 22.38)]
    assert [row["id"] for row in found.fittings] == [fitting], "those of the newest build"
    assert [one.piece.part for one in found.pieces]
    assert [(run["run_on"], run["runs"]) for run in found.runs] == [("2026-02-02", 4.0)]


def test_a_diff_that_was_never_built_has_a_page(connection: sqlite3.Connection, registry: Registry, add: Add) -> None:
    diff = add("diff", label="spare", usual_position="rear", mark="two yellow dots")
    found = diff_page_of(connection, registry, diff)
    assert (found.builds, found.masses, found.pieces, found.fittings, found.runs) == ([], [], [], [], [])
    assert [(fact.words, fact.value) for fact in found.facts] == [
        ("Mark", "two yellow dots"),
        ("Usual position", "rear"),
    ]
    assert found.shelf is not None
    assert found.shelf["mark"] == "two yellow dots"
