"""What is typed after ``import`` and cannot be used is refused in words, never left aside. All cells are invented."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest

SHEET = "date,diff,Dry weight (g),Laune\n2026-04-03,K-01,12.5,fine\n"


@pytest.fixture(autouse=True)
def sheet(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("season.csv").write_text(SHEET, encoding="utf-8")


def test_a_map_for_a_heading_that_is_not_there_is_refused_with_near_ones(bevelbook: Any, db: Path) -> None:
    done = bevelbook("--db", db, "import", "season.csv", "--map", "Laun=result_note")
    assert done.code == 2
    assert 'the file has no heading "Laun"' in done.out
    assert "Did you mean Laune?" in done.out
    done = bevelbook("--db", db, "import", "season.csv", "--map", "nope=fluid")
    assert done.code == 2
    assert "Its headings: date, diff, Dry weight (g), Laune." in done.out
    assert bevelbook("import", "season.csv", "--map", "nope=fluid", "--write-profile", "new.yaml").code == 2
    assert not Path("new.yaml").exists()


@pytest.mark.parametrize("named", ["laune", "LAUNE:", "Dry weight (g)", "dry_weight"])
def test_a_map_names_a_heading_as_it_is_written_or_without_its_unit(bevelbook: Any, db: Path, named: str) -> None:
    field = "result_note" if named.lower().startswith("laune") else "dry_mass_g"
    assert bevelbook("--db", db, "import", "season.csv", "--map", f"{named}={field}").code == 0


def test_headings_of_a_profile_that_are_not_there_are_a_warning(bevelbook: Any, db: Path) -> None:
    Path("ours.yaml").write_text("columns:\n  Laune: result_note\n  Wetter: ignore\n", encoding="utf-8")
    done = bevelbook("--db", db, "import", "season.csv", "--profile", "ours.yaml")
    assert done.code == 0
    assert "headings_not_there:wetter" in done.out
    assert "headings_not_there" not in bevelbook("--db", db, "import", "season.csv", "--profile", "german").out


def test_all_sheets_together_have_the_headings_that_are_named(bevelbook: Any, db: Path) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    for sheet, last in ((book.active, "Laune"), (book.create_sheet("second"), "Wetter")):
        sheet.append(["date", "diff", "dry mass", last])
        sheet.append(["2026-04-03", "K-01", 12.5, "fine"])
    packed = io.BytesIO()
    book.save(packed)
    Path("book.xlsx").write_bytes(packed.getvalue())
    given = ("--db", db, "import", "book.xlsx", "--sheet", "all")
    done = bevelbook(*given, "--map", "Wettr=result_note")
    assert done.code == 2
    assert "Did you mean Wetter?" in done.out
    assert bevelbook(*given, "--map", "Wetter=result_note", "--map", "Laune=result_note").code == 0


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--map", "Laune=result_note", "--map", "laune=ignore"), "a heading is given two meanings"),
        (("--set", "builder=ana", "--set", "builder=ben"), "a column is given two meanings"),
        (("--sheet", "K-01", "--sheet", "K-02"), "Give --sheet once"),
        (("--decimal", ".", "--decimal", ","), "Give --decimal once"),
    ],
)
def test_what_is_given_twice_is_refused(bevelbook: Any, db: Path, options: tuple[str, ...], said: str) -> None:
    done = bevelbook("--db", db, "import", "season.csv", *options)
    assert done.code == 2
    assert said in done.err


@pytest.mark.parametrize(
    ("target", "said"),
    [
        ("nowhere/x.yaml", "the profile cannot be written"),
        ("season.csv/x.yaml", "the profile cannot be written"),
        ("x" * 300, "A name of 300 characters is too long for this disk"),
    ],
)
def test_a_profile_that_cannot_be_written_is_said_in_words(bevelbook: Any, target: str, said: str) -> None:
    done = bevelbook("import", "season.csv", "--write-profile", target)
    assert done.code == 2
    assert said in done.err
