from __future__ import annotations

import csv
from pathlib import Path

import pytest

import bevelbook_datasets
from bevelbook import reference
from bevelbook.declare.errors import DeclarationError, InputError

TABLES = sorted(
    path.name for path in Path(bevelbook_datasets.__file__).parent.glob("*.csv") if path.name != "citations.csv"
)


@pytest.mark.parametrize("table", TABLES)
def test_every_row_of_every_table_names_a_known_source(table: str) -> None:
    assert reference.rows(table)


def test_a_row_without_a_source_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    texts = {
        "citations.csv": "key,kind,publisher,title,year,where,seen\nk,paper,P,T,2000,p. 1,read\n",
        "table.csv": "value,source\n1,k\n2,\n",
    }
    monkeypatch.setattr(reference, "read_text", lambda package, file: texts[file])
    reference.rows.cache_clear()
    reference.citations.cache_clear()
    with pytest.raises(DeclarationError, match=r"table\.csv, line 3, source"):
        reference.rows("table.csv", "some_package")
    reference.rows.cache_clear()
    reference.citations.cache_clear()


def test_a_citation_that_leaves_something_out_is_refused_with_its_line(monkeypatch: pytest.MonkeyPatch) -> None:
    text = "key,kind,publisher,title,year,where,seen\nk,paper,P,T,2000,p. 1,read\nm,paper,P,T,,,read\n"
    monkeypatch.setattr(reference, "read_text", lambda package, file: text)
    reference.citations.cache_clear()
    with pytest.raises(DeclarationError, match=r"citations\.csv, line 3: a source leaves out year"):
        reference.citations("some_package")
    reference.citations.cache_clear()


@pytest.mark.parametrize(
    ("viscosity_cst", "density_g_cm3"),
    # Specific gravity at 25 °C by grade: Shin-Etsu Chemical Co., Ltd., Silicone Division, Silicone Fluid, Performance
    # Test Results (Technical data), 2014, p. 2.
    [(10, 0.935), (50, 0.960), (100, 0.965), (350, 0.970), (1000, 0.970), (3000, 0.970), (5000, 0.975), (12_500, 0.975),
     (30_000, 0.976), (100_000, 0.977), (1_000_000, 0.978)],
)  # fmt: skip
def test_density_by_grade_is_the_printed_one(viscosity_cst: float, density_g_cm3: float) -> None:
    assert reference.density_25_g_cm3(viscosity_cst) == density_g_cm3


def test_density_between_grades_lies_between_theirs() -> None:
    assert 0.970 < reference.density_25_g_cm3(4000) < 0.975


@pytest.mark.parametrize("viscosity_cst", [0.1, 2e6])
def test_density_outside_the_table_is_refused_with_a_remedy(viscosity_cst: float) -> None:
    with pytest.raises(InputError, match="density_g_cm3"):
        reference.density_25_g_cm3(viscosity_cst)


STATUS_OF_CAUTIONS = ("read", "read (secondary)", "common practice, no source", "from memory, unverified")


@pytest.mark.parametrize("row", reference.rows("cautions.csv"), ids=lambda row: row["key"])
def test_a_caution_says_how_it_is_known_and_its_source_agrees(row: dict[str, str]) -> None:
    assert row["status"] in STATUS_OF_CAUTIONS
    assert row["work"]
    source = reference.citations()[row["source"]]
    assert (row["status"] == "common practice, no source") is (source.kind == "common practice")


def test_the_rubbers_show_no_digit_where_sources_conflict() -> None:
    table = reference.rows("rubber_in_silicone_oil.csv")
    assert not any(character.isdigit() for row in table for text in row.values() for character in text)
    assert {row["rubber"] for row in table if "sources conflict" in row["status"]} == {"VMQ", "FVMQ"}


def test_tables_are_well_formed_csv() -> None:
    for table in [*TABLES, "citations.csv"]:
        text = reference.read_text("bevelbook_datasets", table)
        lengths = {len(row) for row in csv.reader(text.splitlines())}
        assert len(lengths) == 1, table
