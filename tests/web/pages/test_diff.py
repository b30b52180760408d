"""What the page of a diff asks of the database."""

from __future__ import annotations

import re
import sqlite3
from pathlib import Path

from browser_team import site_over
from constructed import Add, Team

from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.store.opening import new_database, transaction
from bevelbook.store.writing import Writer
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


def test_the_chart_of_the_newest_build_is_drawn_and_that_of_the_earlier_ones_opens(
    tmp_path: Path, registry: Registry
) -> None:
    path = tmp_path / "team.db"
    writing = new_database(path)
    with transaction(writing, path):
        writer = Writer(writing, "ana")
        diff = writer.insert(BY_NAME["diff"], {"label": "rear-a"})
        for number in (1, 2, 3):
            made = {"label": f"rear-a/{number}", "diff": diff, "built_on": f"2026-05-0{number}", "oil_mass_g": 1.86}
            build = writer.insert(BY_NAME["build"], made)
            for runs in (0.0, 6.0):
                weighing = {"build": build, "weighed_on": f"2026-05-0{number}", "mass_g": 22.3, "runs": runs / 3}
                writer.insert(BY_NAME["weighing"], weighing)
    writing.close()
    with site_over(path, registry) as site:
        page = site.page(f"/team/-/diff/{diff}")
    shown, _, folded = page.partition("<summary>Mass lost by rear-a, earlier builds</summary>")
    drawn = ["rear-a/3" in shown.partition('class="narrow"')[2].partition("</svg>")[0]]
    drawn += [name in folded.partition('class="narrow"')[2].partition("</svg>")[0] for name in ("rear-a/2", "rear-a/1")]
    assert drawn == [True, True, True]
    assert shown.count('class="narrow"') == 1
    assert "rear-a/2" not in shown.partition('class="narrow"')[2].partition("</svg>")[0]
    numbers = re.findall(r">(\d+)</text>", shown.partition('class="narrow"')[2].partition("</svg>")[0])
    assert numbers == ["0", "1", "2"], "of the two runs each number once"
