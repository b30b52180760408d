"""One input of a screen of the bench, with the attributes that the macros of ``bevelbook_entry.html`` take."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from bevelbook.card.procedure import ProcedureStep
from bevelbook.declare.errors import InputError
from bevelbook.declare.fields import Field
from bevelbook.display.begun import begun
from bevelbook.display.format import format_typed
from bevelbook.reading.faults import NUMBER_MISSING
from bevelbook.reports.bench import JobOnBench
from bevelbook.web.shared.form_inputs import may_be_negative, unit_of
from bevelbook.web.shared.typed_form import TypedForm

Choice = str | tuple[str, str]
"""A button: its value, or its value and the words for it."""


class StepField(NamedTuple):
    """An input; ``typed`` is what is stored, until something else was typed."""

    name: str
    words: str
    kind: str = "text"
    unit: str = ""
    about: str = ""
    typed: str = ""
    choices: tuple[Choice, ...] = ()
    greyed: str = ""
    origin: str = ""
    fault: str = ""
    keypad: str = ""
    signed: bool = False

    def drawn(self, form: TypedForm) -> StepField:
        """The same with what was typed in a form that could not be stored."""
        return self._replace(typed=form.text(self.name)) if self.name in form.texts else self


def step_field(
    field: Field,
    *,
    name: str = "",
    words: str = "",
    stored: Any = None,
    choices: Sequence[Choice] | None = None,
    origin: str = "",
    about: str = "",
) -> StepField:
    """The input of a declared field; ``stored`` is the value that it has already."""
    is_number = field.kind in ("quantity", "whole")
    return StepField(
        name or field.name,
        words or capital(field.words),
        field.kind,
        unit_of(field),
        about,
        as_text(field, stored),
        tuple(field.choices if choices is None else choices),
        "",
        origin,
        "",
        {"quantity": "decimal", "whole": "numeric"}.get(field.kind, ""),
        is_number and may_be_negative(field),
    )


def as_text(field: Field, value: Any) -> str:
    """A stored value as a person would type it; empty for none."""
    if value is None:
        return ""
    return format_typed(value, field.unit).replace(",", "") if isinstance(value, float) else str(value)


def number_text(form: TypedForm, name: str) -> str:
    """What was typed for a number; empty too for a dash or another sign that there is none."""
    text = form.text(name)
    return "" if text.lower() in NUMBER_MISSING else text


def typed_texts(form: TypedForm, names: Sequence[str], prefix: str = "") -> dict[str, str]:
    """What was typed for these fields, without those left empty, by the names without the prefix."""
    return {name: text for name in names if (text := form.text(f"{prefix}{name}"))}


def refuse_nothing(job: JobOnBench, step: ProcedureStep, *, what: str, ways: str) -> None:
    """Raise InputError for a form with nothing in it, unless its step was stored before.

    ``what`` is missing: ``no mass was typed``; ``ways`` are what to do: ``Type what the scale shows``.
    """
    noted = job.steps.get(step.key)
    if noted is None or not noted.is_over:
        raise InputError(what, code="missing_input", remedy=f"{ways}, or leave the step out. Nothing was stored.")


def capital(words: str) -> str:
    """Words as they begin a line."""
    return begun(words)
