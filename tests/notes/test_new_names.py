"""Before an import is stored it says which names are new, and what it counts is what is stored. All names are
invented."""

from __future__ import annotations

import io
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from bevelbook.notes.importing_parts import import_all
from bevelbook.notes.new_names import NewName, new_name_lines
from bevelbook.notes.report import Report
from bevelbook.notes.settings import Settings

SEASON = (
    "date,diff,builder,fluid,dry mass,oil mass,venue",
    "2026-04-03,K-01,joris,tin 5k,12.5,2.1,Fen Lane",
    "2026-04-04,K-02,joris,tin 7k,12.6,2.2,Fen Lane",
)
CLUB = (
    "date,diff,builder,fluid,dry mass,oil mass,venue",
    "2026-05-03,K-01,jorris,5k,12.5,2.1,Fen-Lane",
    "2026-05-04,K-03,joris,9k,12.6,2.2,Fen Lane",
)
BOOK: dict[str, list[list[object]]] = {
    "Spring": [["date", "diff", "dry mass", "total mass"], ["2026-03-01", "heron", 12.5, 14.4]],
    "Laps": [["date", "diff", "laps"], ["2026-03-01", "heron", 21]],
}
Bring = Callable[..., list[Report]]


@pytest.fixture
def bring(database: sqlite3.Connection, path: Path) -> Bring:
    """The reports of an import, given as the lines of its file or as a workbook."""

    def run(*lines: str, book: bytes = b"", dry_run: bool = False) -> list[Report]:
        file, name = io.BytesIO(book or "\n".join([*lines, ""]).encode()), "two.xlsx" if book else f"{lines[1][:7]}.csv"
        settings = Settings(today="2026-06-30", sheet="all" if book else None)
        return import_all(file, name, database, path, settings, dry_run=dry_run)

    return run


def test_a_new_name_is_said_with_the_known_one_that_it_is_like(bring: Bring, database: sqlite3.Connection) -> None:
    bring(*SEASON)
    (report,) = bring(*CLUB, dry_run=True)
    assert report.new_names == (
        NewName("diff", "K-03", 3),
        NewName("fluid", "5k", 2, ("tin 5k",)),
        NewName("fluid", "9k", 3),
        NewName("person", "jorris", 2, ("joris",)),
        NewName("venue", "Fen-Lane", 2, ("Fen Lane",)),
    )
    assert [*new_name_lines(report.new_names)][:4] == [
        "New diff: K-03.",
        "New oils: 5k, 9k.",
        "New person: jorris.",
        "New venue: Fen-Lane.",
    ]
    lines = [*report.lines()]
    assert "  New oils: 5k, 9k." in lines
    said = 'Is "5k" in line 2 the oil "tin 5k" that the book has? Then stop, write it the same way in the file, and '
    assert f"  {said}bring that in." in lines
    assert database.execute("SELECT count(*) FROM fluids").fetchone()[0] == 2
    assert database.execute("SELECT count(*) FROM note_files").fetchone()[0] == 1, "a dry run writes nothing"
    (stored,) = bring(*CLUB)
    assert (stored.new_names, stored.made) == (report.new_names, report.made)
    assert bring(*CLUB, dry_run=True)[0].new_names == ()


def workbook() -> bytes:
    from openpyxl import Workbook

    book, held = Workbook(), io.BytesIO()
    for name, rows in BOOK.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.remove(book.worksheets[0])
    book.save(held)
    return held.getvalue()


@pytest.mark.parametrize("held", [(), SEASON], ids=("into an empty book", "into a book with notes"))
def test_each_sheet_is_tried_after_those_before_it(
    bring: Bring, database: sqlite3.Connection, held: tuple[str, ...]
) -> None:
    """The laps of the second sheet are on the build of the first."""
    if held:
        bring(*held)
    tried = bring(book=workbook(), dry_run=True)
    assert [one.made for one in tried] == [{"builds": 1}, {"runs": 1}]
    assert [[name.label for name in one.new_names] for one in tried] == [["heron"], []]
    assert all(one.dry_run and one.note_file is None for one in tried)
    assert database.execute("SELECT count(*) FROM builds").fetchone()[0] == (2 if held else 0)
    stored = bring(book=workbook())
    assert [(one.made, one.added, one.new_names) for one in stored] == [
        (one.made, one.added, one.new_names) for one in tried
    ]


def test_many_new_names_are_cut_with_their_number() -> None:
    names = [NewName("diff", f"K-{number}", number) for number in range(1, 12)]
    assert [*new_name_lines(names)] == ["New diffs: K-1, K-2, K-3, K-4, K-5, K-6, K-7, K-8 and 3 more."]
    assert [*new_name_lines([NewName("person", "ana, joris", 2)])] == ['New person: "ana, joris".']
