"""The file ``datapackage.json`` of an export: Data Package and Table Schema 2.0 (datapackage.org, 2024; read).

All of it follows from the declarations, the counts and the hashes: no clock, no name of a machine, no path. A licence
is left to the team.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, Final, NamedTuple

from bevelbook.declare.fields import Field
from bevelbook.interchange.csv_cells import GUARD, text_cell
from bevelbook.interchange.exported_tables import (
    NOTE_BYTES,
    PICTURE_BYTES,
    ExportColumn,
    ExportTable,
    exported_tables,
)
from bevelbook.reading.units import ucum_of

DESCRIPTOR: Final = "datapackage.json"
OURS: Final = "bevelbook"
"""The property that makes a data package an export of this tool."""
STEP: Final = "step"
INVENTED: Final = "invented"
PART: Final = "part"
_PROFILES: Final = "https://datapackage.org/profiles/2.0/"
_TYPES: Final = {"REAL": "number", "INTEGER": "integer", "TEXT": "string"}
UNIT_CODES: Final = {
    "title": "The Unified Code for Units of Measure: the codes of the units (ucumCode)",
    "path": "https://ucum.org/ucum",
    "version": "2.1",
}
_TEAM: Final = {"title": "What the team wrote down, each entry with who and when in the table entries"}
_NOTES: Final = {"title": "Files of notes that were brought in, as listed in the table note_files"}
_DESCRIPTION: Final = (
    "What a team knows of its oil-filled bevel-gear diffs: every table of records with its past, one CSV file each "
    "(RFC 4180, UTF-8, lines end in LF), the imported files in the folder files and the pictures of photographs in "
    "the folder pictures.\n\n"
    f"An empty cell is nothing. A text that begins with {GUARD} has one more {GUARD} in front than it has: it keeps "
    f"spreadsheets from taking the text for a formula, and {GUARD} alone is an empty text. Numbers have no such sign. "
    "Rows stand in the order of their ids, and references hold ids.\n\n"
    "It holds the names of people and what they noted: mind whom you give it to."
)


class FileFacts(NamedTuple):
    """What is known of a file once it is written: its rows, its size, and its hash."""

    rows: int
    byte_count: int
    sha256: str


class ExportPart(NamedTuple):
    """That an export is a part: everything touched since a day with all that it needs, and whether files are in it."""

    since: str
    with_files: bool


def descriptor_text(
    step: int,
    files: Mapping[str, FileFacts],
    *,
    invented: bool,
    part: ExportPart | None = None,
    whole: frozenset[str] = frozenset(),
) -> str:
    """The text of the file. ``files`` are those that were written by table; ``whole`` names the tables of files and
    pictures of which none is missing."""
    ours: dict[str, object] = {STEP: step, INVENTED: invented}
    if part is not None:
        ours[PART] = {"since": part.since, "with_files": part.with_files}
    package = {
        "$schema": f"{_PROFILES}datapackage.json",
        "name": "bevelbook-export",
        "title": "Builds of sealed bevel-gear diffs, their oil and their runs"
        + (" (all invented)" if invented else ""),
        "description": _DESCRIPTION,
        OURS: ours,
        "sources": [_TEAM, _NOTES, UNIT_CODES],
        "resources": [_resource(table, files[table.name], whole) for table in exported_tables() if table.name in files],
    }
    return json.dumps(package, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def _resource(table: ExportTable, facts: FileFacts, whole: frozenset[str]) -> dict[str, object]:
    return {
        "name": table.name,
        "path": table.path,
        "$schema": f"{_PROFILES}dataresource.json",
        "type": "table",
        "title": table.title,
        "description": table.about,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": {"delimiter": ",", "quoteChar": '"', "doubleQuote": True, "lineTerminator": "\n", "header": True},
        "rows": facts.rows,
        "bytes": facts.byte_count,
        "hash": f"sha256:{facts.sha256}",
        "schema": _schema(table, whole),
    }


def _schema(table: ExportTable, whole: frozenset[str]) -> dict[str, object]:
    references = [_reference(table, column.name, column.target, "id") for column in table.columns if column.target]
    if table.name == "note_files" and NOTE_BYTES in whole:
        references.append(_reference(table, "sha256", NOTE_BYTES, "sha256"))
    if table.name == "pictures" and PICTURE_BYTES in whole:
        references.append(_reference(table, "id", PICTURE_BYTES, "sha256"))
    schema: dict[str, object] = {
        "$schema": f"{_PROFILES}tableschema.json",
        "fields": [_field(table, column) for column in table.columns],
        "missingValues": [""],
    }
    if table.key:
        schema["primaryKey"] = list(table.key)
    if references:
        schema["foreignKeys"] = references
    return schema


def _reference(table: ExportTable, column: str, target: str, key: str) -> dict[str, object]:
    other = {} if target == table.name else {"resource": target}
    return {"fields": [column], "reference": {**other, "fields": [key]}}


def _field(table: ExportTable, column: ExportColumn) -> dict[str, object]:
    field = column.field
    said: dict[str, object] = {
        "name": column.name,
        "title": field.words if field else column.name.replace("_", " "),
        "description": column.about,
        "type": "date" if field and field.kind == "date" else _TYPES[column.cell_type],
    }
    if field and field.unit is not None:
        said |= {"unit": field.unit, "ucumCode": ucum_of(field.unit)}
    constraints = dict(_constraints(table, column, field))
    return {**said, "constraints": constraints} if constraints else said


def _constraints(table: ExportTable, column: ExportColumn, field: Field | None) -> Mapping[str, Any]:
    found: dict[str, Any] = {}
    if column.required:
        found["required"] = True
    if table.key == (column.name,):
        found["unique"] = True
    if field is None:
        return found
    bounds = (
        ("minimum", field.minimum),
        ("maximum", field.maximum),
        ("exclusiveMinimum", field.above),
        ("exclusiveMaximum", field.below),
    )
    found |= {name: bound for name, bound in bounds if bound is not None}
    if field.choices:
        found["enum"] = [text_cell(word) for word in field.choices]
    return found
