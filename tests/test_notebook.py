"""``from bevelbook import calculate``: one result, and columns in and out.

The sums are arithmetic; what a calculator finds is compared with what the command line prints of it.
"""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from conftest import Outcome, empty_database
from constructed import Team
from uncertainties import ufloat

from bevelbook import Calculated, CalculatedColumns, InputError, calculate
from bevelbook.declare.errors import UnknownNameError

SCALE = {"scale_step_g": 0.01, "repeatability_g": 0.002}
PLUGIN = """
from bevelbook import Calculator, Judgement, Source, Worked, hookimpl, quantity, record

ARITHMETIC = Source("computed", "two times three is six")


@record
class Given:
    mass_g: float = quantity("g", "A mass", minimum=0)


@record
class Found:
    double_g: float = quantity("g", "Twice that mass")


def compute(given):
    return Found(double_g=FACTOR * given.mass_g)


DOUBLING = Calculator(
    name="doubling", title="Doubling", question="What is twice that mass?", purpose="twice a mass", version=1,
    given=Given, found=Found, compute=compute,
    judge=lambda given, found: Judgement("ok", ("twice that",)),
    working=lambda given, found: ("two times",),
    valid=("any mass",), sources=(ARITHMETIC,),
    worked=(Worked({"mass_g": "3 g"}, {"double_g": FACTOR * 3.0}, 0.0, ARITHMETIC),), answer="double_g",
)


@hookimpl
def bevelbook_calculators():
    return (DOUBLING,)
"""


def one(*words: Any, **inputs: Any) -> Calculated:
    found = calculate(*words, **inputs)
    assert isinstance(found, Calculated)
    return found


def columns(*words: Any, **inputs: Any) -> CalculatedColumns:
    found = calculate(*words, **inputs)
    assert isinstance(found, CalculatedColumns)
    return found


def test_a_result_has_its_outputs_by_name_and_says_what_the_command_line_says(
    bevelbook: Callable[..., Outcome],
) -> None:
    found = one("fill-target", dry_mass_g=12.4, oil_mass_g="1860 mg", **SCALE)
    words = ("--dry-mass", "12.4", "--oil-mass", "1.86", "--scale-step", "0.01", "--repeatability", "0.002", "--json")
    printed = bevelbook("calc", "fill-target", *words).json
    assert printed.items() >= found.as_dict().items()
    assert found.stop_mass_g == found["stop_mass_g"] == 14.26
    assert dict(found) == printed["outputs"]
    assert (found.verdict, list(found.reasons), list(found.findings)) == (
        printed["verdict"],
        printed["reasons"],
        printed["findings"],
    )
    assert found.inputs["scale_step_g"] == 0.01
    assert found.working() and found.rows == []
    assert repr(found).splitlines()[:2] == [f"fill-target: {found.verdict}", f"  {found.reasons[0]}"]
    assert "  stop_mass_g = 14.26" in repr(found)
    with pytest.raises(AttributeError, match="Did you mean stop_mass_g"):
        _ = found.stop_mas_g


def test_an_uncertain_number_is_taken_with_its_uncertainty() -> None:
    typed = one("fill-target", dry_mass_g="12.40 ± 0.02 g (k = 2)", oil_mass_g=1.86, **SCALE)
    assert one("fill-target", dry_mass_g=ufloat(12.4, 0.01), oil_mass_g=1.86, **SCALE).as_dict() == typed.as_dict() | {
        "taken_as_k2": []
    }
    assert typed.uncertainties["stop_mass_g"] > 0.01


@pytest.mark.parametrize(
    "parts",
    [
        ["7000:3", "10000:1"],
        [(7000, 3), (10000.0, 1.0)],
        [{"viscosity_cst": 7000, "mass_g": 3}, {"mass_g": 1, "viscosity_cst": 10000}],
        pd.DataFrame({"viscosity_cst": [7000, 10000], "mass_g": [3.0, 1.0]}),
    ],
    ids=["texts", "tuples", "dicts", "table"],
)
def test_a_listing_is_texts_tuples_dicts_or_a_table(parts: Any) -> None:
    found = one("blend", parts=parts)
    assert found.inputs["parts"] == [
        {"viscosity_cst": 7000.0, "mass_g": 3.0},
        {"viscosity_cst": 10000.0, "mass_g": 1.0},
    ]


