"""The schemas of calculators, checked by the jsonschema library against the meta-schema of JSON Schema 2020-12; the
worked examples are what its validator of that version makes of them."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest
from declared_calculator import declared
from jsonschema import Draft202012Validator

from bevelbook.calculating.calculate import bind, run
from bevelbook.calculating.json_schema import inputs_schema, outputs_schema, result_schema, rows_schema
from bevelbook.declare.fields import choice, listing, quantity, record, text
from bevelbook.declare.known_units import KNOWN
from bevelbook.plugin.calculator import Calculator, OneOf
from bevelbook.plugin.registry import Registry, load

CALCULATORS = sorted(load().calculators)


@cache
def registry() -> Registry:
    return load()


def faults(schema: dict[str, Any], value: object) -> list[str]:
    return sorted(str(fault.validator) for fault in Draft202012Validator(schema).iter_errors(value))


@pytest.mark.parametrize("name", CALCULATORS)
def test_the_schemas_of_a_calculator_are_valid_and_take_its_worked_examples(name: str) -> None:
    calculator = registry().calculator(name).calculator
    given, found, rows = inputs_schema(calculator), outputs_schema(calculator), rows_schema(calculator)
    whole = result_schema(calculator)
    for schema in (given, found, rows, whole):
        Draft202012Validator.check_schema(schema)
    assert len(given["examples"]) == len(calculator.worked)
    for worked, example in zip(calculator.worked, given["examples"], strict=True):
        result = run(calculator, bind(calculator, worked.given)).as_dict()
        assert example == {one: result["inputs"][one] for one in worked.given}
        assert faults(given, example) == []
        assert faults(found, result["outputs"]) == faults(rows, result["rows"]) == faults(whole, result) == []
        printed = {one: value for one, value in worked.expected.items() if one in result["outputs"]}
        assert faults(found, result["outputs"] | printed) == []
    for field in (*calculator.inputs, *calculator.outputs):
        side = given if field in calculator.inputs else found
        said = side["properties"][field.name]
        assert said["description"] == field.about
        assert (said.get("x-unit"), said.get("x-ucum")) == (
            field.unit,
            None if field.unit is None else KNOWN.by_name[field.unit].ucum,
        )


@record
class Part:
    oil: str = text("What oil")
    mass_g: float = quantity("g", "Mass", above=0)


@record
class Everything:
    mass_g: float = quantity("g", "Mass", minimum=0, maximum=100, plausible=(5, 50))
    ratio: float = quantity("1", "A share", above=0, below=1, default=0.5)
    feel: str | None = choice(("free", "notchy"), "How it turns", default=None)
    volume_cm3: float | None = quantity("cm3", "Volume", default=None)
    length_mm: float | None = quantity("mm", "Length", default=None)
    parts: tuple[Part, ...] = listing(Part, "Its parts", singular="part")


def calculator_of(**changes: Any) -> Calculator[Any, Any]:
    either = OneOf((("volume_cm3",), ("length_mm",)))
    return declared(given=Everything, one_of=(either,), worked=(declared().worked[0],), **changes)


WHOLE: dict[str, Any] = {"mass_g": 12.4, "volume_cm3": 2.0, "parts": [{"oil": "a", "mass_g": 1.0}]}


@pytest.mark.parametrize(
    ("changes", "fault"),
    [
        ({}, None),
        ({"mass_g": 0}, None),
        ({"mass_g": -0.1}, "minimum"),
        ({"mass_g": 101}, "maximum"),
        ({"mass_g": "12.4"}, "type"),
        ({"mass_g": None}, "type"),
        ({"ratio": 0}, "exclusiveMinimum"),
        ({"ratio": 1}, "exclusiveMaximum"),
        ({"feel": "free"}, None),
        ({"feel": None}, None),
        ({"feel": "stiff"}, "enum"),
        ({"volume_cm3": None}, "anyOf"),
        ({"volume_cm3": None, "length_mm": 3}, None),
        ({"volume_cm3": 1e13}, "maximum"),
        ({"parts": []}, "minItems"),
        ({"parts": [{"oil": "a"}]}, "required"),
        ({"parts": [{"oil": "a", "mass_g": 0}]}, "exclusiveMinimum"),
        ({"weight_g": 1}, "additionalProperties"),
    ],
    ids=str,
)
def test_a_schema_says_what_is_taken(changes: dict[str, Any], fault: str | None) -> None:
    found = faults(inputs_schema(calculator_of()), WHOLE | changes)
    assert found == ([] if fault is None else [fault])


def test_of_two_that_exclude_each_other_one_is_taken_and_what_has_a_default_is_given() -> None:
    either = OneOf((("volume_cm3",), ("length_mm",)), exclusive=True)
    schema = inputs_schema(declared(given=Everything, one_of=(either,)))
    assert faults(schema, WHOLE) == []
    assert faults(schema, WHOLE | {"length_mm": None}) == []
    assert faults(schema, WHOLE | {"length_mm": 3.0}) == ["oneOf"]
    with_default = inputs_schema(declared(given=Everything, one_of=(OneOf((("ratio",), ("length_mm",))),)))
    assert faults(with_default, {name: WHOLE[name] for name in ("mass_g", "parts")}) == []


def test_words_of_our_own_say_unit_and_sane_range_and_the_record_that_gives_an_input() -> None:
    said = inputs_schema(calculator_of())["properties"]["mass_g"]
    assert (said["x-unit"], said["x-ucum"], said["x-plausible"]) == ("g", "g", [5, 50])
    stop = inputs_schema(registry().calculator("fill-target").calculator)["properties"]["dry_mass_g"]
    assert stop["x-from"] == "the build"
