"""The names that people read for records."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

import pytest
from browser_team import Team, make_team

from bevelbook.records import BY_NAME, KINDS
from bevelbook.store.opening import open_for_reading
from bevelbook.store.record_names import name_of


@pytest.fixture(scope="module")
def team(tmp_path_factory: pytest.TempPathFactory) -> Team:
    return make_team(tmp_path_factory.mktemp("record_names") / "team.db")


@pytest.fixture
def connection(team: Team) -> Iterator[sqlite3.Connection]:
    opened = open_for_reading(team.path)
    yield opened
    opened.close()


def test_every_kind_of_row_has_a_name_for_people(connection: sqlite3.Connection) -> None:
    for kind in KINDS:
        row = connection.execute(f"SELECT id FROM {kind.table} LIMIT 1").fetchone()
        if row is not None:
            name = name_of(connection, kind, row["id"])
            assert name
            assert row["id"] not in name, kind.name
        assert name_of(connection, kind, "nobody") is None


def test_a_bottle_is_called_by_its_fluid_and_lot(connection: sqlite3.Connection, team: Team) -> None:
    assert name_of(connection, BY_NAME["bottle"], team.ids["own"]) == "7,000, second"
    assert name_of(connection, BY_NAME["bottle"], team.ids["plain"]) == "10,000"
