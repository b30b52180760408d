"""A name that a record once had stays its own, so that a correction never hits another one. Figures constructed."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import Begin, Outcome

Run = Callable[..., Outcome]


@pytest.fixture
def team(bevelbook: Run, begin: Begin) -> Run:
    """A build with three weighings, after 2, 4 and 6 runs."""
    records = (
        ("diff", "label=q1"),
        ("build", "diff=q1", "built_on=2026-11-01", "dry_mass=12.43", "filled_mass=14.33", "closed_mass=22.36"),
        *(
            ("weighing", "build=q1", f"mass={mass}", "weighed_on=2026-11-10", f"runs={runs}")
            for mass, runs in ((22.30, 2), (22.14, 4), (21.95, 6))
        ),
    )
    begin(bevelbook, Path("bevelbook.db"), ("new",), *(("record", *words) for words in records))
    return bevelbook


def masses() -> list[float]:
    connection = sqlite3.connect("bevelbook.db")
    found = [row[0] for row in connection.execute("SELECT mass_g FROM weighings ORDER BY mass_g DESC")]
    connection.close()
    return found


def test_a_correction_after_a_removal_hits_the_reading_that_it_names(team: Run) -> None:
    assert team("record", "weighing", "q1/1#1", "--remove", "written twice").code == 0
    done = team("record", "weighing", "q1/1#2", "mass=22.15")
    assert "Changed weighing q1/1#2\n" in done.out
    assert "mass_g: 22.15, was 22.14\n" in done.out
    assert masses() == [22.15, 21.95]
    refused = team("record", "weighing", "q1/1#1", "mass=22.31")
    assert refused.code == 2
    assert "q1/1#2 or q1/1#3" in refused.err
    assert team("record", "weighing", "build=q1", "mass=21.90", "runs=7").out.startswith("Added weighing q1/1#4\n")


def test_one_that_was_taken_back_keeps_its_number_and_gets_it_again(team: Run) -> None:
    assert team("take-back").code == 0
    assert team("record", "weighing", "build=q1", "mass=21.90", "runs=7").out.startswith("Added weighing q1/1#4\n")
    assert "brought back weighing q1/1#3, 2026-11-10" in team("take-back", "6").out


def test_a_late_entry_of_an_early_reading_renames_no_other(team: Run) -> None:
    done = team("record", "weighing", "build=q1", "mass=22.34", "weighed_on=2026-11-02", "runs=1")
    assert done.out.startswith("Added weighing q1/1#4\n")
    assert "mass_g: 22.14" in team("record", "weighing", "q1/1#2", "note=tray cleaned").out


def test_weighings_of_a_sheet_have_their_numbers_again_when_it_comes_back(team: Run, tmp_path: Path) -> None:
    sheet = tmp_path / "s.csv"
    sheet.write_text(
        "date,diff,pos,oil,dry g,oil g,total g,remarks\n2026-11-12,q2,rear,7k,12.40,1.90,14.30,filled\n"
        "2026-11-13,q2,rear,,,,14.28,weighed\n2026-11-14,q2,rear,,,,14.25,weighed\n"
    )
    for words in (("import", sheet), ("take-back",), ("import", sheet)):
        assert team(*words).code == 0, words
    assert "mass_g: 14.28" in team("record", "weighing", "q2/1#1", "note=first").out
    assert "mass_g: 14.25" in team("record", "weighing", "q2/1#2", "note=second").out


def test_a_change_says_what_was_before_also_of_what_is_emptied(team: Run) -> None:
    done = team("record", "weighing", "q1/1#1", "runs=", "note=on the bench")
    assert "  runs: empty, was 2\n" in done.out
    assert "  note: on the bench, was empty\n" in done.out
    assert "mass_g: 22.3\n" in done.out
    found = team("record", "weighing", "q1/1#1", "note=", "--json").json
    assert found["was"] == {"note": "on the bench"}
    assert team("record", "weighing", "build=q1", "mass=21.90", "runs=7", "--json").json["was"] == {}


def test_a_change_of_what_was_in_a_run_says_what_was_before(team: Run) -> None:
    assert team("record", "run", "run_on=2026-11-26", "rear=q1", "rear_temp=38").code == 0
    assert "rear: q1/1, 41 °C, was q1/1, 38 °C\n" in team("record", "run", "2026-11-26/1", "rear_temp=41").out
    assert "rear: empty, was q1/1, 41 °C\n" in team("record", "run", "2026-11-26/1", "rear=").out


def test_an_opening_removed_and_written_again_is_found_by_its_name(team: Run) -> None:
    assert team("record", "opening", "build=q1", "reason=leak").code == 0
    assert team("record", "opening", "opening of q1/1", "--remove", "not opened").code == 0
    assert "removed: not opened" in team("history", "opening", "of", "q1/1").out
    assert team("record", "opening", "build=q1", "reason=routine").out.startswith("Added opening of q1/1#2\n")
    assert "reason routine" in team("history", "opening", "of", "q1/1").out
    assert "not opened" in team("history", "opening of q1/1#1").out


def test_a_label_is_not_given_twice(team: Run) -> None:
    for reason in ("written twice", "again"):
        assert team("record", "run", "run_on=2026-11-26", "grip=high", "--another").code == 0
        number = {"written twice": 1, "again": 2}[reason]
        assert team("record", "run", f"2026-11-26/{number}", "--remove", reason).code == 0
    assert team("record", "run", "run_on=2026-11-26", "grip=low").out.startswith("Added run 2026-11-26/3\n")
    assert "written twice" in team("history", "2026-11-26/1").out
    assert team("record", "diff", "label=q3").code == 0
    assert team("record", "build", "diff=q3", "built_on=2026-11-01", "dry_mass=12.40").code == 0
    assert team("take-back").code == 0
    done = team("record", "build", "diff=q3", "built_on=2026-11-02", "dry_mass=12.41")
    assert done.out.startswith("Added build q3/2\n")


def test_notes_take_no_label_of_a_run_that_was_removed(team: Run, tmp_path: Path) -> None:
    assert team("record", "run", "run_on=2026-11-13", "grip=high").code == 0
    assert team("record", "run", "2026-11-13/1", "--remove", "written twice").code == 0
    sheet = tmp_path / "s.csv"
    sheet.write_text("date,diff,pos,oil,lap\n2026-11-12,q2,rear,7k,17.02\n2026-11-13,q2,rear,7k,17.01\n")
    for words in (("import", sheet), ("take-back",), ("import", sheet)):
        assert team(*words).code == 0, words
    assert "2026-11-13/2" in team("history", "2026-11-13/2").out, "the same row has the same label again"
