"""The fingerprint of what a calculator does: what changes it, and what does not."""

from __future__ import annotations

from collections.abc import Sequence
from random import random
from typing import Any

import pytest
from declared_calculator import HAND, Found, Given, declared, example

from bevelbook.calculating.calculate import Bound, Result, bind, run
from bevelbook.calculating.fingerprint import as_compared, contradict, fingerprint_of
from bevelbook.declare.errors import BevelbookError
from bevelbook.declare.fields import choice, quantity, record
from bevelbook.plugin.calculator import Judgement, Worked
from bevelbook.plugin.registry import Registry


@record
class GivenInWords:
    mass_g: float = quantity("g", "The mass, in other words", default=1.0, plausible=(0, 3))
    volume_cm3: float | None = quantity("cm3", "What it fills", default=None)


@record
class GivenTurned:
    volume_cm3: float | None = quantity("cm3", "Volume", default=None)
    mass_g: float = quantity("g", "Mass", default=1.0)


@record
class GivenBounded:
    mass_g: float = quantity("g", "Mass", default=1.0, minimum=0)
    volume_cm3: float | None = quantity("cm3", "Volume", default=None)


@record
class GivenAnew:
    mass_g: float = quantity("g", "Mass", default=1.5)
    volume_cm3: float | None = quantity("cm3", "Volume", default=None)


@record
class FoundToo:
    double_g: float = quantity("g", "Twice the mass")
    oil: str = choice(("thin", "thick"), "Oil", default="thin")


@pytest.mark.parametrize(
    "changes",
    [
        {"title": "Twice", "purpose": "twice as much", "valid": ("any mass",), "question": "How much is that twice?"},
        {"judge": lambda given, found: Judgement("ok", ("said in other words",), ("and a finding",))},
        {"given": GivenInWords, "kept_after": ("build",)},
        {"given": GivenTurned},
        {"worked": (example(given={"mass_g": "1000 mg"}),)},
        {"worked": (example(), example(given={"mass_g": "3"}, expected={"double_g": 6.0}))},
        {"compute": lambda given: Found(double_g=2.0000000001 * given.mass_g)},
    ],
)
def test_words_examples_and_the_last_digits_contradict_nothing(changes: dict[str, Any]) -> None:
    assert not contradict(fingerprint_of(declared()), fingerprint_of(declared(**changes)))


@pytest.mark.parametrize(
    "changes",
    [
        {"compute": lambda given: Found(double_g=2.00001 * given.mass_g)},
        {"judge": lambda given, found: Judgement("caution", ("twice",))},
        {"given": GivenBounded},
        {"given": GivenAnew},
        {"found": FoundToo, "compute": lambda given: FoundToo(double_g=2 * given.mass_g)},
    ],
)
def test_another_number_verdict_or_declaration_does(changes: dict[str, Any]) -> None:
    assert contradict(fingerprint_of(declared()), fingerprint_of(declared(**changes)))


def test_one_that_goes_by_more_than_its_inputs_contradicts_itself() -> None:
    one, other = (declared(compute=lambda given: Found(double_g=random())) for _ in range(2))
    assert contradict(fingerprint_of(one), fingerprint_of(other))


def test_one_that_fails_at_its_example_has_none_and_it_is_worked_out_once() -> None:
    seen: list[Given] = []

    def compute(given: Given) -> Found:
        seen.append(given)
        return Found(double_g=2 * given.mass_g)

    calculator = declared(compute=compute)
    assert fingerprint_of(calculator) == fingerprint_of(calculator)
    assert len(seen) == 1
    assert fingerprint_of(declared(compute=lambda given: Found(double_g=1 / 0))) is None
    assert fingerprint_of(declared(worked=(Worked({"mass_g": "heavy"}, {}, 0, HAND),))) is None
    assert not contradict(None, fingerprint_of(calculator))


def test_one_that_runs_elsewhere_is_asked_in_one_crossing_and_again_where_it_had_no_time() -> None:
    class Away:
        def __init__(self) -> None:
            self.asked: list[int] = []

        def worked_out(self, formula: Any, bounds: Sequence[Bound[Any]]) -> list[Result | BevelbookError]:
            self.asked.append(len(bounds))
            if len(self.asked) == 1:
                return [formula.owner.fault("no time was left")] * len(bounds)
            return [run(here, bound) for bound in bounds]

    worked = (example(), example(given={"mass_g": "3"}, expected={"double_g": 6.0}))
    here, there = declared(worked=worked), declared(worked=worked)
    away = Away()
    there.elsewhere = away  # type: ignore[assignment]
    found = [fingerprint_of(there) for _ in range(3)]
    assert found == [None, fingerprint_of(here), fingerprint_of(here)]
    assert away.asked == [2, 2]


def test_every_bundled_calculator_has_one_that_holds_on_another_machine(registry: Registry) -> None:
    """No output of an example lies where its last digits decide how it is rounded, or is all noise."""
    for offered in registry.calculators.values():
        calculator = offered.calculator
        assert fingerprint_of(calculator) is not None, calculator
        for worked in calculator.worked:
            found = run(calculator, bind(calculator, worked.given)._replace(uncertainties={}))
            for field in calculator.outputs:
                value = getattr(found.found, field.name)
                if isinstance(value, float):
                    rounded = {as_compared(value * (1 + moved)) for moved in (-2e-14, 0.0, 2e-14)}
                    assert len(rounded) == 1 and (value == 0 or abs(value) > 1e-9), (calculator, field.name, value)
