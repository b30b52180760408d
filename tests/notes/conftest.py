"""What the tests of notes share: a new database with a connection of its own to import into."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from conftest import empty_database

from bevelbook.store.opening import open_for_writing


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return empty_database(tmp_path / "team.db")


@pytest.fixture
def database(path: Path) -> Iterator[sqlite3.Connection]:
    connection = open_for_writing(path)
    yield connection
    connection.close()
