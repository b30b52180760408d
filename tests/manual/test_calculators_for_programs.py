"""The examples that the manual gives for calculators in other programs, run as they stand there."""

from __future__ import annotations

import csv
import shlex
from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import Outcome

from bevelbook import InputError, calculate
from bevelbook.manual.calculators_for_programs import KEPT_ERRORS, NOTEBOOK, ONE, PRINTED, ROWS, TABLE


def test_the_notebook_prints_what_stands_below_it(capsys: pytest.CaptureFixture[str]) -> None:
    exec(NOTEBOOK, {})
    assert capsys.readouterr().out.rstrip() == PRINTED


def test_one_call_gives_a_result_and_a_faulty_row_says_why() -> None:
    found = eval(ONE, {"calculate": calculate})
    assert found.verdict == "ok" and found.uncertainties["viscosity_at_temperature_cst"] > 0
    first, second = eval(KEPT_ERRORS, {"calculate": calculate})
    assert first is None and second.startswith("viscosity_cst: out of its bounds")
    with pytest.raises(InputError):
        eval(KEPT_ERRORS.replace(', errors="keep"', ""), {"calculate": calculate})


def test_the_table_is_worked_out_by_the_command(bevelbook: Callable[..., Outcome], tmp_path: Path) -> None:
    (tmp_path / "oils.csv").write_text(TABLE, encoding="utf-8")
    assert bevelbook(*shlex.split(ROWS)[1:]).code == 0
    with (tmp_path / "warm.csv").open(encoding="utf-8") as file:
        thin, thick = csv.DictReader(file)
    assert [thin["oil"], thick["temperature (°F)"]] == ["thin", "140 ± 2 (k = 2)"]
    assert float(thin["viscosity at temperature [cSt]"]) == pytest.approx(
        calculate("viscosity", viscosity_cst=3000, temperature_c=60).viscosity_at_temperature_cst
    )
    assert float(thick["viscosity at temperature ± (k = 2) [cSt]"]) > 0
