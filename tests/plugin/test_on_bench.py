"""What a calculator gives to the bench is checked like all else that it returns."""

from __future__ import annotations

from typing import Any

import pytest
from declared_calculator import Found, Given, declared

from bevelbook.declare.errors import PluginFault
from bevelbook.plugin.on_bench import BenchPass, BenchWait, OnBench

WAIT = BenchWait("stand", "standing open", 90.0)
PASS = BenchPass("to the touch", "", "1-2", "<svg></svg>")


def given_by(part: str, returned: Any) -> Any:
    """What a calculator's waits or passes give that return this."""
    calculator = declared(bench=OnBench(**{part: lambda given, found: returned}))
    return getattr(calculator.bench, part)(Given(), Found(double_g=2.0))


def test_what_fits_is_taken_as_it_is() -> None:
    assert given_by("waits", iter([WAIT])) == (WAIT,)
    assert given_by("passes", [PASS, PASS]) == (PASS, PASS)


@pytest.mark.parametrize(
    ("part", "returned", "said"),
    [
        ("waits", 3, "where ways to wait are wanted"),
        ("waits", ["standing"], "where a BenchWait is wanted"),
        ("waits", [WAIT._replace(how="shake")], "none of stand, pump"),
        ("waits", [WAIT._replace(words="")], "empty words"),
        ("waits", [WAIT._replace(at_most_s=0.0)], "has to be over 0"),
        ("waits", [WAIT._replace(at_most_s=float("nan"))], "has to be over 0"),
        ("waits", [WAIT._replace(at_most_s=True)], "has to be over 0"),
        ("passes", None, "where passes are wanted"),
        ("passes", [WAIT], "where a BenchPass is wanted"),
        ("passes", [PASS._replace(picture="<img>")], "where a drawing"),
        ("passes", [PASS._replace(figure=0.18)], "words are wanted"),
    ],
    ids=str,
)
def test_what_does_not_fit_is_a_fault_that_names_the_part(part: str, returned: Any, said: str) -> None:
    with pytest.raises(PluginFault, match=f"the {part} of its bench gave .*{said}"):
        given_by(part, returned)


def test_a_function_that_fails_is_a_fault() -> None:
    calculator = declared(bench=OnBench(waits=lambda given, found: [][0]))
    assert calculator.bench is not None
    with pytest.raises(PluginFault, match="the waits of its bench raised IndexError"):
        calculator.bench.waits(Given(), Found(double_g=2.0))
