"""A bottle takes its own measurement with the ± that a falling ball printed; what it was taken as is shown."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from conftest import Outcome

Run = Callable[..., Outcome]

FLUID = ("record", "fluid", "label=house 7k")
BOTTLE = ("record", "bottle", "fluid=house 7k")


@pytest.mark.parametrize(
    ("typed", "uncertainty_cst", "said"),
    [
        ("7120 +/- 80 cSt", 40.0, "(k = 1; from ± 80 cSt taken as k = 2, as printed here)"),
        ("7,120 ± 80 cSt (k = 2)", 40.0, "(k = 1; from ± 80 cSt (k = 2))"),
        ("7120 ± 80 cSt (k = 1)", 80.0, "(k = 1; from ± 80 cSt (k = 1))"),
    ],
)
def test_a_bottle_takes_a_spread(bevelbook: Run, typed: str, uncertainty_cst: float, said: str) -> None:
    bevelbook("new")
    bevelbook(*FLUID)
    done = bevelbook(*BOTTLE, f"viscosity={typed}")
    assert (done.code, f"viscosity_uncertainty_cst: {uncertainty_cst:g}  {said}" in done.out) == (0, True), done.out
    assert "viscosity_cst: 7120" in done.out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("viscosity=7120 ± 80 cSt", "viscosity_uncertainty=80"), "the uncertainty is given twice"),
        (("viscosity=7120 ± 80 cSt (k = 3)",), "the k of an uncertainty is 1 or 2"),
        (("viscosity=± 80 cSt",), "half of it is missing"),
        (("density=0.97 ± 0.01",), "Record takes the value alone; put the uncertainty in the note."),
    ],
)
def test_a_spread_that_cannot_be_kept_is_refused(bevelbook: Run, words: tuple[str, ...], said: str) -> None:
    bevelbook("new")
    bevelbook(*FLUID)
    done = bevelbook(*BOTTLE, *words)
    assert done.code != 0
    assert said in done.err
