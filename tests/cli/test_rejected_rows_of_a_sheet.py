"""The rejected rows of a sheet, corrected and imported: read as their sheet was. All cells are invented."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest
from asked import asked
from conftest import Outcome

Bring = Callable[..., Outcome]
TRACK = "SELECT b.built_on, r.track_temp_c FROM builds b JOIN runs r ON r.run_on = b.built_on ORDER BY 1"
DAYS = "SELECT built_on FROM builds ORDER BY 1"


@pytest.fixture
def bring(bevelbook: Any, db: Path, tmp_path: Path) -> Bring:
    def run(name: str, text: str, *options: str) -> Outcome:
        (tmp_path / name).write_text(text, encoding="utf-8")
        done: Outcome = bevelbook("--db", db, "import", name, *options)
        return done

    return run


@pytest.fixture
def correct(bevelbook: Any, db: Path, tmp_path: Path) -> Bring:
    """Correct the rejected rows of a sheet in their file and import that."""

    def run(name: str, wrong: str, right: str, *options: str) -> Outcome:
        path = tmp_path / name
        text = path.read_text(encoding="utf-8-sig")
        assert wrong in text
        path.write_text(text.replace(wrong, right), encoding="utf-8-sig")
        done: Outcome = bevelbook("--db", db, "import", name, *options)
        return done

    return run


def lines(*rows: str) -> str:
    return "\n".join(rows) + "\n"


OF_TEMPERATURES = lines("date,diff,oil mass,track temp", "2024-02-14,Z1,1.35,60", "2024-02-15,Z2,1.3x,59")


def test_the_unit_that_was_said_for_the_sheet_holds(bring: Bring, correct: Bring, db: Path) -> None:
    assert bring("x.csv", OF_TEMPERATURES, "--temp-unit", "F").code == 1
    done = correct("x.rejected.csv", "1.3x", "1.36")
    assert done.code == 0
    assert "read_as_sheet:x.csv" in done.out.replace("  ", ":")
    assert asked(db, TRACK)[1] == ("2024-02-15", pytest.approx(15.0))


def test_the_unit_that_the_whole_column_of_the_sheet_proves_holds(bring: Bring, correct: Bring, db: Path) -> None:
    assert bring("x.csv", OF_TEMPERATURES.replace("60", "75")).code == 1
    assert correct("x.rejected.csv", "1.3x", "1.36").code == 0
    assert asked(db, TRACK)[1] == ("2024-02-15", pytest.approx(15.0))


@pytest.mark.parametrize(
    ("first", "second", "option", "meant"),
    [
        ("140224", "30224", ("--date-order", "dmy"), "2024-02-03"),
        ("43874", "43875", ("--date-base", "1904"), "2024-02-15"),
        ("03/04/24", "03/05/24", ("--date-order", "dmy"), "2024-05-03"),
        ("13/04/2024", "03/05/2024", (), "2024-05-03"),
        ("14 Feb", "15 Feb", ("--year", "2024"), "2024-02-15"),
    ],
)
def test_days_are_read_as_in_the_sheet(
    bring: Bring, correct: Bring, db: Path, first: str, second: str, option: Sequence[str], meant: str
) -> None:
    bring("x.csv", lines("date,diff,oil mass", f"{first},Z1,1.35", f"{second},Z1,1.3x"), *option)
    done = correct("x.rejected.csv", "1.3x", "1.36")
    assert done.code == 0
    assert (meant,) in asked(db, DAYS)
    assert "day_number" not in done.out or option[0] == "--date-base"


def test_what_a_heading_means_is_known_for_the_rejected_rows(bring: Bring, correct: Bring, db: Path) -> None:
    sheet = lines("Tag,diff,oil mass,foo,Oil,runs", "2024-02-14,Z1,1.35,fine,7k,2", "2024-02-15,Z2,1.3x,loose,10000,3")
    bring("x.csv", sheet, "--map", "foo=result_note", "--map", "Tag=date")
    assert correct("x.rejected.csv", "1.3x", "1.36").code == 0
    assert asked(db, "SELECT note FROM runs ORDER BY run_on") == [("fine",), ("loose",)]
    assert asked(db, "SELECT label FROM fluids ORDER BY 1") == [("10000",), ("7k",)]


def test_a_heading_of_the_teams_own_words_is_found(bring: Bring, correct: Bring, db: Path) -> None:
    maps = ("--map", "kuva=date", "--map", "lota=diff", "--map", "sisu=oil_mass_g")
    bring("x.csv", lines("kuva;lota;sisu", "2024-02-14;Z1;1,35", "2024-02-15;Z2;1,3x"), *maps)
    assert correct("x.rejected.csv", "1,3x", "1,36").code == 0
    assert asked(db, DAYS) == [("2024-02-14",), ("2024-02-15",)]


def test_a_decimal_mark_that_the_sheet_proves_holds(bring: Bring, correct: Bring, db: Path) -> None:
    bring("x.csv", lines("date;diff;oil mass;cst", "2024-02-14;Z1;1,35;7000", "2024-02-15;Z2;1,3x;100,000"))
    assert correct("x.rejected.csv", "1,3x", "2").code == 0
    assert asked(db, "SELECT viscosity_cst FROM builds WHERE built_on = '2024-02-15'") == [(100.0,)]


def test_what_is_said_with_the_rejected_rows_comes_first(bring: Bring, correct: Bring, db: Path) -> None:
    bring("x.csv", OF_TEMPERATURES, "--temp-unit", "F")
    assert correct("x.rejected.csv", "1.3x", "1.36", "--temp-unit", "C").code == 0
    assert asked(db, TRACK)[1] == ("2024-02-15", 59)


@pytest.mark.parametrize("said", [("--temp-unit", "C"), ()])
def test_what_was_proven_in_the_sheet_gives_way_to_what_is_said(
    bring: Bring, correct: Bring, db: Path, said: Sequence[str]
) -> None:
    bring("x.csv", OF_TEMPERATURES.replace("60", "75"))
    assert correct("x.rejected.csv", "1.3x", "1.36", *said).code == 0
    assert asked(db, TRACK)[1] == ("2024-02-15", 59 if said else pytest.approx(15.0))


def test_a_unit_that_the_sheet_leaves_open_is_not_settled_by_fewer_rows(bring: Bring, correct: Bring, db: Path) -> None:
    bring("x.csv", OF_TEMPERATURES.replace("60", "60 F"))
    done = correct("x.rejected.csv", "1.3x", "1.36")
    assert done.code == 1
    assert "temp_unit_unknown" in done.out
    assert correct("x.rejected.csv", "1.36", "1.37", "--temp-unit", "F").code == 0
    assert asked(db, TRACK)[-1] == ("2024-02-15", pytest.approx(15.0))


@pytest.mark.parametrize(
    ("sheet", "reason", "option"),
    [
        (
            ("13/04/2024;Z1;2;", "04/14/2024;Z1;2;", "03/05/2024;Z1;2;", "15/06/2024;Z1;1,3x;"),
            "ambiguous_date",
            ("--date-order", "dmy"),
        ),
        (
            ("2024-02-14;Z1;1.35;", "2024-02-15;Z1;1,35;", "2024-02-16;Z1;2;100,000", "2024-02-17;Z1;1,3x;"),
            "ambiguous_number",
            ("--decimal", ","),
        ),
    ],
)
def test_what_the_sheet_contradicts_itself_in_is_not_settled_by_fewer_rows(
    bring: Bring, correct: Bring, db: Path, sheet: Sequence[str], reason: str, option: Sequence[str]
) -> None:
    bring("x.csv", lines("date;diff;oil mass;cst", *sheet))
    done = correct("x.rejected.csv", "1,3x", "1,36")
    assert (done.code, done.out.count(f" {reason} ")) == (1, 1)
    assert correct("x.rejected.csv", "1,36", "1,36", *option).code == 0


def test_rejected_rows_that_are_split_are_read_as_their_sheet(
    bring: Bring, correct: Bring, db: Path, tmp_path: Path
) -> None:
    profile = tmp_path / "ours.yaml"
    profile.write_text('split:\n  at: "/"\n  into: [front, rear]\n  columns: [diff]\n', encoding="utf-8")
    bring("x.csv", OF_TEMPERATURES.replace("Z2", "Z2/Z3"), "--temp-unit", "F")
    assert correct("x.rejected.csv", "1.3x", "1.36", "--profile", str(profile)).code == 0
    temps = asked(db, "SELECT track_temp_c FROM runs WHERE run_on = '2024-02-15'")
    assert temps == [(pytest.approx(15.0),)] * 2


def test_rejected_rows_are_known_by_their_lines_under_any_name(bring: Bring, correct: Bring, db: Path) -> None:
    bring("x.csv", OF_TEMPERATURES, "--temp-unit", "F", "--rejects", "mine.csv")
    assert correct("mine.csv", "1.3x", "1.36").code == 0
    assert asked(db, TRACK)[1] == ("2024-02-15", pytest.approx(15.0))


def test_reading_rejected_rows_again_reads_them_as_their_sheet(
    bevelbook: Any, bring: Bring, correct: Bring, db: Path
) -> None:
    bring("x.csv", OF_TEMPERATURES, "--temp-unit", "F")
    correct("x.rejected.csv", "1.3x", "1.36")
    again = bevelbook("--db", db, "import", "--again", "x.rejected.csv", "--dry-run")
    assert "No record would change." in again.out
    assert bevelbook("--db", db, "take-back", "1", "--yes").code == 0
    again = bevelbook("--db", db, "import", "--again", "x.rejected.csv", "--dry-run")
    assert "No record would change." in again.out


def test_without_the_sheet_the_rows_are_read_by_themselves_and_it_is_said(
    bevelbook: Any, bring: Bring, correct: Bring, tmp_path: Path
) -> None:
    bring("x.csv", OF_TEMPERATURES, "--temp-unit", "F")
    other = tmp_path / "other.db"
    assert bevelbook("--db", other, "new").code == 0
    text = (tmp_path / "x.rejected.csv").read_text(encoding="utf-8-sig").replace("1.3x", "1.36")
    (tmp_path / "x.rejected.csv").write_text(text, encoding="utf-8")
    done = bevelbook("--db", other, "import", "x.rejected.csv")
    assert "sheet_not_held" in done.out
    assert "say again what was said for the sheet" in " ".join(done.out.split())


def test_a_sheet_with_columns_of_those_names_is_read_for_itself(bring: Bring) -> None:
    text = lines("date,diff,oil mass,line,reason,column", "2024-02-14,Z1,1.35,3,new oil,4")
    done = bring("x.csv", text)
    assert done.code == 0
    assert "sheet_not_held" not in done.out


def test_the_rejected_rows_of_a_sheet_of_a_workbook_are_read_as_it_was(
    bevelbook: Any, correct: Bring, db: Path, tmp_path: Path
) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, unit in (("Z1", "F"), ("Z2", "C")):
        page = book.create_sheet(name)
        page.append(["date", "oil mass", "track temp"])
        page.append(["13/04/2024", 1.35, 75 if unit == "F" else 30])
        page.append(["03/05/2024", "1.3x", 59])
    file = io.BytesIO()
    book.save(file)
    (tmp_path / "x.xlsx").write_bytes(file.getvalue())
    assert bevelbook("--db", db, "import", "x.xlsx", "--sheet", "all", "--sheet-as-diff").code == 1
    for name in ("Z1", "Z2"):
        assert correct(f"x.sheet-{name}.rejected.csv", "1.3x", "1.36").code == 0
    found = asked(db, TRACK)
    assert {day for day, _ in found} == {"2024-04-13", "2024-05-03"}
    assert ("2024-05-03", 59) in found
    assert ("2024-05-03", pytest.approx(15.0)) in found


def workbook(path: Path, *rows: Sequence[object], formats: dict[str, str]) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(list(row))
    for place, code in formats.items():
        book.active[place].number_format = code
    file = io.BytesIO()
    book.save(file)
    path.write_bytes(file.getvalue())


def test_numbers_of_a_workbook_read_the_same_from_the_file(
    bevelbook: Any, correct: Bring, db: Path, tmp_path: Path
) -> None:
    """Also where the texts of the sheet have a comma for their decimals, and in a name."""
    rows = [
        ["date", "diff", "oil mass", "dry mass", "total mass", "track temp", "air temp"],
        ["2024-02-14", "Z1", "1,35", 12.5, 13.85, 60, 0.2],
        ["2024-02-15", 1.125, "1,3x", 10.125, 11.485, 59, 0.25],
    ]
    workbook(tmp_path / "x.xlsx", *rows, formats={"F2": '0"°F"', "F3": '0"°F"', "G2": "0%", "G3": "0%"})
    assert bevelbook("--db", db, "import", "x.xlsx").code == 1
    assert "59 °F" in (tmp_path / "x.rejected.csv").read_text(encoding="utf-8")
    done = correct("x.rejected.csv", "1,3x", "1,36")
    assert done.code == 0
    assert "closes 1 rejected row of x.xlsx" in done.out
    found = asked(db, "SELECT b.dry_mass_g, d.label FROM builds b JOIN diffs d ON d.id = b.diff ORDER BY b.built_on")
    assert found[1] == (10.125, "1.125")
    assert asked(db, "SELECT track_temp_c, air_temp_c FROM runs ORDER BY run_on")[1] == (pytest.approx(15.0), 0.25)


def test_a_day_in_place_of_a_name_stays_one(bevelbook: Any, correct: Bring, tmp_path: Path, db: Path) -> None:
    from datetime import datetime

    rows = [["date", "diff", "oil mass"], ["2024-02-14", "Z1", 1.35], ["2024-02-15", datetime(2024, 3, 2), 1.36]]
    workbook(tmp_path / "x.xlsx", *rows, formats={})
    assert bevelbook("--db", db, "import", "x.xlsx").code == 1
    done = correct("x.rejected.csv", "1.36", "1.37")
    assert done.code == 1
    assert "date_in_label" in done.out
    assert correct("x.rejected.csv", "2024-03-02", "3-2").code == 0
