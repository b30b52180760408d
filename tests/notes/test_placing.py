"""Placing rows one after the other, and when progress is said. All data are constructed."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from bevelbook.notes.bulk import Bulk
from bevelbook.notes.note_columns import NAMES
from bevelbook.notes.placing import Placing
from bevelbook.notes.staging import Stage, empty_database
from bevelbook.store.opening import transaction


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


@pytest.mark.parametrize("more", [(), ("fluid", "bottle")])
def test_builds_placed_column_by_column_are_those_placed_row_by_row(
    path: Path, database: sqlite3.Connection, more: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """With equal rows of a day in a block and over two, names that are new in a later block, and one spelled twice."""
    monkeypatch.setattr("bevelbook.notes.placing._WRITTEN_ROWS", 7)
    days = ["2026-05-02"] * 10 + ["2026-05-01"] * 10 + ["2026-05-03"] * 12
    columns: dict[str, list[object]] = {
        "date": [*days],
        "builder": [("ana", "Ana", "bo", None)[n // 5 % 4] for n in range(32)],
        "diff": [f"rear-{n // 9}" for n in range(32)],
        "oil_mass_g": [1.8 + n // 3 % 4 / 100 for n in range(32)],
        "viscosity_cst": [None if n % 5 else 7000.0 for n in range(32)],
        "fluid": [("thin", "thick", None)[n // 4 % 3] for n in range(32)],
        "bottle": [("A1", None)[n // 6 % 2] for n in range(32)],
    }
    present = ["date", "builder", "diff", "oil_mass_g", "viscosity_cst", *more]
    found = []
    for with_gaps in ((), ("oil_mass_g",)):
        stage = Stage(database, NAMES, present)
        stage.add_rows(range(2, 34), columns)
        assert not stage.with_gaps
        stage.with_gaps.update(with_gaps)
        with suppress(_UndoneError), transaction(database, path, asked="import", by=None):
            bulk = Bulk(database, note_file="x", stamp="2026-06-30T10:00:00.000Z", by=None)
            bulk.keep_file(
                values={"name": "n.csv", "sha256": "0" * 64, "read_at": bulk.stamp}
                | dict.fromkeys(("byte_count", "accepted", "rejected", "skipped"), 0),
                packed=b"nothing",
            )
            placing = Placing(stage, bulk)
            placing.run()
            rows = [tuple(row) for row in database.execute("SELECT rowid, * FROM builds ORDER BY rowid")]
            named = [tuple(row) for row in database.execute("SELECT label, note_line FROM diffs ORDER BY rowid")]
            found.append(
                (
                    rows,
                    named,
                    bulk.new_names,
                    bulk.other_spellings,
                    [*stage.findings()],
                    placing.diffs,
                    placing.counts(),
                )
            )
            raise _UndoneError
    assert found[0] == found[1]
    assert (len(found[0][0]), found[0][6]) == (32, {"builds": 32})
    assert len(found[0][4]) > 5


class _UndoneError(Exception):
    """Ends a transaction with nothing stored."""
