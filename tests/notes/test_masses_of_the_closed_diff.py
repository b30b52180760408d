"""Closed masses and what was on the scale as columns of notes. Invented data."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

Command = Callable[..., Any]
HEADING = "date,diff,dry mass,oil mass,total,closed mass,basis"
FILLED = "2026-05-03,K-01,19.4,1.5,20.9,24.1,"
CELLS = ("total_mass_g", "closed_mass_g", "mass_basis")


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


def shown(db: Path) -> list[tuple[Any, ...]]:
    return rows(db, f"SELECT {', '.join(CELLS)} FROM imported_notes ORDER BY date, line")


WEIGHED = "SELECT mass_g, mass_basis, basis_from FROM weighings ORDER BY weighed_on, note_line"


@pytest.mark.parametrize(
    ("row", "weighed", "cells"),
    [
        (",24.05,", (24.05, "closed", "closed mass"), (None, 24.05, None)),
        (
            ",26.05,closed with bearings and crown gear",
            (26.05, "closed with bearings and crown gear", "closed mass, written"),
            (None, 26.05, "closed with bearings and crown gear"),
        ),
        ("24.05,,closed", (24.05, "closed", "written"), (24.05, None, "closed")),
        ("20.8,,", (20.8, None, None), (20.8, None, None)),
    ],
    ids=["closed mass", "closed mass and basis", "total and basis", "total"],
)
def test_what_a_weighing_says(bring: Command, db: Path, row: str, weighed: Any, cells: Any) -> None:
    done = bring(FILLED, f"2026-05-10,K-01,,,{row}")
    assert (done.code, done.json["made"]) == (0, {"builds": 1, "weighings": 1})
    assert rows(db, "SELECT filled_mass_g, closed_mass_g FROM builds") == [(20.9, 24.1)]
    assert rows(db, WEIGHED) == [weighed]
    assert shown(db) == [(20.9, 24.1, None), cells]
    assert bring(FILLED, f"2026-05-10,K-01,,,{row}").json["added"] == 0


def test_a_closed_mass_beside_a_total_is_kept_beside_the_row(bring: Command, db: Path) -> None:
    bring(FILLED, "2026-05-10,K-01,,,20.8,24.0,")
    assert rows(db, WEIGHED) == [(20.8, None, None)]
    assert [json.loads(cells) for (cells,) in rows(db, "SELECT cells FROM note_extras")] == [{"closed_mass_g": 24.0}]


def test_a_closed_mass_of_a_diff_without_a_build_is_weighed(bring: Command, db: Path) -> None:
    assert bring("2026-05-10,K-01,,,,24.05,").code == 0
    assert rows(db, WEIGHED) == [(24.05, "closed", "closed mass")]
    assert rows(db, "SELECT closed_mass_g, mass_basis FROM builds") == [(None, None)]
    assert shown(db) == [(None, 24.05, None)]


def test_a_weighing_keeps_its_own_basis_when_its_build_changes(bring: Command, db: Path) -> None:
    """A build that comes in late moves the weighings after it: what the row itself says stays."""
    bring("2026-05-03,K-01,19.4,1.5,20.9,,open half", "2026-05-10,K-01,,,20.8,,open half", "2026-05-11,K-01,,,,24.0,")
    bring("2026-05-09,K-01,19.5,1.4,20.9,,all parts on the pan", name="late.csv")
    on = rows(db, "SELECT DISTINCT b.label FROM weighings w JOIN builds b ON b.id = w.build")
    assert on == [("K-01/2",)]
    assert [row[1:] for row in rows(db, WEIGHED)] == [("open half", "written"), ("closed", "closed mass")]


def test_a_weighing_without_a_basis_has_that_of_its_build(bring: Command, db: Path) -> None:
    bring("2026-05-03,K-01,19.4,1.5,20.9,,open half", "2026-05-10,K-01,,,20.8,,")
    assert rows(db, WEIGHED) == [(20.8, "open half", None)]
    bring("2026-05-09,K-01,19.5,1.4,20.9,,all parts on the pan", name="late.csv")
    assert rows(db, WEIGHED) == [(20.8, "all parts on the pan", None)]


def test_a_corrected_closed_mass_changes_the_weighing(bring: Command, db: Path) -> None:
    bring(FILLED, "2026-05-10,K-01,,,,24.05,")
    done = bring(FILLED, "2026-05-10,K-01,,,,24.03,", options=("--take-changes",))
    (change,) = done.json["looks_changed"]
    assert [one["column"] for one in change["differences"]] == ["closed_mass_g"]
    assert rows(db, WEIGHED) == [(24.03, "closed", "closed mass")]
    done = bring(FILLED, "2026-05-10,K-01,,,,24.03,closed with bearings and crown gear", options=("--take-changes",))
    assert rows(db, WEIGHED) == [(24.03, "closed with bearings and crown gear", "closed mass, written")]


def test_a_kind_of_build_makes_one_with_the_oil_as_before(bevelbook: Command, db: Path, tmp_path: Path) -> None:
    path = tmp_path / "oil.csv"
    path.write_text(
        "date,diff,fluid,kind of build,closed mass,runs\n"
        "2026-05-03,K-01,house 7k,new,24.1,\n2026-05-04,K-01,house 7k,,,3\n2026-05-10,K-01,house 7k,oil change,24.2,\n",
        encoding="utf-8",
    )
    assert bevelbook("--db", db, "import", path, "--json").json["made"] == {"builds": 2, "runs": 1}
    assert rows(db, "SELECT kind, closed_mass_g FROM builds ORDER BY built_on") == [("new", 24.1), ("oil change", 24.2)]
