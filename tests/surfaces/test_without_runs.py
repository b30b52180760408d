"""Two masses of a build with no runs between them, further apart than the scale explains: said wherever a loss is.

All data are constructed: 14.26 g when it was filled, 13.96 g with no run since. A pocket scale of 0.01 g that scatters
by 0.005 g explains 3 sqrt(2 (0.01² / 12 + 0.005²)) = 0.024 g (JCGM 100:2008, F.2.2.1; three standard uncertainties are
our own figure).
"""

from __future__ import annotations

import html
import re
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from browser_team import site_over
from conftest import Outcome
from constructed import Add, Team

from bevelbook.facts.kept_facts import facts_of
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.records.facts import BuildFacts
from bevelbook.store.lookup import find_id
from bevelbook.store.opened_to_read import open_for_reading

Run = Callable[..., Outcome]
SAID = "two weighings at 0 runs are 0.30 g apart: weigh again"


@pytest.fixture
def team(bevelbook: Run) -> Run:
    """A diff with one build, filled and never run, weighed on a scale that is known."""
    bevelbook("new")
    bevelbook("record", "scale", "name=pocket", "step=0.01", "repeatability=0.005", "day_to_day=0")
    bevelbook("record", "diff", "label=rear-a", "housing_material=aluminium")
    masses = ("dry_mass=12.40g", "oil_mass=1.86g", "filled_mass=14.26g", "mass_basis=open half")
    bevelbook("record", "build", "diff=rear-a", "built_on=2026-05-01", *masses, "scale=pocket")
    return bevelbook


def weigh(bevelbook: Run, mass_g: float, runs: int = 0) -> Outcome:
    where = ("build=rear-a/1", f"runs={runs}", f"mass={mass_g}g", "mass_basis=open half", "scale=pocket")
    return bevelbook("record", "weighing", *where, "--json")


def test_it_is_said_at_once_in_the_check_by_the_calculator_and_on_the_pages(
    team: Run, registry: Registry, tmp_path: Path
) -> None:
    written = weigh(team, 13.96).json
    assert [(one["build"], one["verdict"], one["loss_g"], one["reasons"]) for one in written["weighings_say"]] == [
        ("rear-a/1", "unclear", 0.3, [SAID])
    ]
    assert [(one["before"], one["after"], one["why"]) for one in written["shelf"]] == [("ready", "weigh it", [SAID])]
    assert written["hints"] == []
    (group,) = team("check", "--json").json["diffs"]
    (one,) = group["findings"]
    assert (one["code"], one["severity"], one["words"]) == ("weighings_apart", "worth a look", SAID)
    assert one["remedy"].startswith("Weigh it again, wiped, with the same parts on the scale.")
    outcome = team("calc", "leak-trend", "--for", "rear-a/1")
    assert (outcome.code, outcome.out.splitlines()[1]) == (0, f"unclear: {SAID}")
    path = tmp_path / "bevelbook.db"
    connection = open_for_reading(path)
    ids = {
        name: find_id(connection, BY_NAME[name], label)
        for name, label in {"build": "rear-a/1", "diff": "rear-a"}.items()
    }
    connection.close()
    with site_over(path, registry) as site:
        home = " ".join(html.unescape(re.sub(r"<[^>]*>", " ", site.page("/"))).split())
        assert SAID.removesuffix(": weigh again") in home
        assert "Weigh rear-a (" in home
        for page in (f"/bevelbook/-/{name}/{row_id}" for name, row_id in ids.items()):
            shown = " ".join(html.unescape(re.sub(r"<[^>]*>", " ", site.page(page))).split())
            assert SAID in shown or SAID.capitalize() in shown, page


def test_what_the_scale_explains_is_not_said(team: Run) -> None:
    written = weigh(team, 14.25).json
    assert (written["weighings_say"], written["shelf"]) == ([], [])
    (group,) = team("check", "--json").json["diffs"]
    assert group["findings"] == []


def test_a_misread_mass_that_is_corrected_is_forgotten(team: Run) -> None:
    slip = weigh(team, 13.96).json["id"]
    mended = team("record", "weighing", slip, "mass=14.26g", "--json").json
    assert [(one["before"], one["after"]) for one in mended["shelf"]] == [("weigh it", "ready")]


def test_runs_after_it_make_a_loss_of_it_and_the_two_are_still_named(team: Run) -> None:
    """0.30 g of 1.86 g, by the heavier of the two: over 0.186 g."""
    weigh(team, 13.96)
    written = weigh(team, 13.96, runs=4).json
    (said,) = written["weighings_say"]
    assert (said["verdict"], said["loss_g"]) == ("stop", 0.3)
    assert "two weighings at 0 runs are 0.30 g apart: the heavier one counts, weigh again" in said["reasons"]
    (group,) = team("check", "--json").json["diffs"]
    assert "two weighings at 0 runs are 0.30 g apart: the heavier one counts" in group["findings"][0]["words"]


def test_a_sound_build_with_two_such_weighings_has_a_finding(team: Run) -> None:
    """0.04 g apart after four runs: the lighter one is 0.05 g under 14.26 g, certainly less than 0.093 g."""
    for mass_g in (14.25, 14.21):
        weigh(team, mass_g, runs=4)
    (group,) = team("check", "--json").json["diffs"]
    assert [(one["code"], one["words"]) for one in group["findings"]] == [
        ("weighings_apart", "two weighings at 4 runs are 0.04 g apart: the lighter one counts, weigh again")
    ]


@pytest.mark.parametrize("is_opened", [False, True])
def test_a_closed_diff_that_was_weighed_or_opened_without_a_run(
    connection: sqlite3.Connection, add: Add, is_opened: bool
) -> None:
    made = Team(add, "rear-z")
    build = made.build(oil_mass_g=1.86, closed_mass_g=22.35)
    if is_opened:
        made.open(build, closed_mass_g=22.05)
    else:
        made.weigh(build, (0.0, 22.05))
    found = facts_of(connection, BuildFacts, build)
    assert (found.leak, found.loss_g, found.good_until_runs, found.bad_from_runs) == ("unclear", 0.3, 0.0, None)


def test_a_basis_with_runs_between_its_masses_speaks_before_one_without(
    connection: sqlite3.Connection, add: Add
) -> None:
    made = Team(add, "rear-z")
    build = made.build(oil_mass_g=1.86, filled_mass_g=14.26, mass_basis="open half", closed_mass_g=22.35)
    made.weigh(build, (0.0, 22.05))
    assert facts_of(connection, BuildFacts, build).weighed_as == "closed"
    add("weighing", build=build, runs=4.0, mass_g=14.25, mass_basis="open half", scale=made.scale)
    found = facts_of(connection, BuildFacts, build)
    assert (found.weighed_as, found.leak) == ("open half", "ok")
