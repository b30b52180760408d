"""The team's own limits: whose goes first, which of several holds, and what is none. All data are constructed."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Add, Team

from bevelbook.declare.vocabulary import LIMIT_KINDS
from bevelbook.facts.limits import NONE, OwnLimits, TeamLimits


@pytest.fixture
def diffs(add: Add) -> dict[str, str]:
    return {label: add("diff", label=label) for label in ("rear-a", "rear-b")}


def of(connection: sqlite3.Connection, diff: str) -> OwnLimits:
    """The limits looked up, which are those that are kept with the diff."""
    found = TeamLimits(connection).of(diff)
    kept = connection.execute(
        "SELECT limit_runs, limit_loss_g, limit_loss_share, limit_seal_uses, limit_fill_window_g FROM diff_facts "
        "WHERE diff = ?",
        (diff,),
    ).fetchone()
    assert tuple(found) == tuple(kept)
    return found


def test_without_any_there_is_none(connection: sqlite3.Connection, diffs: dict[str, str]) -> None:
    assert of(connection, diffs["rear-a"]) == NONE == OwnLimits(None, None, None, None, None)


def test_each_kind_has_its_own(connection: sqlite3.Connection, add: Add, diffs: dict[str, str]) -> None:
    for number, kind in enumerate(LIMIT_KINDS, start=1):
        add("limit", kind=kind, value=number / 10.0)
    assert of(connection, diffs["rear-a"]) == OwnLimits(
        runs=0.1, loss_g=0.2, loss_share=0.3, seal_uses=0.4, fill_window_g=0.5
    )


@pytest.mark.parametrize("order", [("team", "diff"), ("diff", "team")])
def test_one_for_a_diff_goes_before_the_one_for_all(
    connection: sqlite3.Connection, add: Add, diffs: dict[str, str], order: tuple[str, ...]
) -> None:
    for whose in order:
        own = {"diff": diffs["rear-a"], "value": 12.0} if whose == "diff" else {"value": 20.0}
        add("limit", kind="runs between openings", **own)
    assert of(connection, diffs["rear-a"]).runs == 12.0
    assert of(connection, diffs["rear-b"]).runs == 20.0


def test_of_several_the_last_written_down_holds(
    connection: sqlite3.Connection, add: Add, diffs: dict[str, str]
) -> None:
    """All have the same stamp here, so that they go by their ids, which grow."""
    for value in (20.0, 30.0, 25.0):
        add("limit", kind="runs between openings", value=value)
        add("limit", kind="runs between openings", value=value + 1.0, diff=diffs["rear-b"])
    assert of(connection, diffs["rear-a"]).runs == 25.0
    assert of(connection, diffs["rear-b"]).runs == 26.0


def test_the_last_goes_by_when_it_was_written_down_before_its_id(
    connection: sqlite3.Connection, diffs: dict[str, str]
) -> None:
    for stamp, row_id, value in (("2026-05-03", "a", 30.0), ("2026-05-01", "z", 20.0), ("2026-05-02", "m", 25.0)):
        connection.execute(
            "INSERT INTO limits (id, created_at, updated_at, kind, value) VALUES (?, ?, ?, ?, ?)",
            (row_id, stamp, stamp, "runs between openings", value),
        )
    assert TeamLimits(connection).of(diffs["rear-a"]).runs == 30.0


@pytest.mark.parametrize(
    ("team", "own", "expected"),
    [
        ((20.0, 0.0), (), None),
        ((0.0,), (12.0,), 12.0),
        ((20.0,), (0.0,), 20.0),
        ((20.0,), (12.0, 0.0), 20.0),
        ((0.0,), (0.0,), None),
        ((20.0, 0.0, 15.0), (), 15.0),
    ],
)
def test_0_is_none(
    connection: sqlite3.Connection,
    add: Add,
    diffs: dict[str, str],
    team: tuple[float, ...],
    own: tuple[float, ...],
    expected: float | None,
) -> None:
    """A limit of 0 takes back the one before it; the diff then has that for all."""
    for value in team:
        add("limit", kind="runs between openings", value=value)
    for value in own:
        add("limit", kind="runs between openings", value=value, diff=diffs["rear-a"])
    assert of(connection, diffs["rear-a"]).runs == expected


def test_the_limits_of_a_loss_are_those_by_which_it_is_judged(connection: sqlite3.Connection, add: Add) -> None:
    """0.12 g lost of 1.86 g: under 0.15 g for all; over 0.10 g for one, U = 0.016 g; 6 % is 0.1116 g."""
    first, second = Team(add, "rear-a"), Team(add, "rear-b")
    for team in (first, second):
        team.weigh(team.build(oil_mass_g=1.86, closed_mass_g=22.40), (6.0, 22.28))

    def judged() -> dict[str, tuple[str, float, str]]:
        found = connection.execute(
            "SELECT b.label, k.leak, k.stop_g, k.limit_from FROM builds b JOIN build_facts k ON k.build = b.id"
        )
        return {row[0]: tuple(row)[1:] for row in found}

    assert judged() == {"rear-a/1": ("caution", 0.186, "proposal"), "rear-b/1": ("caution", 0.186, "proposal")}
    add("limit", kind="oil lost in grams", value=0.15)
    add("limit", kind="oil lost in grams", value=0.10, diff=second.diff)
    assert judged() == {"rear-a/1": ("caution", 0.15, "yours"), "rear-b/1": ("stop", 0.1, "yours")}
    add("limit", kind="oil lost as a share", value=0.06, diff=first.diff)
    assert judged()["rear-a/1"] == ("unclear", 0.1116, "yours")
