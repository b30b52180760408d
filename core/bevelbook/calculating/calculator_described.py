"""A calculator for programs: all that it declares, as data, with the JSON Schema of what goes in and what comes out."""

from __future__ import annotations

from typing import Any, Final

from bevelbook.calculating.binding import origin_in_words
from bevelbook.calculating.json_schema import inputs_schema, outputs_schema, rows_schema
from bevelbook.declare.fields import Field, fields_of
from bevelbook.plugin.calculator import Worked
from bevelbook.plugin.registry import Offered
from bevelbook.reading.units import ucum_of

FORMAT: Final = 1
"""The number of the form in which programs get calculators and results, raised where a key goes or changes what
it means; a key that is added does not raise it."""


def calculator_described(offered: Offered) -> dict[str, Any]:
    """What a calculator is for, what it takes and gives, where it holds and where its formulas come from."""
    calculator, origin = offered
    return {
        "name": calculator.name,
        "title": calculator.title,
        "question": calculator.question,
        "purpose": calculator.purpose,
        "version": calculator.version,
        "replaces": calculator.replaces,
        "plugin": origin.plugin,
        "package": origin.package,
        "package_version": origin.version,
        "inputs": [{**field_described(field), "option": field.option} for field in calculator.inputs],
        "one_of": [
            {"groups": [list(group) for group in choice.groups], "exclusive": choice.exclusive}
            for choice in calculator.one_of
        ],
        "outputs": [field_described(field) for field in calculator.outputs],
        "rows": None if calculator.listing_out is None else field_described(calculator.listing_out),
        "answer": calculator.answer,
        "in_place_of": dict(calculator.in_place_of),
        "schema": {
            "inputs": inputs_schema(calculator),
            "outputs": outputs_schema(calculator),
            "rows": rows_schema(calculator),
        },
        "valid": list(calculator.valid),
        "cautions": list(calculator.cautions),
        "sources": [source.cite() for source in calculator.sources],
        "worked": [_worked(one) for one in calculator.worked],
        "of": calculator.of,
        "card": None if calculator.card is None else calculator.card.part,
        "kept_after": list(calculator.kept_after),
        "page": list(calculator.page),
        "of_a_pair": calculator.of_a_pair,
    }


def field_described(field: Field) -> dict[str, Any]:
    """An input, an output or a column of rows: its unit with the code in UCUM, its bounds, its words, its default."""
    plausible = None if field.plausible is None else list(field.plausible)
    return {
        "name": field.name,
        "words": field.words,
        "about": field.about,
        "kind": field.kind,
        "unit": field.unit,
        "ucum": None if field.unit is None else ucum_of(field.unit),
        "required": field.required,
        "nullable": field.nullable,
        "default": None if field.required or field.kind == "listing" else field.default,
        "minimum": field.minimum,
        "maximum": field.maximum,
        "above": field.above,
        "below": field.below,
        "plausible": plausible,
        "choices": list(field.choices),
        "from": origin_in_words(field.same_as) or None,
        "same_as": field.same_as,
        "items": [field_described(part) for part in fields_of(field.item)] if field.kind == "listing" else None,
    }


def _worked(worked: Worked) -> dict[str, Any]:
    return {
        "given": worked.given,
        "expected": worked.expected,
        "tolerance": worked.tolerance,
        "verdict": worked.verdict,
        "source": worked.source.cite(),
    }
