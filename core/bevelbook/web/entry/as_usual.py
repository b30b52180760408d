"""The list of all that is the same again in a build: what it has from the other one, and which steps are ticked off."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any, Final, NamedTuple

from bevelbook.display.begun import begun
from bevelbook.display.format import format_value
from bevelbook.entering.shown_values import shown_values
from bevelbook.facts.kept_facts import facts_of_some
from bevelbook.planning.plan_in_use import OilPlanned
from bevelbook.records import BY_NAME
from bevelbook.records.facts import BuildFacts
from bevelbook.reports.bench import JobOnBench
from bevelbook.store.lookup import label_of
from bevelbook.web.entry.bench_order import AS_USUAL, PlacedStep, ticked_with_the_list
from bevelbook.web.entry.bench_plan import oil_of_job
from bevelbook.web.entry.entry_fields import EntryField, entry_field
from bevelbook.web.entry.generic_step import as_typed
from bevelbook.web.entry.likely_records import likely_records
from bevelbook.web.shared.typed_form import TypedForm

CHANGED_HERE: Final = ("fluid", "bottle", "target_oil_mass_g")
"""What the list itself takes, where it differs; all else has its own screen."""
_BUILD: Final = BY_NAME["build"]
_PIECES: Final = {
    "blend_parts": "blend_part",
    "build_shims": "build_shim",
    "seal_fittings": "seal_fitting",
    "build_parts": "build_part",
}
_HEADINGS: Final = {"blend_parts": "Blend", "build_shims": "Shims", "seal_fittings": "Seals", "build_parts": "Parts"}


class UsualLine(NamedTuple):
    """Something that is the same again: its name, its value in words, and the key of the step that changes it."""

    name: str
    words: str
    step: str | None = None


class AsUsual(NamedTuple):
    """The lines, the inputs for what differs, and the titles of the steps that are ticked off with the list."""

    lines: tuple[UsualLine, ...]
    fields: tuple[EntryField, ...]
    ticked: tuple[tuple[str, str], ...]


def as_usual_of(
    connection: sqlite3.Connection, job: JobOnBench, steps: Sequence[PlacedStep], form: TypedForm
) -> AsUsual:
    """The list of a job; what is in its build already, else what the build it is done like has."""
    source = job.build or job.like
    values = shown_values(connection, _BUILD, source) if source else {}
    stored = _taken_over(connection, job, values)
    planned = oil_of_job(connection, job, date.today()) if AS_USUAL not in job.steps else None
    of_plan = _of_plan(connection, planned) if planned else {}
    shown = {name: value for name, value in {**values, **stored, **of_plan}.items() if value is not None}
    fields = [_field(connection, name, stored, {**stored, **of_plan}, form) for name in CHANGED_HERE]
    said = (UsualLine("Oil", f"{planned.plan_of} says {planned.words}"),) if planned else ()
    return AsUsual(
        (*said, *_lines(connection, source or "", shown, steps)),
        tuple(fields),
        tuple((one.key, one.step.heading) for one in ticked_with_the_list(steps)),
    )


def differing(connection: sqlite3.Connection, job: JobOnBench, form: TypedForm) -> dict[str, str]:
    """What was typed on the list that differs from what the build has or takes over."""
    values = shown_values(connection, _BUILD, job.build or job.like or "")
    stored = _taken_over(connection, job, values)
    typed = {name: form.text(name) for name in CHANGED_HERE if name in form.texts}
    return {
        name: text for name, text in typed.items() if text and text != as_typed(_BUILD.field(name), stored.get(name))
    }


def _taken_over(connection: sqlite3.Connection, job: JobOnBench, values: Mapping[str, Any]) -> dict[str, Any]:
    """The oil that goes in: without a target the one that went into the other build."""
    found = {name: values.get(name) for name in CHANGED_HERE}
    if found["target_oil_mass_g"] is None and job.build is None and job.like is not None:
        facts = facts_of_some(connection, BuildFacts, (job.like,)).get(job.like)
        found["target_oil_mass_g"] = facts.oil_in_g if facts else None
    return {name: value for name, value in found.items() if value is not None}


def _of_plan(connection: sqlite3.Connection, planned: OilPlanned) -> dict[str, Any]:
    """What a plan says goes in: one oil, without the bottle of another; nothing of a blend."""
    if planned.fluid is None:
        return {}
    mass = {} if planned.oil_mass_g is None else {"target_oil_mass_g": planned.oil_mass_g}
    return {
        "fluid": label_of(connection, BY_NAME["fluid"], planned.fluid),
        "bottle": None,
        "viscosity_cst": None,
        **mass,
    }


def _field(
    connection: sqlite3.Connection, name: str, stored: Mapping[str, Any], offered: Mapping[str, Any], form: TypedForm
) -> EntryField:
    field = _BUILD.field(name)
    held = as_typed(field, stored.get(name))
    names = likely_records(connection, _BUILD, field) if field.kind == "reference" else ()
    typed = form.text(name) if name in form.texts else as_typed(field, offered.get(name))
    return entry_field(field, typed=typed, names=names, was=held or None)


def _lines(
    connection: sqlite3.Connection, build: str, values: Mapping[str, Any], steps: Sequence[PlacedStep]
) -> Iterator[UsualLine]:
    for name in (field.name for field in _BUILD.fields if field.carried):
        if name in values and name not in ("kind", "viscosity_from"):
            field = _BUILD.field(name)
            words = begun(field.words)
            yield UsualLine(words, format_value(values[name], field), _step_of(steps, f"builds.{name}"))
    for table, kind in _PIECES.items():
        pieces = [_piece(connection, kind, row[0]) for row in _rows(connection, table, build)]
        if pieces:
            yield UsualLine(_HEADINGS[table], "; ".join(pieces), _step_of(steps, f"{table}."))


def _rows(connection: sqlite3.Connection, table: str, build: str) -> list[Any]:
    return connection.execute(f"SELECT id FROM {table} WHERE build = ? ORDER BY id", (build,)).fetchall()


def _piece(connection: sqlite3.Connection, kind_name: str, row_id: str) -> str:
    kind = BY_NAME[kind_name]
    values = shown_values(connection, kind, row_id)
    pieces = values.pop("pieces", 1)
    fields = [field for field in kind.fields if field.carried and field.name in values and field.name != "note"]
    words = " ".join(format_value(values[field.name], field) for field in fields)
    return words if pieces == 1 else f"{words}, {pieces} of them"


def _step_of(steps: Sequence[PlacedStep], column: str) -> str | None:
    """The key of the step that writes down a column, or a column of a table whose name ends in a point."""
    ends = column.endswith(".")
    return next(
        (
            one.key
            for one in steps
            if any(written.startswith(column) if ends else written == column for written in one.step.write_down)
        ),
        None,
    )
