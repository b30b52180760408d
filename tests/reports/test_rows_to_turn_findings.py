"""Rows of notes that came together without turning: found, and placed by a command. All data are constructed."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest
from conftest import Outcome

from bevelbook.records import BY_NAME
from bevelbook.reports.rows_to_turn_findings import rows_to_turn_findings
from bevelbook.store.about_table import has_met, note_meeting
from bevelbook.store.lookup import find_id
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

Run = Callable[..., Outcome]
NOTES = "date,diff,viscosity_cst,runs,track_temp_c\n2026-05-10,rear-a,7000,3,31\n2026-05-17,rear-a,7000,2,33\n"
OTHER_OIL = "date,diff,viscosity_cst,runs,track_temp_c\n2026-05-02,rear-a,7000,1,30\n2026-05-10,rear-a,7000,3,31\n"


@pytest.fixture
def say(bevelbook: Run, db: Path) -> Run:
    """Run a command as ana."""
    return lambda *words: bevelbook("--db", db, "--by", "ana", *words)


def came_together(db: Path, built_on: str, viscosity_cst: float) -> None:
    """Add a build by hand as a merge does: no row is turned by it."""
    with closing(open_for_writing(db)) as connection, transaction(connection, db, by="bo"):
        diff = find_id(connection, BY_NAME["diff"], "rear-a")
        values = {
            "label": "rear-a/b",
            "diff": diff,
            "built_on": built_on,
            "viscosity_cst": viscosity_cst,
            "viscosity_from": "note",
            "dry_mass_g": 12.4,
        }
        Writer(connection, "bo").insert(BY_NAME["build"], values)
        note_meeting(connection)
        note_meeting(connection)


@pytest.fixture
def reading(db: Path) -> Iterator[Callable[[], sqlite3.Connection]]:
    opened: list[sqlite3.Connection] = []

    def opened_for_reading() -> sqlite3.Connection:
        opened.append(open_for_reading(db))
        return opened[-1]

    yield opened_for_reading
    for one in opened:
        one.close()


def test_a_row_that_is_a_build_only_because_nothing_came_before_it_is_placed_by_a_command(
    say: Run, db: Path, tmp_path: Path, reading: Callable[[], sqlite3.Connection]
) -> None:
    (tmp_path / "notes.csv").write_text(NOTES, encoding="utf-8")
    assert say("import", "notes.csv", "--yes").code == 0
    assert list(rows_to_turn_findings(reading())) == []
    came_together(db, "2026-05-03", 7000.0)
    (found,) = rows_to_turn_findings(reading())
    assert found.words == (
        "1 row of notes from two laptops is not placed in order yet: rear-a/1 (notes.csv, line 2) would not be a "
        "build of its own, as the build before it has the same oil"
    )
    assert found.words in " ".join(say("check").out.split())
    placed = say("check", "--place")
    assert "rear-a/1 is not a build any more: the build before it has the same oil (notes.csv, line 2)" in placed.err
    assert list(rows_to_turn_findings(reading())) == []
    assert not has_met(reading())
    assert "There was nothing to place." in say("check", "--place").err
    assert "check --place\n  removed build rear-a/1\n" in say("history").out


def test_a_row_whose_oil_is_not_that_of_the_build_before_it_any_more_becomes_a_build(
    say: Run, db: Path, tmp_path: Path, reading: Callable[[], sqlite3.Connection]
) -> None:
    (tmp_path / "notes.csv").write_text(OTHER_OIL, encoding="utf-8")
    assert say("import", "notes.csv", "--yes").code == 0
    came_together(db, "2026-05-05", 9000.0)
    (found,) = rows_to_turn_findings(reading())
    assert (
        "notes.csv, line 3, would be a build of its own, as its oil is not that of the build before it" in found.words
    )
    assert "is a build of its own now: its oil is not that of the build before it" in say("check", "--place").err
    assert list(rows_to_turn_findings(reading())) == []


def test_a_row_that_a_kept_result_is_about_stays_a_build_and_is_no_finding(
    say: Run, db: Path, tmp_path: Path, reading: Callable[[], sqlite3.Connection]
) -> None:
    (tmp_path / "notes.csv").write_text(NOTES, encoding="utf-8")
    assert say("import", "notes.csv", "--yes").code == 0
    assert say("record", "build", "rear-a/1", "hand_feel=smooth").code == 0
    came_together(db, "2026-05-03", 7000.0)
    assert list(rows_to_turn_findings(reading())) == []
