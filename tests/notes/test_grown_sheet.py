"""A sheet that grew: only its new rows, and the rows of their days, are looked at closely. All data are constructed."""

from __future__ import annotations

import io
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from bevelbook.notes import changed_rows, importing
from bevelbook.notes.bulk import Bulk
from bevelbook.notes.importing import import_notes
from bevelbook.notes.notes_of_stage import notes_of
from bevelbook.notes.report import Report
from bevelbook.notes.settings import Settings
from bevelbook.notes.staging import Stage
from bevelbook.store.opening import open_for_writing

HEAD = "date,diff,oil_mass_g,viscosity_cst,total_mass_g,runs,result_note\n"
SHEET = HEAD + "".join(
    f"2026-05-{day:02},q{diff},1.8{diff},5000,,,\n2026-05-{day:02},q{diff},,,14.2{diff},,\n"
    f"2026-05-{day:02},q{diff},,,,{1 + day},note {day}\n"
    for day in range(1, 21)
    for diff in (1, 2)
)


@pytest.fixture
def connection(db: Path) -> Iterator[sqlite3.Connection]:
    found = open_for_writing(db)
    yield found
    found.close()


def bring(connection: sqlite3.Connection, db: Path, text: str) -> Report:
    return import_notes(io.BytesIO(text.encode()), "s.csv", connection, db, Settings())


def test_what_the_database_has_of_many_rows_is_looked_up_at_once_and_in_their_order(
    connection: sqlite3.Connection, db: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    notes: list[str] = []

    def noted(stage: Stage, *rest: object) -> changed_rows.FoundChanges:
        notes.extend(one.note for one in notes_of(stage))
        return changed_rows.FoundChanges()

    monkeypatch.setattr(importing, "look_for_changes", noted)
    file = bring(connection, db, SHEET).note_file or ""
    bulk = Bulk(connection, note_file=file, stamp="", by=None)
    asked = [*notes[:3], "no-such-note", notes[-1]]
    assert bulk.owners_of(asked) == [file, file, file, None, file]
    known = bulk.known(asked)
    assert [one is not None for one in known] == [True, True, True, False, True]
    assert [one.build.day if one and one.build else None for one in known] == ["2026-05-01", *[None] * 4]
    again = Bulk(connection, note_file=file, stamp="", by=None, again=True)
    assert again.known(asked) == [None] * 5
    assert again.owners_of(asked) == bulk.owners_of(asked)


@pytest.mark.parametrize(
    ("new", "days"),
    [
        ("2026-06-01,q1,,,,2,after the season\n", []),
        ("2026-05-03,q3,,,,2,another diff\n", []),
        ("2026-05-03,q1,,,,9,a second run\n", [["2026-05-03"]]),
        ("2026-05-03,q1,,,,9,a\n2026-05-04,q3,,,,9,b\n2026-05-05,q2,,,,9,c\n", [["2026-05-03", "2026-05-05"]]),
    ],
)
def test_only_days_with_a_new_row_beside_an_earlier_one_of_its_diff_are_compared(
    connection: sqlite3.Connection, db: Path, monkeypatch: pytest.MonkeyPatch, new: str, days: list[list[str]]
) -> None:
    bring(connection, db, SHEET)
    read: list[list[str] | None] = []
    in_blocks = Stage.in_blocks

    def noted(stage: Stage, size: int, days: set[str] | None = None) -> Iterator[list[tuple[int, tuple[object, ...]]]]:
        read.append(None if days is None else sorted(days))
        return in_blocks(stage, size, days)

    monkeypatch.setattr(Stage, "in_blocks", noted)
    report = bring(connection, db, SHEET + new)
    assert (report.added, report.known) == (new.count("\n"), 120)
    assert [one for one in read if one is not None] == days
    assert read.count(None) == 2, "once for what is new, once for writing"


def test_a_row_that_was_corrected_is_still_found_among_those_of_its_day(
    connection: sqlite3.Connection, db: Path
) -> None:
    bring(connection, db, SHEET)
    report = bring(
        connection, db, SHEET.replace("14.21,,\n2026-05-07", "14.11,,\n2026-05-07", 1) + "2026-06-01,q1,,,,2,\n"
    )
    ((changed,),) = [[one.row for one in report.changed]]
    assert [(one.column, one.before, one.now) for one in changed.differences] == [("total_mass_g", 14.21, 14.11)]
    assert report.added == 1
