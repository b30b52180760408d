"""Names that an import adds beside names that look the same. All names are invented."""

from __future__ import annotations

import io
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from bevelbook.notes.importing import import_notes
from bevelbook.notes.settings import Settings

Bring = Callable[..., list[str]]


@pytest.fixture
def bring(database: sqlite3.Connection, path: Path) -> Bring:
    """The warnings about names of an import, given as its lines."""

    def run(*lines: str, name: str = "notes.csv", dry_run: bool = False) -> list[str]:
        file = io.BytesIO("\n".join([*lines, ""]).encode())
        report = import_notes(file, name, database, path, Settings(today="2026-06-30"), dry_run=dry_run)
        return [one for one in report.warnings if one.startswith(("similar", "one_name"))]

    return run


def test_diffs_people_venues_and_fluids_are_each_said_once(bring: Bring, database: sqlite3.Connection) -> None:
    lines = (
        "date,builder,diff,fluid,venue,oil_mass_g,runs",
        "2026-05-02,Ana B,R-07,house 7k,hall north,1.35,1",
        "2026-05-03,ana b,r 07,House 7K,Hall North,1.36,2",
        "2026-05-04,Ana-B,R–07,house-7k,hall-north,1.37,3",
    )
    said = {
        "similar_names:hall north|Hall North|hall-north",
        "similar_names:Ana B|ana b|Ana-B",
        "similar_names:R-07|r 07|R–07",
        "similar_names:house 7k|House 7K|house-7k",
    }
    dry = bring(*lines, dry_run=True)
    assert said == set(dry)
    assert bring(*lines) == dry
    assert database.execute("SELECT count(*) FROM diffs").fetchone()[0] == 3, "they are kept apart"
    assert database.execute("SELECT count(*) FROM people").fetchone()[0] == 2, "case and blanks make no other name"
    assert bring(*lines) == [], "nothing is added, so nothing is said"


def test_a_name_is_held_against_those_in_the_database(bring: Bring, database: sqlite3.Connection) -> None:
    assert bring("date,diff,oil_mass_g", "2026-05-02,K-01,1.35") == []
    later = bring("date,diff,oil_mass_g", "2026-05-03,\u041a-01,1.36", "2026-05-03,K-02,1.36", name="later.csv")
    assert later == ["similar_names:K-01|\u041a-01 (U+041A)"]
    assert bring("date,diff,oil_mass_g", "2026-05-04,\u041a-01,1.36", name="third.csv") == []


def test_spellings_that_are_one_by_the_rule_for_case_are_said_to_be_one(
    bring: Bring, database: sqlite3.Connection
) -> None:
    said = bring("date,builder,diff,oil_mass_g", "2026-05-02,Ana,K-01,1.35", "2026-05-03,ana,K-01,1.36")
    assert said == ["one_name:Ana|ana"]
    assert [row[0] for row in database.execute("SELECT name FROM people")] == ["Ana"]


def test_a_name_of_a_rejected_row_is_not_named(bring: Bring) -> None:
    assert bring("date,diff,oil_mass_g", "2026-05-02,K-01,1.35", "2026-05-03,k-01,much") == []


def test_many_groups_are_cut_with_their_number(bring: Bring) -> None:
    rows = [f"2026-05-02,R{mark}{name},1.35" for name in range(100, 123) for mark in "- "]
    said = bring("date,diff,oil_mass_g", *rows)
    assert len(said) == 21
    assert said[-1] == "similar_names:and 3 more groups"


def test_a_name_kept_with_marks_that_nobody_sees_is_found_without_them(
    bring: Bring, database: sqlite3.Connection
) -> None:
    """As version 0.1.0 kept them: with direction marks, in quotes, with the apostrophe of a spreadsheet."""
    bring("date,diff,oil_mass_g", "2026-05-02,K-01,1.35", "2026-05-02,K-02,1.35", "2026-05-02,K-03,1.35")
    for plain, kept in (("K-01", "K-01\u200f"), ("K-02", "“K-02”"), ("K-03", "'K-03")):
        database.execute("UPDATE diffs SET label = ? WHERE label = ?", (kept, plain))
    bring("date,diff,oil_mass_g", *(f"2026-05-03,K-0{n},1.36" for n in (1, 2, 3)), name="later.csv")
    assert database.execute("SELECT count(*) FROM diffs").fetchone()[0] == 3
    assert database.execute("SELECT count(*) FROM builds").fetchone()[0] == 6
