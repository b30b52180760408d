"""The screen of a step that names none: an input for each column that it writes down, and for each word of its own."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from bevelbook.card.procedure import ProcedureStep
from bevelbook.declare.fields import Field
from bevelbook.display.begun import begun
from bevelbook.display.format import format_typed
from bevelbook.entering.shown_values import shown_values
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_TABLE, Kind
from bevelbook.reports.bench import JobOnBench, NotedStep, records_of_step
from bevelbook.reports.opening_of_job import seen_so_far
from bevelbook.saving.record import WantedRecord
from bevelbook.web.entry.likely_records import likely_records
from bevelbook.web.entry.steps.step_screen import (
    StepCourse,
    StepScreen,
    change_of,
    in_build,
    of_build,
    of_build_before,
    of_opening,
)
from bevelbook.web.shared.form_inputs import FormInput, may_be_negative, unit_of
from bevelbook.web.shared.typed_form import TypedForm

_OWN_WORDS: Final = "words."
"""Begins the name of the input for something that has no column of its own."""
_BETWEEN: Final = "; "
_OF_THE_WHOLE: Final = ("builds", "weighings", "openings")
"""Tables that are about the whole diff; pieces in it are on the list of what is the same again."""


def shown(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> Mapping[str, Any]:
    """The inputs with what is stored for each."""
    noted = job.steps.get(step.key)
    stored = {table: _stored(connection, job, step, BY_TABLE[table]) for table in _tables(step)}
    said = _own_words(noted)
    fields = []
    for written in step.write_down:
        if " " in written:
            fields.append(_of_own_words(written, said.get(written, "")))
        else:
            table, _, name = written.partition(".")
            fields.append(_input(connection, BY_TABLE[table], name, stored[table].get(name)))
    for table in _tables(step):
        kind = BY_TABLE[table]
        fields += [_input(connection, kind, name, stored[table].get(name)) for name in _needed_besides(step, kind)]
    return {"fields": fields}


def wanted(
    connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> Sequence[WantedRecord]:
    """What was changed in the opening and the build, a weighing that was read, and one piece of each kind."""
    return [one for table in _tables(step) for one in _wanted(connection, job, step, BY_TABLE[table], typed)]


def course(
    connection: sqlite3.Connection, registry: Registry, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> StepCourse:
    """The step is over; what has no column is kept with it in words."""
    own = [one for one in step.write_down if " " in one]
    said = (f"{one}: {' '.join(text.split())}" for one in own if (text := typed.text(f"{_OWN_WORDS}{one}")))
    return StepCourse(note=_BETWEEN.join(said) or None)


def asks_for_number(step: ProcedureStep) -> bool:
    """Whether a step without a screen of its own takes a number that is not the same again."""
    fields = (BY_TABLE[table].field(name) for table, _, name in _columns(step) if table in _OF_THE_WHOLE)
    return any(field.kind in ("quantity", "whole") and not field.carried for field in fields)


def _columns(step: ProcedureStep) -> Iterator[tuple[str, str, str]]:
    return (one.partition(".") for one in step.write_down if " " not in one)


def _tables(step: ProcedureStep) -> list[str]:
    return list(dict.fromkeys(table for table, _, _ in _columns(step)))


def _of_step(step: ProcedureStep, table: str) -> list[str]:
    return [name for one, _, name in _columns(step) if one == table]


def _needed_besides(step: ProcedureStep, kind: Kind) -> list[str]:
    """What a new record needs and the step does not write down: it has inputs too. Where a piece is says the step."""
    if kind.table in ("builds", "openings", "diffs"):
        return []
    known = {*_of_step(step, kind.table), "build", kind.day, *(["place"] if step.place else [])}
    return [field.name for field in kind.needed if field.name not in known]


def _wanted(
    connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep, kind: Kind, typed: TypedForm
) -> Iterator[WantedRecord]:
    stored = _stored(connection, job, step, kind)
    names = {name: f"{kind.table}.{name}" for name in (*_of_step(step, kind.table), *_needed_besides(step, kind))}
    texts = {name: typed.text(sent) for name, sent in names.items() if sent in typed.texts}
    changed = {name: text for name, text in texts.items() if text != as_typed(kind.field(name), stored.get(name))}
    if not changed:
        return
    row_id = _row_id(connection, job, step, kind)
    if kind.name == "build":
        yield of_build(changed)
    elif kind.name == "opening":
        yield of_opening(changed)
    elif row_id is not None:
        yield change_of(kind.name, row_id, changed)
    elif any(texts.values()):
        given = {**_of_piece(connection, job, step, kind), **{name: text for name, text in texts.items() if text}}
        if "build" not in kind.columns:
            yield WantedRecord(kind, given)
            return
        before = job.build is None and kind.name == "weighing"
        yield of_build_before(kind.name, given, job) if before else in_build(kind.name, given)


def _row_id(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep, kind: Kind) -> str | None:
    """The record that the step writes to: of a piece the one at its place, else of a weighing or a piece the
    one that it stored itself."""
    if kind.name == "build":
        return job.build
    if kind.name == "opening":
        return job.opening
    if kind.name == "diff":
        return job.diff
    if "build" not in kind.columns:
        return None
    if is_at_place(step, kind):
        row = connection.execute(
            f"SELECT id FROM {kind.table} WHERE build = ? AND place = ? ORDER BY id LIMIT 1", (job.build, step.place)
        ).fetchone()
        return None if row is None else str(row[0])
    return next(iter(records_of_step(connection, job, step.key, kind.table)), None)


def is_at_place(step: ProcedureStep, kind: Kind) -> bool:
    """Whether the step is about the piece of this kind at one place of the build."""
    return bool(step.place) and "place" in kind.columns and step.place in kind.field("place").choices


def _of_piece(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep, kind: Kind) -> dict[str, str]:
    """What a new piece at the place of the step has: the place, and what the one before it there was."""
    if not is_at_place(step, kind):
        return {}
    row = connection.execute(
        f"SELECT id FROM {kind.table} WHERE build = ? AND place = ? ORDER BY id LIMIT 1", (job.ends, step.place)
    ).fetchone()
    last = shown_values(connection, kind, row[0]) if row else {}
    carried = [field for field in kind.fields if field.carried and field.name not in ("note", "build")]
    return {
        **{field.name: as_typed(field, last[field.name]) for field in carried if field.name in last},
        "place": step.place,
    }


def _stored(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep, kind: Kind) -> Mapping[str, Any]:
    if kind.name == "opening" and job.opening is None:
        return seen_so_far(connection, job)
    row_id = _row_id(connection, job, step, kind)
    return {} if row_id is None else shown_values(connection, kind, row_id)


def as_typed(field: Field, value: Any) -> str:
    """A stored value as a person would type it; empty for none."""
    if value is None:
        return ""
    return format_typed(value, field.unit).replace(",", "") if isinstance(value, float) else str(value)


def _own_words(noted: NotedStep | None) -> dict[str, str]:
    parts = (noted.note or "").split(_BETWEEN) if noted else []
    return {name: text for name, colon, text in (part.partition(": ") for part in parts) if colon}


def _of_own_words(words: str, typed: str) -> FormInput:
    return FormInput(f"{_OWN_WORDS}{words}", begun(words), "", "", "text", typed, (), "", "", "", "", "", "", False)


def _input(connection: sqlite3.Connection, kind: Kind, name: str, value: Any) -> FormInput:
    field = kind.field(name)
    return FormInput(
        f"{kind.table}.{name}",
        begun(field.words),
        unit_of(field),
        "",
        field.kind,
        as_typed(field, value),
        _choices(connection, kind, field),
        "",
        "",
        "",
        "",
        "",
        {"quantity": "decimal", "whole": "numeric"}.get(field.kind, ""),
        field.kind == "quantity" and may_be_negative(field),
    )


def _choices(connection: sqlite3.Connection, kind: Kind, field: Field) -> tuple[str, ...]:
    """The words of a choice; of a reference the names of the records that it most likely means."""
    is_record = field.kind == "reference"
    return tuple(likely_records(connection, kind, field)) if is_record else field.choices


GENERIC: Final = StepScreen("generic", shown, wanted, asks=False, course=course)
