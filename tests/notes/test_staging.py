"""The stage of an import: what is put into it, in which order it comes out, and that it can be emptied. Constructed."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

import pytest

from bevelbook.notes.note_columns import NAMES
from bevelbook.notes.notes_of_stage import notes_of
from bevelbook.notes.staging import Stage, empty_database


@pytest.fixture
def stage() -> Iterator[Stage]:
    connection: sqlite3.Connection = empty_database()
    yield Stage(connection, NAMES, ["date", "diff", "runs"])
    connection.close()


def fill(stage: Stage) -> None:
    stage.add_rows(
        [2, 3, 4],
        {"date": ["2026-05-02", "2026-05-01", "2026-05-02"], "diff": ["a", "b", "c"], "runs": [1.0, None, 2.0]},
    )
    stage.add_left(
        [(6, "skipped", "blank", None, None, None, ("", "")), (5, "rejected", "x", "runs", "v", "w", ("é",))]
    )
    stage.add_finding(4, "duplicate_row")
    stage.add_finding(3, "duplicate_row")
    stage.add_extras([(3, '{"colour": "red"}'), (2, '{"colour": "blue"}')])


def test_rows_come_by_line_or_by_day_and_line(stage: Stage) -> None:
    fill(stage)
    assert [line for line, _ in stage.in_order()] == [3, 2, 4]
    assert [row[0] for row in stage.rows()] == [2, 3, 4]
    assert next(row for _, row in stage.in_order()) == ("2026-05-01", "b", None)
    assert [one.line for one in stage.left()] == [5, 6]
    assert [one.raw for one in stage.left("rejected")] == ['["é"]']
    assert list(map(tuple, stage.findings())) == [(3, "duplicate_row"), (4, "duplicate_row")]
    assert [line for line, _ in stage.extras()] == [2, 3]
    assert stage.accepted == 3


def test_nothing_is_left_in_a_stage_that_was_emptied(stage: Stage) -> None:
    fill(stage)
    stage.clear()
    assert [list(found) for found in (stage.in_order(), stage.left(), stage.findings(), stage.extras())] == [[]] * 4
    assert (stage.accepted, stage.left_counts(), stage.finding_counts) == (0, {}, {})
    fill(stage)
    assert (stage.accepted, stage.finding_counts["duplicate_row"]) == (3, 2)


def test_only_the_rows_of_some_days_or_on_some_lines_can_be_read(stage: Stage) -> None:
    fill(stage)
    assert [line for line, _ in stage.in_order(["2026-05-02"])] == [2, 4]
    assert list(stage.in_order([])) == []
    assert list(stage.on_lines([4, 9, 3])) == [(4, ("2026-05-02", "c", 2.0)), (3, ("2026-05-01", "b", None))]


def test_a_row_has_the_same_id_whether_all_days_are_read_or_its_own(stage: Stage) -> None:
    days = ["2026-05-01", "2026-05-02", "2026-05-02", "2026-05-02"]
    stage.add_rows([2, 3, 4, 5], {"date": days, "diff": ["a", "a", "b", "a"], "runs": [None] * 4})
    found = list(notes_of(stage))
    assert [(one.line, one.occurrence) for one in found] == [(2, 0), (3, 0), (4, 0), (5, 1)]
    assert len({one.note for one in found}) == 4
    assert list(notes_of(stage, ["2026-05-02"])) == found[1:]


def test_a_block_of_long_rows_has_fewer_of_them(stage: Stage) -> None:
    days = [f"2026-05-{day:02}" for day in range(1, 29)]
    long = {"date": days * 20, "diff": ["x" * 90_000] * 560, "runs": [1.0] * 560}
    stage.add_rows([*range(2, 562)], long)
    found = [len(block) for block in stage.in_blocks(1_000)]
    assert (sum(found), max(found) <= 100) == (560, True)
    assert sorted(line for line, _ in stage.in_order()) == [*range(2, 562)]
