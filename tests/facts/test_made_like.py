"""Which build another one may be made like: only one that was there before it. All data are constructed."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Add, Team

from bevelbook.facts.made_like import like_fault, like_faults, may_be_like_sql


def may_be_like(connection: sqlite3.Connection, build: str) -> list[str]:
    rows = connection.execute(
        f"SELECT t.label FROM builds t WHERE {may_be_like_sql('t', ':of')} ORDER BY t.label", {"of": build}
    )
    return [row[0] for row in rows]


def say(connection: sqlite3.Connection, build: str, like: str) -> None:
    """Write it past the program, as an older version may have."""
    connection.execute("UPDATE builds SET like = ? WHERE id = ?", (like, build))


def test_a_build_may_be_like_one_before_it_alone(connection: sqlite3.Connection, team: Team) -> None:
    first, second, third = team.build(), team.build(), team.build()
    assert [may_be_like(connection, one) for one in (first, second, third)] == [
        [],
        ["rear-a/1"],
        ["rear-a/1", "rear-a/2"],
    ]
    say(connection, third, first)
    assert [*like_faults(connection)] == []
    say(connection, first, second)
    fault = like_fault(connection, first)
    assert fault is not None
    assert fault.words == "is said to be like rear-a/2, which was built later, on 2026-01-03"
    say(connection, second, second)
    assert [f"{one.label} {one.words}" for one in like_faults(connection)] == [
        "rear-a/1 is said to be like rear-a/2, which was built later, on 2026-01-03",
        "rear-a/2 is said to be like itself",
    ]


@pytest.mark.parametrize(
    ("places", "offered"), [((None, None), []), ((1, 2), []), ((2, 1), ["rear-a/2"]), ((1, None), ["rear-a/2"])]
)
def test_of_one_day_the_place_counts_then_what_was_written_first(
    connection: sqlite3.Connection, team: Team, places: tuple[int | None, int | None], offered: list[str]
) -> None:
    first, second = (team.build(built_on="2026-05-03", day_order=place) for place in places)
    connection.execute("UPDATE builds SET created_at = 'T1' WHERE id = ?", (first,))
    connection.execute("UPDATE builds SET created_at = 'T2' WHERE id = ?", (second,))
    assert may_be_like(connection, first) == offered


def test_a_circle_of_one_day_is_found_whole_and_walked_once(connection: sqlite3.Connection, add: Add) -> None:
    front, rear, spare = (Team(add, label).build(built_on="2026-05-03") for label in ("front-a", "rear-a", "spare"))
    say(connection, rear, front)
    say(connection, spare, rear)
    assert may_be_like(connection, front) == []
    assert may_be_like(connection, rear) == ["front-a/1"]
    assert [*like_faults(connection)] == []
    say(connection, front, spare)
    assert next(one.words for one in like_faults(connection)) == (
        "is said to be like spare/1, which is like rear-a/1, which is like front-a/1 itself"
    )
    assert len([*like_faults(connection)]) == 3
    after = Team(add, "after").build(built_on="2026-05-03")
    say(connection, after, front)
    assert like_fault(connection, after) is None