def test_a_column_of_pandas_gives_columns_of_pandas_with_its_index() -> None:
    table = pd.DataFrame(
        {"dry": [12.4, 12.345, 13.0], "oil": ["1.86 g", "1,9", None], "room_cm3": [None, None, 2.0]},
        index=["rear-a/1", "rear-a/2", "rear-b/1"],
    )
    found = columns(
        "fill-target",
        dry_mass_g=table.dry,
        oil_mass_g=table.oil,
        free_volume_cm3=table.room_cm3,
        density_g_cm3=0.97,
        fill_fraction=0.5,
    )
    assert isinstance(found.stop_mass_g, pd.Series)
    assert list(found.stop_mass_g.index) == list(table.index)
    assert (found.stop_mass_g.name, str(found.stop_mass_g.dtype)) == ("stop_mass_g", "float64")
    assert found.stop_mass_g["rear-a/1"] == 14.26
    assert found["stop_mass_g"]["rear-a/2"] == pytest.approx(12.345 + 1.9)
    assert found.oil_volume_cm3["rear-b/1"] == pytest.approx(0.5 * 2.0)
    joined = table.join(pd.DataFrame(dict(found)))
    assert list(joined.index) == list(table.index) and "stop_low_g" in joined.columns
    alone = one("fill-target", dry_mass_g=12.345, oil_mass_g=1.9, density_g_cm3=0.97, fill_fraction=0.5)
    assert found.verdict["rear-a/2"] == alone.verdict
    assert found.results[1].as_dict()["outputs"] == dict(alone)
    assert found.reasons["rear-a/2"] == "; ".join(alone.reasons)
    assert repr(found).startswith("fill-target: 3 rows, ")


@pytest.mark.parametrize("kind", [list, tuple, np.array])
def test_a_list_and_an_array_come_back_as_they_went_in(kind: Callable[[Any], Any]) -> None:
    found = columns("viscosity", viscosity_cst=kind([5000.0, 7000.0]), temperature_c=25)
    assert type(found.viscosity_at_temperature_cst) is type(kind([1.0]))
    assert [float(value) for value in found.viscosity_at_temperature_cst] == [5000.0, 7000.0]
    assert list(found.verdict) == ["ok", "ok"]
    spread = columns("viscosity", viscosity_cst=["7000 ± 70", "7000"], temperature_c=25)
    assert spread.uncertainty("viscosity_at_temperature_cst") == [35.0, None]


def test_an_error_names_the_input_and_the_row() -> None:
    dry = pd.Series([12.4, -1.0, float("nan")], index=[7, 8, 9])
    with pytest.raises(InputError) as caught:
        calculate("fill-target", dry_mass_g=dry, oil_mass_g=1.86)
    assert str(caught.value).startswith('dry_mass_g: row 2 (index 8): out of its bounds, found "-1.0"')
    found = columns("fill-target", dry_mass_g=dry, oil_mass_g=1.86, errors="keep")
    assert found.stop_mass_g.isna().tolist() == [False, True, True]
    assert found.error[8].startswith("dry_mass_g: out of its bounds")
    assert "dry_mass_g is missing" in found.error[9]
    assert (found.error[7], found.results[1]) == (None, None)
    with pytest.raises(InputError, match="3 rows, where dry_mass_g has 2"):
        calculate("fill-target", dry_mass_g=[1, 2], oil_mass_g=[1, 2, 3])
    with pytest.raises(InputError, match="its index is another one"):
        calculate("fill-target", dry_mass_g=dry, oil_mass_g=pd.Series([1, 2, 3]))
    with pytest.raises(UnknownNameError, match="Did you mean dry_mass_g"):
        calculate("fill-target", dry_mass=12.4)
    with pytest.raises(UnknownNameError, match="Did you mean fill-target"):
        calculate("fill-targt", dry_mass_g=12.4)
    with pytest.raises(InputError, match="a value of a kind that is not taken"):
        calculate("fill-target", dry_mass_g=True)


def test_a_record_of_a_database_gives_what_is_not_given(
    tmp_path: Path, connection: sqlite3.Connection, team: Team
) -> None:
    team.build(dry_mass_g=12.40, oil_mass_g=1.86)
    connection.commit()
    path = Path(connection.execute("PRAGMA database_list").fetchone()[2])
    found = one("fill-target", db=path, for_="rear-a/1")
    assert found.stop_mass_g == 14.26
    warmer = columns("fill-target", db=path, for_="rear-a/1", oil_mass_g=[1.8, 1.9])
    assert warmer.stop_mass_g == [14.2, 14.3]
    with pytest.raises(InputError, match="no database is named"):
        calculate("fill-target", for_="rear-a/1")
    with pytest.raises(UnknownNameError):
        calculate("fill-target", db=empty_database(tmp_path / "other.db"), for_="rear-a/1")


def test_a_plugin_of_a_folder_is_read_again_when_it_was_changed(tmp_path: Path) -> None:
    file = tmp_path / "doubling.py"
    for factor in (2, 30):
        file.write_text(PLUGIN.replace("FACTOR", str(factor)), encoding="utf-8")
        assert one("doubling", plugins=tmp_path, mass_g="3 g").double_g == 3.0 * factor


def test_the_folder_of_the_command_line_is_taken_where_none_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "doubling.py").write_text(PLUGIN.replace("FACTOR", "2"), encoding="utf-8")
    monkeypatch.setenv("BEVELBOOK_PLUGINS", str(tmp_path))
    assert one("doubling", mass_g="3 g").double_g == 6.0


def test_no_library_of_tables_is_loaded_by_a_call_without_one() -> None:
    code = (
        "import sys; from bevelbook import calculate; calculate('viscosity', viscosity_cst=7000, temperature_c=60);"
        "assert not {'pandas', 'numpy', 'scipy', 'pint', 'datasette'} & set(sys.modules), 'loaded'"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
