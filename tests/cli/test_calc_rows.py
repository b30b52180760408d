"""``bevelbook calc NAME --rows``: a calculator for every row of a table.

The numbers are arithmetic, or what the same calculator gives for one row alone.
"""

from __future__ import annotations

import csv
import io
import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from conftest import Outcome, empty_database

from bevelbook.cli import calc_rows

Command = Callable[..., Outcome]
SETTINGS = ("--scale-step", "0.01", "--repeatability", "0.002")


@pytest.fixture
def rows(bevelbook: Command, tmp_path: Path) -> Callable[..., Outcome]:
    """Works out a table given as text or bytes, with further options."""

    def run(text: str | bytes, *options: object) -> Outcome:
        (tmp_path / "table.csv").write_bytes(text.encode() if isinstance(text, str) else text)
        return bevelbook("calc", "fill-target", "--rows", "table.csv", *options)

    return run


def read(text: str, delimiter: str = ",") -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text), delimiter=delimiter))


def test_each_row_has_what_the_calculator_says_of_it_alone(rows: Command, bevelbook: Command) -> None:
    table = 'driver,dry mass (oz),oil_mass_g,note\nAnna,0.43,1.86,=1+1\nBen,0.5,"1,9",\nCleo,12.40 g,1860 mg,\n'
    done = rows(table, *SETTINGS)
    assert done.code == 0
    found = read(done.out)
    assert [row["driver"] for row in found] == ["Anna", "Ben", "Cleo"]
    assert [row["note"] for row in found] == ["=1+1", "", ""]  # as it came
    assert list(found[0])[:5] == ["driver", "dry mass (oz)", "oil_mass_g", "note", "stop mass [g]"]
    assert list(found[0])[-3:] == ["verdict", "reasons", "error"]
    # one avoirdupois ounce is 28.349523125 g exactly (international yard and pound agreement of 1959, from memory)
    assert float(found[0]["stop mass [g]"]) == pytest.approx(0.43 * 28.349523125 + 1.86, abs=1e-9)
    assert float(found[2]["stop mass [g]"]) == pytest.approx(12.40 + 1.86, abs=1e-9)
    words = ("--dry-mass", "12.40 g", "--oil-mass", "1.86 g", *SETTINGS, "--json")
    alone = bevelbook("calc", "fill-target", *words).json
    assert float(found[2]["stop low [g]"]) == alone["outputs"]["stop_low_g"]
    assert (found[2]["verdict"], found[2]["reasons"]) == (
        alone["verdict"],
        "; ".join((*alone["reasons"], *alone["findings"])),
    )
    assert "read: dry mass from 'dry mass (oz)', in oz; oil mass from 'oil_mass_g'." in done.err
    assert "passed on as they are: driver, note." in done.err


def test_a_row_that_cannot_be_worked_out_stays_with_its_reason(rows: Command) -> None:
    table = "dry-mass,Oil mass [g]\n12.4,1.86\nheavy,1.86\n-3,1.86\n,\n12.4,\n12.4,1.86,12.5\n"
    done = rows(table)
    assert done.code == 1
    found = read(done.out)
    assert [bool(row["stop mass [g]"]) for row in found] == [True, False, False, False, False, False]
    errors = [row["error"] for row in found]
    assert (errors[0], errors[3]) == ("", "")
    assert 'dry mass: not a number, found "heavy"' in errors[1]
    assert "dry mass: out of its bounds" in errors[2]
    assert "needs oil mass or free volume" in errors[4]
    assert "more cells than there are headings: 12.5" in errors[5]
    assert "4 rows could not be worked out" in done.err
    assert 'line 3: dry mass: not a number, found "heavy"' in done.err
    assert "and 1 more" in done.err


