"""Marked pieces that go from diff to diff and place to place: what counts as earlier. All data are constructed."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Add, Team

from bevelbook.facts.parts import parts_of_build


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
