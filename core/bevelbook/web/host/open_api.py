"""What programs may ask this server, described as OpenAPI 3.1: the calculators, and the rows of tables.

The schemas are those of the calculators' declarations (``calculating/json_schema.py``), as JSON Schema 2020-12.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterator, Sequence
from typing import Any, Final
from weakref import WeakKeyDictionary

from bevelbook import __version__
from bevelbook.calculating.json_schema import DIALECT, Schema, field_schema, result_schema
from bevelbook.declare.coverage import EXAMPLE, IN_WORDS
from bevelbook.declare.fields import Field
from bevelbook.facts.views import VIEWS
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.registry import Registry
from bevelbook.records import FACTS, KINDS
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.private_datasette import ensure_may_view_database

VERSION: Final = "3.1.0"
_ANSWERS: Final[dict[str, dict[str, Any]]] = {
    "400": {"description": "Something was asked wrongly: field and remedy say what."},
    "404": {"description": "There is no such calculator, table or database."},
    "500": {"description": "The calculator's plugin failed: nothing was wrong with the inputs."},
    "503": {
        "description": "The calculation took too long or cannot be taken now.",
        "headers": {
            "retry-after": {"description": "Seconds until it may be asked again.", "schema": {"type": "integer"}}
        },
    },
}
_TEXT: Final = {"type": ["string", "null"]}
_NUMBER: Final = {"type": ["integer", "null"]}
_SAID: Final[Schema] = {
    "type": "array",
    "items": {"type": "string"},
    "description": "Where kept results of the calculator are not what it finds now.",
}
_FAULT: Final[Schema] = {
    "type": "object",
    "description": "What was wrong, where, and what to do.",
    "required": ["ok", "status", "error", "code"],
    "properties": {
        "ok": {"const": False},
        "status": {"type": "integer"},
        "error": {"type": "string", "description": "What was wrong, in words."},
        "code": {"type": "string", "description": "The same for programs: it stays the same from version to version."},
        "field": {**_TEXT, "description": "The input that it is about."},
        "item": {**_NUMBER, "description": "Of a listing: which item, from 1."},
        "found": _TEXT,
        "wanted": _TEXT,
        "remedy": {**_TEXT, "description": "What to do."},
    },
}
_ROWS: Final[Schema] = {
    "type": "object",
    "required": ["rows", "next"],
    "properties": {
        "rows": {"type": "array", "items": {"type": "object"}},
        "next": {**_TEXT, "description": "What _next takes for the rows behind these; null where there are no more."},
    },
}
_MADE: Final[WeakKeyDictionary[Registry, dict[str, Any]]] = WeakKeyDictionary()
"""What is said of the calculators of a registry, which stays the same while it is served."""


async def open_api(request: Any, datasette: Any) -> Any:
    """The description of all that the one who asks may see. Raises NotFound where that is nothing of ours."""
    from datasette.utils.asgi import Forbidden, NotFound, Response

    routes = []
    for name in state_of(datasette).names(datasette):
        try:
            await ensure_may_view_database(datasette, request.actor, name)
        except Forbidden:
            continue
        routes.append(datasette.databases[name].route)
    if not routes:
        raise NotFound("There is no such page.")
    registry = state_of(datasette).registry
    if registry not in _MADE:
        _MADE[registry] = await asyncio.to_thread(_of_calculators, registry)
    return Response.json(description_of(_MADE[registry], routes, str(datasette.setting("base_url"))))


def description_of(of_calculators: dict[str, Any], routes: Sequence[str], base: str) -> dict[str, Any]:
    """The description for the databases at these addresses."""
    database = {
        "name": "database",
        "in": "path",
        "required": True,
        "description": "The database, as addresses name it.",
        "schema": {"enum": sorted(routes)},
    }
    return {
        "openapi": VERSION,
        "info": {
            "title": "bevelbook",
            "version": __version__,
            "description": "Calculators for oil-filled bevel-gear diffs, and the records of a team. Nothing here "
            f"writes. A number takes its unit and its uncertainty: {EXAMPLE}; {IN_WORDS}.",
        },
        "jsonSchemaDialect": DIALECT,
        "servers": [{"url": base}],
        "paths": of_calculators["paths"] | {"/{database}/{table}.json": _of_tables()},
        "components": {
            "parameters": {"database": database, "for": _FOR},
            "schemas": {"fault": _FAULT, "rows": _ROWS, **of_calculators["schemas"]},
            "responses": {f"fault_{status}": _refused(status) for status in _ANSWERS},
        },
    }


_FOR: Final = {
    "name": "for",
    "in": "query",
    "description": "Take what is not given from this record, such as rear-a/3 or scale:pocket; several with commas.",
    "schema": {"type": "string"},
}


def _of_calculators(registry: Registry) -> dict[str, Any]:
    calculators = [offered.calculator for _, offered in sorted(registry.calculators.items())]
    return {
        "paths": {f"/{{database}}/-/calc/{one.name}.json": _of_calculator(one) for one in calculators},
        "schemas": {_key(one): _result(one) for one in calculators},
    }


def _of_calculator(calculator: Calculator[Any, Any]) -> dict[str, Any]:
    takes_record = any(field.same_as for field in calculator.inputs)
    return {
        "parameters": [{"$ref": "#/components/parameters/database"}],
        "get": {
            "operationId": f"calc_{_key(calculator)}",
            "tags": ["calculators"],
            "summary": calculator.title,
            "description": "\n\n".join((calculator.question, *calculator.valid)),
            "parameters": [
                *([{"$ref": "#/components/parameters/for"}] if takes_record else []),
                *(_parameter(calculator, field) for field in calculator.inputs),
            ],
            "responses": {
                "200": _json("The result.", f"#/components/schemas/{_key(calculator)}"),
                **{status: {"$ref": f"#/components/responses/fault_{status}"} for status in _ANSWERS},
            },
        },
    }


def _parameter(calculator: Calculator[Any, Any], field: Field) -> dict[str, Any]:
    """An input in the address: a number in its unit, or a text with another one; an item of a listing is a text."""
    unit = f" [{field.unit}]" if field.unit not in (None, "1") else ""
    said: dict[str, Any] = {
        "name": field.name,
        "in": "query",
        "description": f"{field.about}{unit}",
        "required": field.required and field.same_as is None,
        "schema": _in_address(field),
    }
    examples = dict(_examples(calculator, field))
    return {**said, **({"examples": examples} if examples else {})}


def _in_address(field: Field) -> Schema:
    schema = _without_dialect(field_schema(field, is_given=True))
    if field.kind == "listing":
        return {"type": "array", "items": {"type": "string", "description": field.item_shape}}
    schema["type"] = next(iter(schema["type"])) if isinstance(schema["type"], list) else schema["type"]
    if field.choices:
        schema["enum"] = list(field.choices)
    if not field.is_number:
        return schema
    own: Schema = {name: schema.pop(name) for name in ("title", "description", "default") if name in schema}
    return {**own, "anyOf": [schema, {"type": "string", "description": "A number with a unit, or with its ±."}]}


def _examples(calculator: Calculator[Any, Any], field: Field) -> Iterator[tuple[str, dict[str, Any]]]:
    for number, worked in enumerate(calculator.worked, start=1):
        if field.name in worked.given:
            yield f"worked_{number}", {"summary": worked.source.cite(), "value": worked.given[field.name]}


def _result(calculator: Calculator[Any, Any]) -> Schema:
    schema = _without_dialect(result_schema(calculator))
    invented = {"type": "boolean", "description": "Whether all in this database is invented."}
    opened = {
        "type": "object",
        "additionalProperties": {"type": "string"},
        "description": "How long ago builds that were named were open, in words.",
    }
    return {
        **schema,
        "properties": {"invented": invented, **schema["properties"], "opened": opened, "kept_results_say": _SAID},
        "required": ["invented", *schema["required"], "kept_results_say"],
    }


def _of_tables() -> dict[str, Any]:
    tables = [*(kind.table for kind in (*KINDS, *FACTS)), *(view.name for view in VIEWS)]
    texts = {
        "_next": "Where the rows begin: what the answer before says under next.",
        "_sort": "The column by which they are sorted; _sort_desc turns it round.",
    }
    return {
        "parameters": [
            {"$ref": "#/components/parameters/database"},
            {"name": "table", "in": "path", "required": True, "schema": {"enum": sorted(tables)}},
        ],
        "get": {
            "operationId": "rows",
            "tags": ["tables"],
            "summary": "Rows of a table or view",
            "description": "A column's name with a value narrows them down, such as ?run_on=2026-05-03.",
            "parameters": [
                {
                    "name": "_shape",
                    "in": "query",
                    "required": True,
                    "description": "How rows are written.",
                    "schema": {"enum": ["objects"]},
                },
                {
                    "name": "_size",
                    "in": "query",
                    "description": "How many at most.",
                    "schema": {"anyOf": [{"type": "integer", "minimum": 1}, {"const": "max"}]},
                },
                *(
                    {"name": name, "in": "query", "description": about, "schema": {"type": "string"}}
                    for name, about in texts.items()
                ),
            ],
            "responses": {
                "200": _json("The rows.", "#/components/schemas/rows"),
                **{status: {"$ref": f"#/components/responses/fault_{status}"} for status in ("400", "404")},
            },
        },
    }


def _refused(status: str) -> dict[str, Any]:
    said = _ANSWERS[status]
    return {**said, "content": {"application/json": {"schema": {"$ref": "#/components/schemas/fault"}}}}


def _json(about: str, schema: str) -> dict[str, Any]:
    return {"description": about, "content": {"application/json": {"schema": {"$ref": schema}}}}


def _key(calculator: Calculator[Any, Any]) -> str:
    return calculator.name.replace("-", "_")


def _without_dialect(schema: Schema) -> Schema:
    return {name: value for name, value in schema.items() if name != "$schema"}