def test_a_table_with_semicolons_and_decimal_commas_comes_back_so(rows: Command) -> None:
    table = "\ufeffTester;dry mass;oil mass\r\nÄnne;12,4;1,860\r\n"
    done = rows(table)
    assert done.code == 0
    assert done.out.startswith("\ufeffTester;dry mass;oil mass;stop mass [g];")
    (row,) = read(done.out.removeprefix("\ufeff"), ";")
    assert (row["Tester"], row["oil mass"], row["stop mass [g]"]) == ("Änne", "1,860", "14,26")
    assert "numbers have a decimal comma, in the results as well" in done.err
    # nothing proves the mark of 1,860: its size says that it cannot be a thousand
    assert read(rows("dry mass;oil mass\n12;1,860\n").out, ";")[0]["stop mass [g]"] == "13.86"
    said = rows("dry mass;oil mass\n12;1,860\n", "--decimal", ",")
    assert read(said.out, ";")[0]["stop mass [g]"] == "13,86"
    old = rows("Tester;dry mass;oil mass\nÄnne;12.4;1.86\n".encode("cp1252"))
    assert read(old.out, ";")[0]["Tester"] == "Änne"
    assert "not in UTF-8; it is read as cp1252" in old.err


def test_uncertainty_that_was_typed_is_in_the_results(rows: Command, bevelbook: Command) -> None:
    done = rows("dry mass [g],oil mass\n12.40 ± 0.01 (k = 1),1.86\n", *SETTINGS)
    (row,) = read(done.out)
    words = ("--dry-mass", "12.40 ± 0.01 g (k = 1)", "--oil-mass", "1.86", *SETTINGS, "--json")
    alone = bevelbook("calc", "fill-target", *words).json
    assert float(row["stop mass ± (k = 2) [g]"]) == pytest.approx(2 * alone["standard_uncertainties_k1"]["stop_mass_g"])


def test_an_option_holds_where_a_row_is_empty_and_in_its_own_unit(rows: Command) -> None:
    done = rows("dry mass [mg],oil mass\n12400,1.86\n,1.86\n", "--dry-mass", "12.5")
    assert [float(row["stop mass [g]"]) for row in read(done.out)] == [14.26, 14.36]


def test_a_listing_is_written_in_one_cell(bevelbook: Command, tmp_path: Path) -> None:
    (tmp_path / "t.csv").write_text("blend,part\nA,7000:3; 10000:1\nB,7000 cSt:3 g\n", encoding="utf-8")
    done = bevelbook("calc", "blend", "--rows", "t.csv", "--json")
    found = [json.loads(line) for line in done.out.splitlines()]
    assert found[0]["inputs"]["parts"] == [
        {"viscosity_cst": 7000.0, "mass_g": 3.0},
        {"viscosity_cst": 10000.0, "mass_g": 1.0},
    ]
    assert (found[0]["line"], found[0]["row"]["blend"]) == (2, "A")
    assert found[1]["line"] == 3


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("dry weight [g],oil mass\n12,1\n", "no column dry_mass_g. If 'dry weight [g]' is the dry_mass_g, call it"),
        ("dry mass,dry_mass_g,oil mass\n1,1,1\n", "two columns give the dry mass"),
        ("dry mass [kPa],oil mass\n1,1\n", '"kPa" is a unit of a pressure'),
        ("dry_mass_g [oz],oil mass\n1,1\n", "the heading says two units"),
        ("dry mass\n12.4\n", "does not give enough"),
        ("", "the file is empty"),
        (b"PK\x03\x04 a workbook", "a workbook or a packed file"),
    ],
    ids=str,
)
def test_a_table_that_cannot_be_used_is_refused_whole(rows: Command, table: str | bytes, words: str) -> None:
    done = rows(table)
    assert (done.code, done.out) == (2, "")
    assert words in done.err


