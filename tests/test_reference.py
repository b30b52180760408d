from __future__ import annotations

import csv
from pathlib import Path

import pytest

import bevelbook_datasets
from bevelbook import reference
from bevelbook.errors import DeclarationError, InputError
from bevelbook.sources import KINDS, Source

TABLES = sorted(
    path.name for path in Path(bevelbook_datasets.__file__).parent.glob("*.csv") if path.name != "citations.csv"
)


@pytest.mark.parametrize("table", TABLES)
def test_every_row_of_every_table_names_a_known_source(table: str) -> None:
    assert reference.rows(table)


def test_every_citation_is_of_a_known_kind_and_is_used_or_citable() -> None:
    for key, source in reference.citations().items():
        assert source.kind in KINDS, key
        assert source.title, key


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
    with pytest.raises(InputError, match="--density"):
        reference.density_25_g_cm3(viscosity_cst)


def test_a_source_tells_how_far_it_can_be_trusted() -> None:
    assert Source("common practice", "wipe it first").cite() == "wipe it first (common practice, no source)"
    assert Source("from memory", "T", "P").cite() == "P, T (from memory, unverified)"
    assert Source("proposal", "50 kPa").cite() == "50 kPa (this project's proposal)"
    assert Source("handbook", "T", "P", "2008", "p. 3", "read").cite() == "P, T, p. 3, 2008 (read)"


def test_tables_are_well_formed_csv() -> None:
    for table in [*TABLES, "citations.csv"]:
        text = reference.read_text("bevelbook_datasets", table)
        lengths = {len(row) for row in csv.reader(text.splitlines())}
        assert len(lengths) == 1, table
