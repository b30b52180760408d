"""Scales and bottles as columns of notes: a scale has to be recorded, a bottle belongs to the oil of its row. Invented
data."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

Command = Callable[..., Any]
HEADING = "date,diff,oil mass,total,fluid,bottle,scale"


@pytest.fixture
def bring(bevelbook: Command, db: Path, tmp_path: Path) -> Callable[..., Any]:
    """Import rows under the heading."""

    def run(*rows: str, name: str = "sheet.csv", options: tuple[str, ...] = ()) -> Any:
        path = tmp_path / name
        path.write_text("\n".join([HEADING, *rows]) + "\n", encoding="utf-8")
        return bevelbook("--db", db, "import", path, "--json", *options)

    return run


def rows(db: Path, sql: str) -> list[tuple[Any, ...]]:
    with closing(sqlite3.connect(db)) as connection:
        return connection.execute(sql).fetchall()


SCALES = "SELECT s.name FROM {} x LEFT JOIN scales s ON s.id = x.scale ORDER BY x.note_line"
BOTTLES = (
    "SELECT b.lot, f.label FROM builds x LEFT JOIN bottles b ON b.id = x.bottle LEFT JOIN fluids f ON f.id = b.fluid "
    "ORDER BY x.note_line"
)


def test_a_recorded_scale_weighed_builds_and_weighings(bring: Command, bevelbook: Command, db: Path) -> None:
    assert bevelbook("--db", db, "record", "scale", "name=bench", "step=0.01").code == 0
    done = bring("2026-05-03,K-01,1.5,,,,bench", "2026-05-10,K-01,,20.8,,,bench")
    assert (done.code, done.json["warnings"]) == (0, ["fill_unknown:line 2"][:0])
    assert rows(db, SCALES.format("builds")) == rows(db, SCALES.format("weighings")) == [("bench",)]
    assert rows(db, "SELECT scale FROM imported_notes") == [("bench",)] * 2


def test_a_scale_that_is_not_recorded_is_kept_beside_the_row(bring: Command, bevelbook: Command, db: Path) -> None:
    text = ("2026-05-03,K-01,1.5,,,,bench", "2026-05-10,K-01,,20.8,,,bench")
    done = bring(*text)
    assert (done.code, done.json["warnings"]) == (0, ["scale_unknown:line 2", "scale_unknown:line 3"])
    assert rows(db, "SELECT count(*) FROM scales") == [(0,)]
    kept = "SELECT cells FROM note_extras ORDER BY line"
    assert [json.loads(cells) for (cells,) in rows(db, kept)] == [{"scale": "bench"}] * 2
    assert bevelbook("--db", db, "record", "scale", "name=bench", "step=0.01").code == 0
    assert bring(*text).json["added"] == 0
    assert bevelbook("--db", db, "import", "--again", "sheet.csv", "--yes").code == 0
    assert rows(db, SCALES.format("builds")) == rows(db, SCALES.format("weighings")) == [("bench",)]
    assert rows(db, kept) == []


def test_a_bottle_belongs_to_the_oil_of_its_row(bring: Command, db: Path) -> None:
    text = ("2026-05-03,K-01,1.5,,house 7k,A,", "2026-05-04,K-02,1.5,,house 5k,A,", "2026-05-05,K-03,1.5,,house 7k,A,")
    done = bring(*text)
    assert (done.code, done.json["warnings"]) == (0, [])
    assert rows(db, BOTTLES) == [("A", "house 7k"), ("A", "house 5k"), ("A", "house 7k")]
    assert rows(db, "SELECT count(*) FROM bottles") == [(2,)]
    assert rows(db, "SELECT bottle FROM imported_notes") == [("A",)] * 3
    assert bring(*text).json["added"] == 0


def test_a_bottle_without_its_oil_is_the_only_one_of_that_mark(bring: Command, db: Path) -> None:
    bring("2026-05-03,K-01,1.5,,house 7k,A,", "2026-05-04,K-02,1.5,,house 5k,B,", "2026-05-04,K-02,1.5,,house 7k,B,")
    done = bring("2026-06-03,K-01,1.5,,,A,", "2026-06-04,K-02,1.5,,,B,", name="next.csv")
    assert done.json["warnings"] == ["bottle_unknown:line 3"]
    assert rows(db, BOTTLES.replace("ORDER", "WHERE x.built_on > '2026-06' ORDER")) == [
        ("A", "house 7k"),
        (None, None),
    ]
    assert [json.loads(cells) for (cells,) in rows(db, "SELECT cells FROM note_extras")] == [{"bottle": "B"}]


def test_rows_with_both_are_changed_and_placed_again(bring: Command, bevelbook: Command, db: Path) -> None:
    assert bevelbook("--db", db, "record", "scale", "name=bench", "step=0.01").code == 0
    bring("2026-05-03,K-01,1.5,,house 7k,A,bench", "2026-05-10,K-01,,20.8,,,bench")
    done = bring("2026-05-03,K-01,1.5,,house 7k,B,bench", "2026-05-10,K-01,,20.8,,,bench", options=("--take-changes",))
    assert done.code == 0
    assert rows(db, BOTTLES) == [("B", "house 7k")]
    assert bring("2026-05-09,K-01,1.4,,house 9k,C,bench", name="late.csv").code == 0
    assert rows(db, "SELECT b.label FROM weighings w JOIN builds b ON b.id = w.build") == [("K-01/2",)]
    assert rows(db, SCALES.format("weighings")) == [("bench",)]