def test_results_go_to_a_file_and_are_kept_row_by_row(rows: Command, tmp_path: Path) -> None:
    empty_database(tmp_path / "bevelbook.db")
    table = "dry mass,oil mass,stop mass [g]\n12.4,1.86,x\n12.5,1.86,y\n12.4,1.86,z\n"
    done = rows(table, "--keep", "--to", "out.csv")
    assert (done.code, done.out) == (0, "")
    assert "3 rows worked out, written to out.csv" in done.err
    assert "3 kept, 2 of them new" in done.err
    found = read((tmp_path / "out.csv").read_text(encoding="utf-8"))
    assert [row["stop mass [g]"] for row in found] == ["x", "y", "z"]
    assert [row["stop mass [g] (fill-target)"] for row in found] == ["14.26", "14.36", "14.26"]
    with closing(sqlite3.connect(tmp_path / "bevelbook.db")) as connection:
        assert connection.execute("SELECT count(*) FROM calculations").fetchone() == (2,)
        assert connection.execute("SELECT count(*) FROM entries WHERE asked LIKE '%--rows%'").fetchone() == (1,)
    again = rows(table, "--to", "out.csv")
    assert (again.code, "file_exists" in again.err or "already" in again.err) == (2, True)
    assert rows(table, "--to", "out.csv", "--replace").code == 0
    assert "would be written over" in rows(table, "--to", "table.csv", "--replace").err


def test_what_belongs_to_a_table_is_refused_without_one(bevelbook: Command) -> None:
    done = bevelbook("calc", "fill-target", "--dry-mass", "12.4", "--to", "x.csv")
    assert (done.code, "--to belongs to --rows FILE" in done.err) == (2, True)
    done = bevelbook("calc", "fill-target", "--rows", "x.csv", "--all", "build")
    assert (done.code, "goes without --all" in done.err) == (2, True)


def test_a_kept_result_of_a_row_with_other_figures_is_said(rows: Command, tmp_path: Path) -> None:
    empty_database(tmp_path / "bevelbook.db")
    table = "dry mass,oil mass\n12.4,1.86\n12.5,1.86\n"
    assert rows(table, "--keep").code == 0
    with closing(sqlite3.connect(tmp_path / "bevelbook.db")) as connection, connection:
        connection.execute(
            "UPDATE calculations SET found = json_set(found, '$.stop_mass_g', 99.0) WHERE given LIKE '%12.5%'"
        )
    done = rows(table, "--keep", "--json")
    assert done.code == 1
    first, second = map(json.loads, done.out.splitlines())
    assert "differs" not in first["kept"] and second["kept"]["differs"]["figures"][0]["kept"].startswith("99")
    assert "with other figures: stop mass 14.36 g now, 99.00 g kept" in done.err


def test_results_are_kept_to_the_end_where_nobody_reads_them_any_more(
    rows: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    empty_database(tmp_path / "bevelbook.db")

    def gone(*_: object) -> None:
        raise BrokenPipeError

    monkeypatch.setattr("bevelbook.cli.group.print_no_more", lambda: None)
    monkeypatch.setattr(calc_rows, "_csv_writer", lambda *_, **__: gone)
    assert rows("dry mass,oil mass\n12.4,1.86\n12.5,1.86\n", "--keep").code == 0
    with closing(sqlite3.connect(tmp_path / "bevelbook.db")) as connection:
        assert connection.execute("SELECT count(*) FROM calculations").fetchone() == (2,)


def test_an_input_with_the_name_of_one_of_these_options_keeps_it() -> None:
    names = {option.opts[0] for option in calc_rows.options({"--to"})}
    assert names == {"--rows", "--replace", "--decimal"}


def test_a_heading_below_empty_lines_and_a_hint_is_found_and_no_column_is_lost(rows: Command) -> None:
    done = rows('sep=;\n\n ;\n"dry mass";oil mass;note;note;\r\n12.4;1.86;"a\nb";c;d\r\n', "--json")
    (line,) = map(json.loads, done.out.splitlines())
    assert list(line["row"].values()) == ["12.4", "1.86", "a\nb", "c", "d"]
    assert (line["line"], line["outputs"]["stop_mass_g"]) == (5, 14.26)
    old = rows("dry mass\toil mass\n12.4\t1.86\n".encode("utf-16"))
    assert old.out.splitlines()[1].split("\t")[:3] == ["12.4", "1.86", "14.26"]
