"""The calculator contract, and every worked example of every bundled calculator."""

from __future__ import annotations

from typing import Any

import pytest

from bevelbook.calculators import Calculator, Judgement, OneOf, Worked
from bevelbook.errors import DeclarationError, InputError
from bevelbook.fields import listing, quantity, record
from bevelbook.reference import RULES_FIRST, rows
from bevelbook.registry import load
from bevelbook.sources import Source
from bevelbook.store.binding import check_same_as
from bevelbook.tasks.calculate import bind, run
from bevelbook.tasks.wording import result_lines

ALL = [offered.calculator for offered in load().calculators.values()]
EXAMPLES = [
    pytest.param(calculator, worked, id=f"{calculator.name}-{number}")
    for calculator in ALL
    for number, worked in enumerate(calculator.worked, start=1)
]
HAND = Source("computed", "arithmetic")


@record
class Given:
    mass_g: float = quantity("g", "Mass", default=1.0)
    volume_cm3: float | None = quantity("cm3", "Volume", default=None)


@record
class Found:
    double_g: float = quantity("g", "Twice the mass")


def declared(**changes: Any) -> Calculator[Any, Any]:
    words: dict[str, Any] = {
        "name": "doubling",
        "title": "Doubling",
        "question": "What is twice that?",
        "purpose": "twice a mass",
        "version": 1,
        "given": Given,
        "found": Found,
        "compute": lambda given: Found(double_g=2 * given.mass_g),
        "judge": lambda given, found: Judgement("ok", ("twice",)),
        "working": lambda given, found: (),
        "valid": (),
        "sources": (HAND,),
        "worked": (Worked({"mass_g": "1"}, {"double_g": 2.0}, 0, HAND),),
        "answer": "double_g",
        **changes,
    }
    return Calculator(**words)


@pytest.mark.parametrize(("calculator", "worked"), EXAMPLES)
def test_a_worked_example_comes_out_as_its_source_prints_it(calculator: Calculator[Any, Any], worked: Worked) -> None:
    result = run(calculator, bind(calculator, worked.given))
    for name, expected in worked.expected.items():
        found = result.outputs[name]
        if isinstance(expected, float | int):
            assert found == pytest.approx(expected, abs=worked.tolerance), (name, worked.source.cite())
        else:
            assert found == expected, (name, worked.source.cite())
    if worked.verdict:
        assert result.verdict == worked.verdict, result.judgement


@pytest.mark.parametrize("calculator", ALL, ids=lambda calculator: calculator.name)
def test_a_bundled_calculator_takes_its_cautions_from_the_table(calculator: Calculator[Any, Any]) -> None:
    assert set(calculator.declared_cautions) <= {row["key"] for row in rows("cautions.csv")}
    assert len(calculator.cautions) == len(calculator.declared_cautions)


def test_a_plugin_may_give_a_caution_in_words_of_its_own() -> None:
    assert declared(cautions=("Mind the gap.", "hot-parts")).cautions == (
        "Mind the gap.",
        "Let motor, diff and pack cool before you touch them.",
    )


@pytest.mark.parametrize("calculator", ALL, ids=lambda calculator: calculator.name)
def test_cautions_end_with_one_line_and_no_cautions_say_nothing(calculator: Calculator[Any, Any]) -> None:
    result = run(calculator, bind(calculator, calculator.worked[0].given))
    for explain in (False, True):
        told = list(result_lines(result, explain=explain))
        last = max((place for place, line in enumerate(told) if line.startswith("Caution: ")), default=None)
        assert told.count(RULES_FIRST) == bool(calculator.cautions)
        assert (last is None) is not bool(calculator.cautions)
        if last is not None:
            assert all(line.startswith("  ") for line in told[last + 1 : told.index(RULES_FIRST)])


@pytest.mark.parametrize("calculator", ALL, ids=lambda calculator: calculator.name)
def test_every_bundled_calculator_is_whole(calculator: Calculator[Any, Any]) -> None:
    assert calculator.question.endswith("?")
    assert calculator.valid
    assert all(source.cite() for source in calculator.sources)
    for field in (*calculator.inputs, *calculator.outputs):
        assert field.about, field.name
    for field in calculator.inputs:
        if field.same_as:
            check_same_as(field.same_as)
    options = [field.option for field in calculator.inputs]
    assert len(options) == len(set(options))
    result = run(calculator, bind(calculator, calculator.worked[0].given))
    assert result.judgement.reasons
    assert result.working()


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"name": "Not A Name"}, "lower-case"),
        ({"version": 0}, "from 1"),
        ({"worked": ()}, "no worked example"),
        ({"sources": ()}, "no source"),
        ({"given": object}, "not a record"),
        ({"answer": "x"}, "is no output"),
        ({"one_of": (OneOf((("nothing",),)),)}, "is no input"),
    ],
)
def test_a_wrong_declaration_is_refused(changes: dict[str, Any], why: str) -> None:
    with pytest.raises(DeclarationError, match=why):
        declared(**changes)


def test_two_listings_on_one_side_are_refused() -> None:
    @record
    class Two:
        a: tuple[Given, ...] = listing(Given, "a", default=())
        b: tuple[Given, ...] = listing(Given, "b", default=())

    with pytest.raises(DeclarationError, match="more than one listing"):
        declared(given=Two)


def test_alternatives_are_checked_and_named() -> None:
    calculator = declared(one_of=(OneOf((("mass_g",), ("volume_cm3",)), exclusive=True),))
    with pytest.raises(InputError, match="mass_g; or volume_cm3"):
        calculator.check_alternatives(set())
    with pytest.raises(InputError, match="only one of"):
        calculator.check_alternatives({"mass_g", "volume_cm3"})
    calculator.check_alternatives({"mass_g"})


@pytest.mark.parametrize("wrong", ["builds.nothing", "nothing.dry_mass_g", "listings.nothing"])
def test_same_as_has_to_name_a_column_or_a_listing(wrong: str) -> None:
    with pytest.raises(DeclarationError, match="neither a column nor a listing"):
        check_same_as(wrong)
