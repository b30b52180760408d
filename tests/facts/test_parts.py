"""Uses and runs of parts since they were new or first noted. All data are constructed."""

from __future__ import annotations

import random
import sqlite3

import pytest
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


def test_the_parts_of_any_build_are_those_of_the_view(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    """The view counts all builds; of one build whose parts were all new at some time those since then do."""
    noted = {0: "joint new, lid-side shaft used", 2: "lid-side shaft new", 3: "joint new", 4: "lid-side shaft new"}
    builds = [team.build() for _ in range(6)]
    for number, build in enumerate(builds):
        team.run(build, "2026-02-01", 1.0 + number)
        for seal in noted.get(number, "").split(", "):
            place, _, condition = seal.rpartition(" ")
            if place:
                add("seal_fitting", build=build, place=place, condition=condition)
    whole: dict[str, list[tuple[str, int, float]]] = {}
    for row in connection.execute("SELECT build, place, uses, runs FROM part_runs ORDER BY build, part, place"):
        whole.setdefault(row["build"], []).append((row["place"], row["uses"], row["runs"]))
    assert whole[builds[5]] == [("joint", 3, 15.0), ("lid-side shaft", 2, 11.0)]
    for build in builds:
        assert [(one.place, one.uses, one.runs) for one in parts_of_build(connection, build)] == whole[build]


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("marks", [(None,), (None, None, "red", "blue")], ids=["unmarked", "some marked"])
def test_what_is_in_use_is_that_of_the_view_whatever_was_noted(
    connection: sqlite3.Connection, add: Add, seed: int, marks: tuple[str | None, ...]
) -> None:
    """The view counts every build of every diff; of what is in use no more is looked at than it rests on."""
    chance = random.Random(seed)
    kinds = [add("seal", label=label) for label in ("5 x 1.5", "5 x 2")]
    for label in ("rear-a", "rear-b", "rear-c", "rear-d"):
        one = Team(add, label)
        for _ in range(chance.randrange(8)):
            build = one.build(built_on=f"2026-02-{chance.randrange(1, 28):02d}")
            one.run(build, "2026-03-01", float(chance.randrange(1, 9)))
            for place in ("joint", "lid-side shaft"):
                if chance.random() < 0.4:
                    condition = chance.choice(("new", "used", None))
                    add("seal_fitting", build=build, place=place, condition=condition, seal=chance.choice(kinds))
            for part in ("outdrive", "side gear"):
                if chance.random() < 0.4:
                    condition, mark = chance.choice(("new", "used", None)), chance.choice(marks)
                    place = chance.choice(("case side", "lid side", "both", None))
                    add("build_part", build=build, part=part, place=place, condition=condition, mark=mark)
    whole: dict[str, list[tuple[object, ...]]] = {}
    for build, *counted_there in connection.execute(
        "SELECT p.build, p.part, p.place, p.mark, p.from_new = 'yes', p.uses, p.runs FROM part_runs p "
        "JOIN diff_facts s ON s.current_build = p.build ORDER BY p.build, p.part, p.place, p.mark"
    ):
        whole.setdefault(build, []).append(tuple(counted_there))
    found = parts_in_use(connection)
    assert {build: [tuple(one) for one in parts] for build, parts in found.items()} == whole
    assert found == {build: parts_of_build(connection, build) for build in whole}


# Marked pieces that go from diff to diff and from place to place


@pytest.fixture(params=[False, True], ids=["in the order of ids", "against it"])
def teams(request: pytest.FixtureRequest, add: Add) -> list[Team]:
    """Three diffs in the order of their ids, or against it."""
    made = [Team(add, label) for label in ("rear-a", "rear-b", "rear-c")]
    return sorted(made, key=lambda one: one.diff, reverse=request.param)


def fitted(team: Team, day: str, runs: float, condition: str, mark: str = "red", place: str = "lid side") -> str:
    """A build with one outdrive and one run."""
    build = team.build(built_on=day)
    team.run(build, day, runs)
    team.add("build_part", build=build, part="outdrive", place=place, condition=condition, mark=mark)
    return build


def count(connection: sqlite3.Connection, build: str) -> tuple[int, float, bool]:
    (piece,) = parts_of_build(connection, build)
    return piece.uses, piece.runs, piece.from_new


def test_a_piece_takes_along_what_it_had_on_earlier_days_whichever_diff_that_was_in(
    connection: sqlite3.Connection, teams: list[Team]
) -> None:
    """New in the first: 4 runs; 2 more in the second, 1 in the third."""
    builds = [
        fitted(team, f"2026-0{number}-01", runs, condition)
        for number, (team, runs, condition) in enumerate(
            zip(teams, (4.0, 2.0, 1.0), ("new", "used", "used"), strict=True), start=1
        )
    ]
    assert [count(connection, build) for build in builds] == [(1, 4.0, True), (2, 6.0, True), (3, 7.0, True)]


def test_two_new_pieces_with_one_mark_are_two_each_with_what_came_after_it(
    connection: sqlite3.Connection, teams: list[Team]
) -> None:
    """The first red one has 4 runs, the second 2 and then 1 more in the third diff."""
    builds = [
        fitted(team, f"2026-0{number}-01", runs, condition)
        for number, (team, runs, condition) in enumerate(
            zip(teams, (4.0, 2.0, 1.0), ("new", "new", "used"), strict=True), start=1
        )
    ]
    assert [count(connection, build) for build in builds] == [(1, 4.0, True), (1, 2.0, True), (2, 3.0, True)]


def test_a_used_piece_before_the_new_one_of_its_mark_is_not_from_new(
    connection: sqlite3.Connection, teams: list[Team]
) -> None:
    builds = [
        fitted(team, f"2026-0{number}-01", runs, condition)
        for number, (team, runs, condition) in enumerate(
            zip(teams, (4.0, 2.0, 1.0), ("used", "new", "used"), strict=True), start=1
        )
    ]
    assert [count(connection, build) for build in builds] == [(1, 4.0, False), (1, 2.0, True), (2, 3.0, True)]


def test_of_one_day_in_two_diffs_the_one_with_the_lower_id_counts_as_earlier(
    connection: sqlite3.Connection, teams: list[Team]
) -> None:
    low, high = sorted(teams[:2], key=lambda one: one.diff)
    builds = {team.diff: fitted(team, "2026-01-01", 3.0, "used") for team in teams[:2]}
    assert count(connection, builds[low.diff]) == (1, 3.0, False)
    assert count(connection, builds[high.diff]) == (2, 6.0, False)


def test_a_piece_moved_within_a_diff_on_one_day_goes_by_the_order_of_its_builds(
    connection: sqlite3.Connection, teams: list[Team]
) -> None:
    """From the lid side, where a blue one comes in, to the case side; the places sort the other way round."""
    team = teams[0]
    first = fitted(team, "2026-01-01", 3.0, "new", place="lid side")
    second = fitted(team, "2026-01-01", 2.0, "used", place="case side")
    team.add("build_part", build=second, part="outdrive", place="lid side", condition="new", mark="blue")
    assert count(connection, first) == (1, 3.0, True)
    found = [(one.place, one.mark, one.uses, one.runs) for one in parts_of_build(connection, second)]
    assert found == [("case side", "red", 2, 5.0), ("lid side", "blue", 1, 2.0)]


def test_marks_of_different_parts_are_different_pieces(connection: sqlite3.Connection, teams: list[Team]) -> None:
    first = fitted(teams[0], "2026-01-01", 3.0, "new")
    second = teams[1].build(built_on="2026-02-01")
    teams[1].run(second, "2026-02-01", 2.0)
    teams[1].add("build_part", build=second, part="cross pin", condition="used", mark="red")
    assert count(connection, first) == (1, 3.0, True)
    assert count(connection, second) == (1, 2.0, False)


def test_several_pieces_in_one_place_go_by_the_mark_that_sorts_last(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """One of two is exchanged twice: first the one whose mark sorts first, then the other."""
    builds = [team.build() for _ in range(3)]
    for build, marks in zip(builds, (("a", "y"), ("b", "y"), ("b", "z")), strict=True):
        for mark in marks:
            add("build_part", build=build, part="small gear", place="lid side", condition="used", mark=mark)
    found = [[(one.mark, one.uses) for one in parts_of_build(connection, build)] for build in builds]
    assert found == [[("y", 1)], [("y", 2)], [("z", 1)]]


def test_several_seals_in_one_place_go_by_the_kind_whose_id_sorts_last(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    low, middle, high, highest = sorted(add("seal", label=label) for label in "abcd")
    builds = [team.build() for _ in range(3)]
    for build, kinds in zip(builds, ((low, high), (middle, high), (middle, highest)), strict=True):
        for kind in kinds:
            add("seal_fitting", build=build, place="joint", seal=kind, condition="used")
    found = [[one.uses for one in parts_of_build(connection, build)] for build in builds]
    assert found == [[1], [2], [1]]


def test_a_piece_lent_to_another_diff_and_back_counts_only_where_it_was(
    connection: sqlite3.Connection, teams: list[Team]
) -> None:
    """4 runs at home, 7 away while another build ran 5 at home without a note, then 3 at home: 4 + 7 + 3 = 14."""
    home, away = teams[:2]
    add = home.add
    first = home.build(built_on="2026-01-02")
    lent = away.build(built_on="2026-01-10")
    meanwhile = home.build(built_on="2026-01-11")
    back = home.build(built_on="2026-01-20")
    afterwards = away.build(built_on="2026-01-21")
    for team, build, runs in (
        (home, first, 4.0), (away, lent, 7.0), (home, meanwhile, 5.0), (home, back, 3.0), (away, afterwards, 2.0),
    ):  # fmt: skip
        team.run(build, "2026-02-01", runs)
    for build, condition in ((first, "new"), (lent, "used"), (back, "used")):
        add("build_part", build=build, part="outdrive", place="lid side", mark="dot", condition=condition)
    piece = "outdrive lid side dot"
    assert counted(connection, first) == {piece: (True, 1, 4.0)}
    assert counted(connection, lent) == {piece: (True, 2, 11.0)}
    assert counted(connection, meanwhile) == {}, "it was in the other diff"
    assert counted(connection, back) == {piece: (True, 3, 14.0)}
    assert counted(connection, afterwards) == {}, "it has gone home"


def test_a_piece_turned_to_the_other_side_has_left_its_side(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    builds = [team.build(), team.build(), team.build()]
    for build in builds:
        team.run(build, "2026-02-01", 5.0)
    add("build_part", build=builds[0], part="outdrive", place="case side", mark="dot", condition="new")
    add("build_part", build=builds[1], part="outdrive", place="lid side", mark="dot", condition="used")
    assert counted(connection, builds[2]) == {"outdrive lid side dot": (True, 3, 15.0)}


def test_a_pair_with_one_mark_does_not_move_from_side_to_side(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    builds = [team.build(), team.build()]
    for build in builds:
        team.run(build, "2026-02-01", 5.0)
        for place in ("case side", "lid side"):
            add("build_part", build=build, part="outdrive", place=place, mark="pair 1")
    assert {name: uses for name, (_, uses, _) in counted(connection, builds[1]).items()}.keys() == {
        "outdrive case side pair 1",
        "outdrive lid side pair 1",
    }


def test_a_mark_used_again_for_a_new_piece_elsewhere_leaves_the_old_piece_where_it_is(
    connection: sqlite3.Connection, teams: list[Team]
) -> None:
    home, away = teams[:2]
    first, other = home.build(built_on="2026-01-02"), away.build(built_on="2026-01-10")
    last = home.build(built_on="2026-01-20")
    for team, build, condition in ((home, first, "new"), (away, other, "new"), (home, last, "used")):
        team.run(build, "2026-02-01", 6.0)
        home.add("build_part", build=build, part="outdrive", place="lid side", mark="1", condition=condition)
    assert counted(connection, last) == {"outdrive lid side 1": (True, 2, 12.0)}
