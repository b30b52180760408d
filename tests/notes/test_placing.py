"""Placing rows one after the other, and when progress is said. All data are constructed."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

import pytest

from bevelbook.notes.bulk import Bulk
from bevelbook.notes.note_columns import NAMES
from bevelbook.notes.placing import Placing
from bevelbook.notes.staging import Stage, empty_database


@pytest.fixture
def memory() -> Iterator[sqlite3.Connection]:
    connection = empty_database()
    yield connection
    connection.close()


def test_progress_is_said_every_ten_thousand_rows_placed(memory: sqlite3.Connection) -> None:
    stage = Stage(memory, NAMES, ["date", "diff", "runs"])
    count = 20_001
    columns = {"date": ["2026-05-03"] * count, "diff": ["a"] * count, "runs": [*map(float, range(count))]}
    stage.add_rows(range(2, count + 2), columns)
    bulk = Bulk(memory, note_file="x", stamp="2026-06-30T10:00:00.000Z", by=None, dry=True)
    placing, said = Placing(stage, bulk), []
    placing.run(said.append)
    assert said == [10_000, 20_000]
    assert (placing.added, placing.made["runs"]) == (count, count)
