"""The questions that pages ask of the store."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator

import pytest
from browser_team import Team, make_team

from bevelbook.records import BY_NAME, KINDS
from bevelbook.reports import questions
from bevelbook.store.opening import open_for_reading


@pytest.fixture(scope="module")
def team(tmp_path_factory: pytest.TempPathFactory) -> Team:
    return make_team(tmp_path_factory.mktemp("questions") / "team.db")


@pytest.fixture
def connection(team: Team) -> Iterator[sqlite3.Connection]:
    opened = open_for_reading(team.path)
    yield opened
    opened.close()


def test_every_kind_of_row_has_a_name_for_people(connection: sqlite3.Connection) -> None:
    for kind in KINDS:
        row = connection.execute(f"SELECT id FROM {kind.table} LIMIT 1").fetchone()
        if row is not None:
            name = questions.name_of(connection, kind, row["id"])
            assert name
            assert row["id"] not in name, kind.name
        assert questions.name_of(connection, kind, "nobody") is None


def test_a_bottle_is_called_by_its_fluid_and_lot(connection: sqlite3.Connection, team: Team) -> None:
    assert questions.name_of(connection, BY_NAME["bottle"], team.ids["own"]) == "7,000, second"
    assert questions.name_of(connection, BY_NAME["bottle"], team.ids["plain"]) == "10,000"


def test_a_build_knows_what_it_lost_and_its_oil(connection: sqlite3.Connection, team: Team) -> None:
    found = questions.build(connection, team.ids["rear-b/1"])
    assert found is not None
    assert found["loss_g"] == 0.35, "22.40 g closed, 22.05 g weighed"
    assert (found["viscosity_cst"], found["viscosity_from"]) == (6150.0, "own measurement of the bottle")
    assert found["runs"] == 6.0
    assert questions.build(connection, "nobody") is None


def test_what_was_run_at_a_venue_is_counted_by_grip_and_band(connection: sqlite3.Connection, team: Team) -> None:
    rows = questions.conditions_at(connection, team.ids["field"])
    assert [(row["grip"], row["band"], row["runs"], row["kept"], row["changed"]) for row in rows] == [
        ("low", 3, 4, 2, 1),
        ("medium", 2, 1, 1, 0),
    ]


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


def test_search_finds_whole_words_and_the_last_one_begun(connection: sqlite3.Connection, team: Team) -> None:
    assert [one.row_id for one in questions.search(connection, "grooved sha", 10)] == [team.ids["rear-b/1"]]
    (found,) = questions.search(connection, "quince", 10)
    assert found.excerpt == f"{questions.HIT_START}quince{questions.HIT_END}"
    assert questions.search(connection, "rings quince", 10) == []
    assert questions.search(connection, "   ", 10) == []


@pytest.mark.parametrize("words", ['"', "* OR", "NEAR(a b)", "a AND b", "-x", "col:x", "\0", "'; DROP TABLE builds;"])
def test_search_takes_any_text_as_words(connection: sqlite3.Connection, words: str) -> None:
    questions.search(connection, words, 10)


def test_an_excerpt_of_a_long_note_is_short_and_marks_its_hits(connection: sqlite3.Connection, team: Team) -> None:
    found = [one for one in questions.search(connection, "long", 10) if one.row_id == team.ids["run 2"]]
    assert len(found) == 1
    assert f"{questions.HIT_START}long{questions.HIT_END}" in found[0].excerpt
    assert len(found[0].excerpt) < 400


def test_a_hit_that_only_the_index_sees_shows_the_beginning() -> None:
    assert questions.excerpt_of(["café", "rien"], re.compile("cafe")) == "rien"
    assert questions.excerpt_of([], re.compile("x")) == ""
