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


def test_a_cell_is_kept_beside_the_row_where_the_row_makes_no_record_that_has_it(memory: sqlite3.Connection) -> None:
    """The place in the car belongs to a run: the row of the first day makes a build, that of the third a weighing."""
    stage = Stage(memory, NAMES, ["date", "diff", "oil_mass_g", "total_mass_g", "position", "runs"])
    rows = [
        ("2026-05-01", "a", 1.86, None, "rear", None),
        ("2026-05-02", "a", None, None, "rear", 4.0),
        ("2026-05-03", "a", None, 14.2, "front", None),
        ("2026-05-04", "a", None, None, "front", None),
        ("2026-05-05", "a", None, 14.2, None, None),
        ("2026-05-06", "a", None, 14.2, "front", 2.0),
    ]
    stage.add_rows(range(2, 8), dict(zip(stage.present, zip(*rows, strict=True), strict=True)))
    placing = Placing(stage, Bulk(memory, note_file="x", stamp="2026-06-30T10:00:00.000Z", by=None, dry=True))
    placing.run()
    assert list(stage.extras()) == [(2, '{"position":"rear"}'), (4, '{"position":"front"}')]
    assert placing.counts() == {"builds": 1, "weighings": 3, "runs": 3}
