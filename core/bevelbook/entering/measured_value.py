"""A value typed with its ±, for a field that has its uncertainty in a field beside it (``viscosity``)."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from bevelbook.declare.coverage import TAKEN_AS
from bevelbook.declare.errors import InputError, Place
from bevelbook.declare.fields import Field
from bevelbook.declare.sentence import Named, Sentence
from bevelbook.reading import BY_HAND, read_measured
from bevelbook.reading.measured import split_measured
from bevelbook.records import Kind


class MeasuredValue(NamedTuple):
    """A value with its standard uncertainty (k = 1), the field of that, and how its ± was understood.

    ``text`` is the value alone, as typed.
    """

    value: float | None
    text: str
    uncertainty: float
    uncertainty_field: str
    words: str


def uncertainty_field(kind: Kind, field: Field) -> Field | None:
    """The field of a record that holds the standard uncertainty of another: ``viscosity_uncertainty_cst``."""
    suffix = field.name[len(field.stem) :]
    name = f"{field.stem}_uncertainty{suffix}"
    return kind.field(name) if field.kind == "quantity" and name in kind.columns else None


def measured_value(kind: Kind, field: Field, text: str, typed: Mapping[str, str]) -> MeasuredValue | None:
    """The value and uncertainty of a text with a ±; None without one, or where the record has no field for it.

    ``typed`` are the texts of all fields. Raises InputError if it cannot be read, or if the uncertainty is typed twice.
    """
    beside = uncertainty_field(kind, field)
    if beside is None:
        return None
    try:
        split = split_measured(field, text)
        if split.uncertainty is None:
            return None
        if typed.get(beside.name, "").strip():
            raise InputError(
                Sentence("the uncertainty is given twice, behind the value and as ", Named(beside.name)),
                code="too_many_inputs",
                found=text,
                remedy="Give it once.",
            )
        measured = read_measured(field, text, BY_HAND)
    except InputError as fault:
        fault.place = Place(field=field.name)
        raise
    k = TAKEN_AS if split.k is None else f"(k = {split.k:g})"
    words = f"k = 1; from ± {split.uncertainty.strip()} {k}"
    return MeasuredValue(measured.value, split.value, measured.uncertainty or 0.0, beside.name, words)
