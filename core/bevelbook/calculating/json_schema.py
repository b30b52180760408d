"""What goes into a calculator and what comes out, as JSON Schema 2020-12, from its declaration alone.

Each value is in its canonical unit, as a result for programs has it. What JSON Schema has no word for is in keywords of
our own, which begin with ``x-``: ``x-unit`` with ``x-ucum`` (The Unified Code for Units of Measure), ``x-plausible``
(the sane range, outside which the result says so) and ``x-from`` (the record that gives an input where one is named).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final

from bevelbook.calculating.binding import origin_in_words
from bevelbook.calculating.calculate import bind, plain
from bevelbook.declare.errors import BevelbookError
from bevelbook.declare.fields import LARGEST, Field, fields_of
from bevelbook.plugin.calculator import Calculator, OneOf
from bevelbook.plugin.returned_values import VERDICTS
from bevelbook.reading.units import ucum_of

DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"
Schema = dict[str, Any]
_TYPES: Final = {"quantity": "number", "whole": "integer"}
_TIME: Final = r"^\d{1,2}:\d{2}$"


def inputs_schema(calculator: Calculator[Any, Any]) -> Schema:
    """The inputs of one calculation: bounds, words, which are needed, which alternatives there are; the inputs of the
    worked examples as ``examples``."""
    schema = _record_schema(calculator.inputs, is_given=True)
    choices = [_alternatives(calculator.inputs, choice) for choice in calculator.one_of]
    return {
        "$schema": DIALECT,
        "title": f"{calculator.title}: inputs",
        "description": calculator.question,
        **schema,
        **(choices[0] if len(choices) == 1 else {"allOf": choices} if choices else {}),
        "examples": list(_examples(calculator)),
    }


def outputs_schema(calculator: Calculator[Any, Any]) -> Schema:
    """The outputs of one calculation; a result without a value for one of them says null."""
    return {
        "$schema": DIALECT,
        "title": f"{calculator.title}: outputs",
        "description": calculator.purpose,
        **_record_schema(calculator.outputs, is_given=False),
    }


def rows_schema(calculator: Calculator[Any, Any]) -> Schema:
    """The rows that come out; always empty where the calculator has no listing of them."""
    listing = calculator.listing_out
    if listing is None:
        return {"$schema": DIALECT, "type": "array", "maxItems": 0}
    return {"$schema": DIALECT, **field_schema(listing, is_given=False)}


def result_schema(calculator: Calculator[Any, Any]) -> Schema:
    """A whole result for programs, as :meth:`bevelbook.calculating.calculate.Result.as_dict` gives it."""
    texts = {"type": "array", "items": {"type": "string"}}
    spreads = {"type": "object", "additionalProperties": {"type": ["number", "null"], "minimum": 0}}
    parts: dict[str, Schema] = {
        "calculator": {"const": calculator.name},
        "version": {"const": calculator.version},
        "inputs": _record_schema(calculator.inputs, is_given=False),
        "outputs": _record_schema(calculator.outputs, is_given=False),
        "rows": _without_dialect(rows_schema(calculator)),
        "standard_uncertainties_k1": {**spreads, "description": "Standard uncertainties (k = 1) of the outputs."},
        "input_standard_uncertainties_k1": {**spreads, "description": "The same of the inputs, as they were given."},
        "taken_as_k2": {**texts, "description": "Inputs with a ± that named no k: it was taken as k = 2."},
        "verdict": {"enum": list(VERDICTS)},
        "reasons": {**texts, "minItems": 1, "description": "Why, in words; the first says most."},
        "findings": {**texts, "description": "What is worth a look and does not change the verdict."},
        "origins": {
            "type": "object",
            "additionalProperties": {"type": "string"},
            "description": "Where each input came from.",
        },
        "sources": {**texts, "description": "Where the formulas and limits come from."},
    }
    return {
        "$schema": DIALECT,
        "title": calculator.title,
        "description": calculator.question,
        "type": "object",
        "properties": parts,
        "required": list(parts),
    }


def field_schema(field: Field, *, is_given: bool) -> Schema:
    """One value. ``is_given`` is whether it is an input: an output has no bounds that are checked, and an input that is
    left out may be null."""
    schema: Schema = {"title": field.words, "description": field.about}
    if field.kind == "listing":
        item = _record_schema(fields_of(field.item), is_given=is_given)
        schema |= {"type": "array", "items": item}
        if is_given and field.required:
            schema["minItems"] = 1
    else:
        kind = _TYPES.get(field.kind, "string")
        schema["type"] = [kind, "null"] if _may_be_null(field) else kind
        if field.choices:
            schema["enum"] = [*field.choices, *([None] if _may_be_null(field) else [])]
        schema |= {"date": {"format": "date"}, "time": {"pattern": _TIME}}.get(field.kind, {})
        if is_given and field.is_number:
            schema |= _bounds(field)
    if field.default not in (None, ()) and not field.required:
        schema["default"] = field.default
    schema |= dict(_own_keywords(field))
    return schema


def _own_keywords(field: Field) -> Iterator[tuple[str, Any]]:
    if field.unit is not None:
        yield "x-unit", field.unit
        yield "x-ucum", ucum_of(field.unit)
    if field.plausible is not None:
        yield "x-plausible", list(field.plausible)
    if field.same_as is not None:
        yield "x-from", origin_in_words(field.same_as)


def _may_be_null(field: Field) -> bool:
    return field.nullable or field.default is None


def _bounds(field: Field) -> Mapping[str, float]:
    """The bounds of a number; beside those that are declared it is of a size that something about a diff can have."""
    found = {
        "minimum": field.minimum,
        "maximum": field.maximum,
        "exclusiveMinimum": field.above,
        "exclusiveMaximum": field.below,
    }
    if field.minimum is None and field.above is None:
        found["minimum"] = -LARGEST
    if field.maximum is None and field.below is None:
        found["maximum"] = LARGEST
    return {name: bound for name, bound in found.items() if bound is not None}


def _record_schema(fields: Iterable[Field], *, is_given: bool) -> Schema:
    fields = tuple(fields)
    return {
        "type": "object",
        "properties": {field.name: field_schema(field, is_given=is_given) for field in fields},
        "required": [field.name for field in fields if field.required or not is_given],
        "additionalProperties": False,
    }


def _alternatives(inputs: Iterable[Field], choice: OneOf) -> Schema:
    """Alternatives among the inputs: one that has a default, or that may be null, counts as given by its default, or
    where it is not null."""
    by_name = {field.name: field for field in inputs}

    def whole(group: Iterable[str]) -> Schema:
        asked = [name for name in group if by_name[name].default is None or by_name[name].required]
        filled = {name: {"not": {"type": "null"}} for name in asked if _may_be_null(by_name[name])}
        return {"required": asked, **({"properties": filled} if filled else {})}

    return {"oneOf" if choice.exclusive else "anyOf": [whole(group) for group in choice.groups]}


def _examples(calculator: Calculator[Any, Any]) -> Iterator[dict[str, Any]]:
    """The inputs of the worked examples in canonical units, without those that are not given; one that cannot be read
    is left out."""
    for worked in calculator.worked:
        try:
            bound = bind(calculator, worked.given)
        except BevelbookError:
            continue
        yield {name: value for name, value in plain(bound.given).items() if bound.origins[name] == "given"}


def _without_dialect(schema: Schema) -> Schema:
    return {name: value for name, value in schema.items() if name != "$schema"}
