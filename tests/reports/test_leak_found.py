"""A leak that an opening found, where the weighings saw no loss. All data are constructed."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Team

from bevelbook.plugin.registry import Registry
from bevelbook.reports.check import check
from bevelbook.reports.compare import compare
from bevelbook.reports.leak_found import leak_found_findings
from bevelbook.web.shared.blocks_of_builds import oil_lost_word

WET = {"reason": "leak", "leak_place": "joint", "leak_amount": "drops"}


def opened(team: Team, mass_g: float = 22.40, **found: str) -> str:
    build = team.build(oil_mass_g=1.86)
    team.weigh(build, (0.0, 22.40), (4.0, mass_g))
    team.open(build, day="2026-03-01", **found)
    return build


def test_compare_says_first_what_was_found_and_also_what_the_scale_saw(
    connection: sqlite3.Connection, registry: Registry, team: Team
) -> None:
    opened(team, **WET)
    team.build(oil_mass_g=1.86)
    found = compare(connection, "rear-a/1", "rear-a/2", registry)
    lines = [line.strip() for line in found.lines()]
    assert "rear-a/1, leak found when it was opened (joint, drops); oil lost by the scale: ok" in lines
    assert "oil lost: ok" not in " ".join(lines)
    assert found.as_dict()["came_of_it"][0]["leak_found"] == "leak found when it was opened (joint, drops)"


def test_check_reports_it_until_the_diff_is_opened_again(
    connection: sqlite3.Connection, registry: Registry, team: Team
) -> None:
    opened(team, **WET)
    said = check(connection, registry).named("rear-a/1 leak found").finding
    assert said.words.startswith("leak found when it was opened (joint, drops), 2026-03-01; by the scale no loss seen")
    assert said.remedy.startswith("Look at the joint before it is closed")
    team.open(team.build(built_on="2026-03-02"), day="2026-03-09", reason="routine")
    assert list(leak_found_findings(connection)) == []


@pytest.mark.parametrize(
    ("mass_g", "found"),
    [
        (22.40, {"reason": "routine"}),
        (22.40, {"reason": "routine", "leak_place": "joint", "leak_amount": "dry"}),
        (22.00, WET),
    ],
)
def test_nothing_is_added_where_it_was_dry_or_the_scale_says_it(
    connection: sqlite3.Connection, team: Team, mass_g: float, found: dict[str, str]
) -> None:
    opened(team, mass_g, **found)
    assert list(leak_found_findings(connection)) == []


@pytest.mark.parametrize(
    ("leak", "place", "reason", "said"),
    [
        ("ok", "joint", "leak", "leak found"),
        (None, None, "leak", "leak found"),
        ("stop", "joint", "leak", "stop"),
        ("ok", None, "routine", "ok"),
    ],
)
def test_on_pages_a_build_that_was_wet_is_not_ok(leak: str | None, place: str | None, reason: str, said: str) -> None:
    assert said in str(oil_lost_word({"leak": leak, "leak_place": place, "opened_for": reason}))
    assert said == "ok" or "ok" not in str(oil_lost_word({"leak": leak, "leak_place": place, "opened_for": reason}))
