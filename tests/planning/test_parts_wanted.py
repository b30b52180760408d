"""The parts that work on a diff takes, worked out by hand from constructed records."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Add, Team

from bevelbook.planning.parts_wanted import PartWanted, parts_wanted


class Box:
    """Diffs of one team with a box of shaft rings, and counts of it."""

    def __init__(self, connection: sqlite3.Connection, add: Add) -> None:
        self.connection, self.add = connection, add
        self.ring = add("seal", label="shaft ring")

    def part(self, label: str, part: str, pieces: int | None = None, **values: object) -> str:
        made = self.add("stock_part", label=label, part=part, **values)
        if pieces is not None:
            self.add("stock_change", stock_part=made, what="counted", pieces=pieces, changed_on="2026-06-01")
        return made

    def build(self, team: Team, *conditions: str, **values: object) -> str:
        """A build with shaft rings in these conditions, case side first."""
        build = team.build(**values)
        for place, condition in zip(("case-side shaft", "lid-side shaft"), conditions, strict=False):
            self.add("seal_fitting", build=build, place=place, seal=self.ring, condition=condition)
        return build

    def wanted(self, *teams: Team, act: str = "rebuild") -> dict[str, tuple[PartWanted, ...]]:
        found = parts_wanted(self.connection, {team.diff: act for team in teams})
        return {team.label: found[team.diff] for team in teams if team.diff in found}


@pytest.fixture
def box(connection: sqlite3.Connection, add: Add) -> Box:
    return Box(connection, add)


def counted(found: dict[str, tuple[PartWanted, ...]]) -> list[tuple[str, str, int, int | None, int]]:
    return [(label, one.what, one.pieces, one.have, one.short) for label, parts in found.items() for one in parts]


def test_rings_at_the_limit_of_uses_are_new_and_the_first_diff_takes_what_is_there(
    box: Box, add: Add, team: Team
) -> None:
    """The limit is 2 uses. rear-a: both rings used twice. rear-b: that of the case side twice, the other once. rear-c:
    both once. Two are left: both for rear-a and none for rear-b, or the other way round one for each."""
    add("limit", kind="seal uses", value=2.0)
    rings = box.part("shaft rings", "seal", 2, seal=box.ring)
    second, third = Team(add, "rear-b"), Team(add, "rear-c")
    for each, conditions in ((team, ("used", "used")), (second, ("used", "new")), (third, ("new", "new"))):
        box.build(each, "new", "new")
        box.build(each, *conditions)
    why = "case-side shaft used 2 times, your limit is 2"
    assert box.wanted(team, second, third, act="change the oil") == {
        "rear-a": (PartWanted("shaft rings", rings, 2, f"{why}; {why.replace('case', 'lid')}", 2, 0),),
        "rear-b": (PartWanted("shaft rings", rings, 1, why, 0, 1),),
    }
    assert counted(box.wanted(second, team)) == [
        ("rear-b", "shaft rings", 1, 2, 0),
        ("rear-a", "shaft rings", 2, 1, 1),
    ]
    assert box.wanted(team, second, third, act="weigh it") == {}


def test_without_a_stock_nothing_is_short_and_nothing_is_assumed(box: Box, add: Add, team: Team) -> None:
    """No limit, nothing found: rings that were used twice stay. Found flattened: both are new, how many there are is
    not known. A diff of which no seal was noted: not known which."""
    box.build(team, "new", "new")
    last = box.build(team, "used", "used")
    other = Team(add, "rear-b")
    other.build()
    assert box.wanted(team, other) == {
        "rear-b": (PartWanted("new seals", None, 0, "not known which: note the seals fitted", None, 0),)
    }
    team.open(last, seals="flattened")
    assert counted(box.wanted(team)) == [
        ("rear-a", "shaft ring, case-side shaft", 1, None, 0),
        ("rear-a", "shaft ring, lid-side shaft", 1, None, 0),
    ]
    box.build(team, "new", "used")
    assert counted(box.wanted(team)) == [("rear-a", "shaft ring, lid-side shaft", 1, None, 0)], "one was replaced"


def test_a_team_that_never_notes_a_seal_is_not_asked_for_it(box: Box, team: Team) -> None:
    team.build()
    assert box.wanted(team) == {}


def test_worn_parts_that_were_not_replaced_since(box: Box, add: Add, team: Team) -> None:
    """Counted after these builds, so none is taken off. Shafts grooved and wet at the lid side: one outdrive of that
    side. Side gears worn: two, as the last time. The pin, found worn before, was replaced; what the next opening does
    not mention is still worn."""
    lid = box.part("lid outdrives", "outdrive", 1, side="lid side")
    box.part("case outdrives", "outdrive", 5, side="case side")
    gears = box.part("side gears", "side gear", 3)
    first = team.build()
    add("build_part", build=first, part="side gear", place="both", condition="new")
    team.open(
        first, "2026-02-01", shafts="grooved", leak_place="lid-side shaft", side_gears="worn", cross_pin="worn",
        small_gears="polished",
    )  # fmt: skip
    second = team.build(built_on="2026-02-02")
    add("build_part", build=second, part="cross pin", condition="new")
    team.open(second, "2026-03-01", oil="grey")
    assert counted(box.wanted(team)) == [
        ("rear-a", "side gears", 2, 3, 0),
        ("rear-a", "lid outdrives", 1, 1, 0),
    ]
    assert {gears, lid} == {one.stock_part for one in box.wanted(team)["rear-a"]}
    third = team.build(built_on="2026-03-02")
    add("build_part", build=third, part="outdrive", place="both", condition="new")
    add("build_part", build=third, part="side gear", place="both", condition="turned over")
    assert box.wanted(team) == {}


def test_a_gasket_where_the_last_builds_fitted_a_new_one_each_time(box: Box, add: Add, team: Team) -> None:
    """rear-a in three of three; a new diff as the team does; not where one of the last three went without."""
    gaskets = box.part("gaskets", "gasket", 9)
    for _ in range(2):
        add("build_part", build=team.build(), part="gasket", condition="new")
    assert box.wanted(team) == {}, "two builds do not show it"
    add("build_part", build=team.build(), part="gasket", condition="new")
    team.build(kind="top-up")
    new = Team(add, "rear-b")
    found = box.wanted(team, new)
    assert found["rear-a"] == (PartWanted("gaskets", gaskets, 1, "new in each of the last 3 builds", 9, 0),)
    assert found["rear-b"] == (PartWanted("gaskets", gaskets, 1, "new in each of the last 3 builds of the team", 8, 0),)
    team.build()
    assert box.wanted(team, new) == {}


def test_rings_of_a_team_that_fits_new_ones_each_time(box: Box, team: Team) -> None:
    for _ in range(3):
        box.build(team, "new", "used")
    assert box.wanted(team)["rear-a"] == (
        PartWanted("shaft ring, case-side shaft", None, 1, "case-side shaft new in each of the last 3 builds", None, 0),
    )
