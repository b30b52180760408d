"""What is odd about a file as a whole: a lid left on the scale, fluids with alike names. All data are constructed."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

import pytest

from bevelbook.notes.file_warnings import lid_warning
from bevelbook.notes.note_columns import NAMES
from bevelbook.notes.report import Report
from bevelbook.notes.staging import Stage, empty_database


@pytest.fixture
def memory() -> Iterator[sqlite3.Connection]:
    connection = empty_database()
    yield connection
    connection.close()


def lid(memory: sqlite3.Connection, step_g: float, *gaps_g: float, accepted: int = 5) -> list[str]:
    stage = Stage(memory, NAMES, ["date", "diff"])
    for line, gap_g in enumerate(gaps_g, start=2):
        stage.add_finding(line, "mass_balance", gap_g)
    stage.accepted = accepted
    report = Report("notes.csv")
    lid_warning(stage, step_g, report)
    return report.warnings


def test_a_gap_two_steps_or_a_twentieth_from_the_middle_one_is_like_it(memory: sqlite3.Connection) -> None:
    """Numbers that binary holds to the last bit, so that the bounds themselves are met."""
    assert lid(memory, 0.25, 2.0, 2.0, 2.0, 2.0, 2.5) == ["lid_on_scale:about 2.00 g in 5 rows"]
    assert lid(memory, 0.25, 2.0, 2.0, 2.0, 2.0, 1.5) == ["lid_on_scale:about 2.00 g in 5 rows"]
    assert lid(memory, 0.25, 2.0, 2.0, 2.0, 2.0, 2.5625) == ["lid_on_scale:about 2.00 g in 4 rows"]
    assert lid(memory, 0.0625, *[20.0] * 4, 21.0) == ["lid_on_scale:about 20.00 g in 5 rows"]
    assert lid(memory, 0.0625, *[20.0] * 4, 21.25) == ["lid_on_scale:about 20.00 g in 4 rows"]


def test_a_lid_has_to_be_more_than_one_and_a_half_steps(memory: sqlite3.Connection) -> None:
    assert lid(memory, 0.25, *[0.375] * 5) == []
    assert lid(memory, 0.25, *[0.4375] * 5) == ["lid_on_scale:about 0.44 g in 5 rows"]


def test_gaps_that_are_nothing_or_below_are_not_counted_for_a_lid(memory: sqlite3.Connection) -> None:
    assert lid(memory, 0.25, *[2.0] * 5, 0.0, -2.0) == ["lid_on_scale:about 2.00 g in 5 rows"]
    assert lid(memory, 0.25, *[2.0] * 4, 0.0) == []


def test_a_lid_is_in_half_of_the_rows_at_least(memory: sqlite3.Connection) -> None:
    assert lid(memory, 0.25, *[2.0] * 5, accepted=10) == ["lid_on_scale:about 2.00 g in 5 rows"]
    assert lid(memory, 0.25, *[2.0] * 5, accepted=11) == []
