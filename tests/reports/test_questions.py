"""The questions that pages ask of the store."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

import pytest
from browser_team import Team, make_team

from bevelbook.reports import questions
from bevelbook.store.opened_to_read import open_for_reading


@pytest.fixture(scope="module")
def team(tmp_path_factory: pytest.TempPathFactory) -> Team:
    return make_team(tmp_path_factory.mktemp("questions") / "team.db")


@pytest.fixture
def connection(team: Team) -> Iterator[sqlite3.Connection]:
    opened = open_for_reading(team.path)
    yield opened
    opened.close()


def test_a_build_knows_what_it_lost_and_its_oil(connection: sqlite3.Connection, team: Team) -> None:
    found = questions.build(connection, team.ids["rear-b/1"])
    assert found is not None
    assert found["loss_g"] == 0.35, "22.40 g closed, 22.05 g weighed"
    assert (found["viscosity_cst"], found["viscosity_from"]) == (6150.0, "own measurement of the bottle")
    assert found["runs"] == 6.0
    assert questions.build(connection, "nobody") is None


def test_what_was_run_at_a_venue_is_counted_by_grip_and_band(connection: sqlite3.Connection, team: Team) -> None:
    rows = questions.conditions_at(connection, team.ids["field"])
    """Each note is of three runs; one that was kept was on a diff that had lost oil."""
    assert [(row["grip"], row["band"], row["notes"], row["runs"], row["by_day"].words) for row in rows] == [
        ("low", 3, 4, 12.0, "kept on 1 of 2 days, changed on 1"),
        ("medium", 2, 1, 3.0, "kept on 1 day"),
    ]
    assert [list(row["oils"]) for row in rows] == [["rear"], ["rear"]], "the places, never mixed"


@pytest.mark.parametrize(
    ("wanted", "count"),
    [
        ({}, 8),
        ({"grip": "low"}, 4),
        ({"grip": "low", "track_from": 37.0}, 2),
        ({"track_to": 20.0}, 2),
        ({"position": "front"}, 0),
        ({"grip": None, "venue": None}, 8),
    ],
)
def test_runs_like_meet_every_condition(connection: sqlite3.Connection, wanted: dict[str, object], count: int) -> None:
    assert len(questions.runs_like(connection, wanted, 100)) == count
