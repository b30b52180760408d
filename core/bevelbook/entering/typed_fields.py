"""The fields that a person may type for a record."""

from __future__ import annotations

from bevelbook.declare.fields import Field
from bevelbook.entering import run_places
from bevelbook.records import Kind


def typed_fields(kind: Kind) -> tuple[Field, ...]:
    """The fields that can be typed for a record: its own, and for a run what was where in the car; not what a file
    fills."""
    if kind.name == "run":
        return (*kind.fields, *run_places.FIELDS)
    return tuple(field for field in kind.fields if field.name != kind.from_file)
