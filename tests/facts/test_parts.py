"""Uses and runs of parts since they were new or first noted. All data are constructed."""

from __future__ import annotations

import sqlite3

from constructed import Add, Team

from bevelbook.facts.parts import parts_in_use, parts_of_build, seal_uses


def counted(connection: sqlite3.Connection, build: str) -> dict[str, tuple[bool, int, float]]:
    return {
        " ".join(filter(None, (one.part, one.place, one.mark))): (one.from_new, one.uses, one.runs)
        for one in parts_of_build(connection, build)
    }


def test_a_seal_is_counted_until_a_new_one_is_in(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    """5 + 7 runs in two builds, then a new one: 3 runs; the joint's goes on to 15 though it is not noted again."""
    builds = [team.build() for _ in range(3)]
    for build, runs in zip(builds, (5.0, 7.0, 3.0), strict=True):
        team.run(build, "2026-02-01", runs)
    for place in ("joint", "lid-side shaft"):
        add("seal_fitting", build=builds[0], place=place, condition="new")
    add("seal_fitting", build=builds[2], place="lid-side shaft", condition="new")
    assert counted(connection, builds[1]) == {
        "seal joint": (True, 2, 12.0),
        "seal lid-side shaft": (True, 2, 12.0),
    }
    assert counted(connection, builds[2]) == {
        "seal joint": (True, 3, 15.0),
        "seal lid-side shaft": (True, 1, 3.0),
    }


def test_a_seal_of_another_kind_is_another_seal(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    builds = [team.build(), team.build()]
    for build, kind in zip(builds, ("5 x 1.5", "5 x 2"), strict=True):
        team.run(build, "2026-02-01", 6.0)
        add("seal_fitting", build=build, place="joint", seal=add("seal", label=kind), condition="used")
    assert counted(connection, builds[1]) == {"seal joint": (False, 1, 6.0)}


def test_an_unmarked_part_noted_as_used_is_the_same_one(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    builds = [team.build(), team.build()]
    for build, condition in zip(builds, ("new", "turned over"), strict=True):
        team.run(build, "2026-02-01", 6.0)
        add("build_part", build=build, part="side gear", place="lid side", condition=condition)
    assert counted(connection, builds[1]) == {"side gear lid side": (True, 2, 12.0)}


def test_a_part_on_both_sides_is_counted_on_each(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    builds = [team.build(), team.build()]
    for build in builds:
        team.run(build, "2026-02-01", 5.0)
    add("build_part", build=builds[0], part="outdrive", place="both", condition="new")
    add("build_part", build=builds[1], part="outdrive", place="lid side", condition="new")
    assert counted(connection, builds[1]) == {
        "outdrive case side": (True, 2, 10.0),
        "outdrive lid side": (True, 1, 5.0),
    }


def test_of_several_pieces_in_one_place_all_have_to_be_new(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    builds = [team.build(), team.build()]
    for build, conditions in zip(builds, (("new", "new"), ("new", "used")), strict=True):
        team.run(build, "2026-02-01", 5.0)
        for condition in conditions:
            add("build_part", build=build, part="small gear", condition=condition)
    assert counted(connection, builds[1]) == {"small gear not said": (True, 2, 10.0)}


def test_a_marked_piece_takes_its_count_to_another_diff(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    """8 runs in rear-a, replaced there, then 4 in rear-b: 12 in all; the one that replaced it has 2."""
    other = Team(add, "rear-b")
    first = team.build(built_on="2026-01-05")
    team.run(first, "2026-01-06", 8.0)
    add("build_part", build=first, part="outdrive", place="lid side", condition="new", mark="red")
    second = team.build(built_on="2026-02-05")
    team.run(second, "2026-02-06", 2.0)
    add("build_part", build=second, part="outdrive", place="lid side", condition="new", mark="blue")
    moved = other.build(built_on="2026-03-05")
    other.run(moved, "2026-03-06", 4.0)
    add("build_part", build=moved, part="outdrive", place="case side", condition="used", mark="red")
    assert counted(connection, moved) == {"outdrive case side red": (True, 2, 12.0)}
    assert counted(connection, second) == {"outdrive lid side blue": (True, 1, 2.0)}


def test_a_new_piece_with_a_known_mark_starts_again(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    builds = [team.build(), team.build()]
    for build in builds:
        team.run(build, "2026-02-01", 5.0)
        add("build_part", build=build, part="cross pin", condition="new", mark="1")
    assert counted(connection, builds[1]) == {"cross pin not said 1": (True, 1, 5.0)}


def test_a_seal_has_the_uses_of_the_most_used_one(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    builds = [team.build() for _ in range(3)]
    for place in ("joint", "lid-side shaft"):
        add("seal_fitting", build=builds[0], place=place, condition="new")
    add("seal_fitting", build=builds[2], place="lid-side shaft", condition="new")
    Team(add, "rear-b").build()
    found = seal_uses(connection, "(SELECT id AS diff FROM diffs)")
    assert found == dict(zip(builds, (1, 2, 3), strict=True))
    assert seal_uses(connection, "(SELECT id AS diff FROM diffs WHERE label = 'rear-b')") == {}
    kept = connection.execute("SELECT diff, seal_uses FROM diff_facts ORDER BY seal_uses DESC").fetchall()
    assert [row[1] for row in kept] == [3, None]


def test_the_parts_of_the_last_builds_are_those_of_each_build(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    other = Team(add, "rear-b")
    first = team.build(built_on="2026-01-05")
    team.run(first, "2026-01-06", 8.0)
    add("build_part", build=first, part="outdrive", place="lid side", condition="new", mark="red")
    last = team.build(built_on="2026-02-05")
    add("seal_fitting", build=last, place="joint", condition="new")
    moved = other.build(built_on="2026-03-05")
    add("build_part", build=moved, part="outdrive", place="case side", condition="used", mark="red")
    bare = Team(add, "rear-c").build()
    found = parts_in_use(connection)
    assert found == {build: parts_of_build(connection, build) for build in (last, moved)}
    assert {one.words for one in found[moved]} == {"outdrive case side red 8 runs, 3 builds"}
    assert parts_of_build(connection, bare) == []
