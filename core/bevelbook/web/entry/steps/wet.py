"""Where it was wet before it was wiped: dry all round is one touch."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from typing import Any, Final

from bevelbook.card.procedure import ProcedureStep
from bevelbook.declare.errors import InputError
from bevelbook.entering.question import Question, Way
from bevelbook.records import BY_NAME
from bevelbook.reports.bench import JobOnBench
from bevelbook.reports.opening_of_job import seen_so_far
from bevelbook.saving.record import WantedRecord
from bevelbook.web.entry.sent import ANSWER
from bevelbook.web.entry.step_fields import refuse_nothing, step_field
from bevelbook.web.entry.steps.step_screen import StepScreen, of_opening
from bevelbook.web.shared.typed_form import TypedForm

ALL: Final = "all"
DRY: Final = "dry"
_AFTER_ALL: Final = "dry, not "
"""Begins the answer that it was dry though a wet place was chosen."""
_PLACE, _AMOUNT = "leak_place", "leak_amount"


def shown(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> Mapping[str, Any]:
    """The places and how wet, as they are stored."""
    stored = seen_so_far(connection, job)
    kind = BY_NAME["opening"]
    wet = [one for one in kind.field(_AMOUNT).choices if one != DRY]
    return {
        "all": ALL,
        "dry": DRY,
        "is_dry": stored.get(_AMOUNT) == DRY,
        "where": step_field(kind.field(_PLACE), words="Where it was wet", stored=stored.get(_PLACE)),
        "how_wet": step_field(kind.field(_AMOUNT), words="How wet", stored=stored.get(_AMOUNT), choices=wet),
    }


def wanted(
    connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> Sequence[WantedRecord]:
    """The place and how wet it was. Raises InputError for a wet place without its name, and where nothing is chosen;
    Question where it is dry and wet."""
    place, amount = typed.text(_PLACE), typed.text(_AMOUNT)
    wet = ", ".join(filter(None, (place, amount)))
    dry_after_all = wet and typed.text(f"{ANSWER}{ALL}") == f"{_AFTER_ALL}{wet}"
    if typed.text(ALL) == DRY and wet and not dry_after_all:
        raise Question(
            f"dry all round was touched, but also {wet}: which is it?",
            code="dry_or_wet",
            field=ALL,
            found=wet,
            answers=(Way(f"wet: {wet}", f"Wet: {wet}"), Way(f"{_AFTER_ALL}{wet}", "Dry all round")),
        )
    if typed.text(ALL) == DRY or dry_after_all:
        return [of_opening({_AMOUNT: DRY, _PLACE: ""})]
    if amount and not place:
        raise InputError(
            f"it was {amount}, but not where",
            code="missing_input",
            remedy="Touch the place; unknown if nobody saw it.",
        )
    texts = {name: text for name, text in ((_PLACE, place), (_AMOUNT, amount)) if text}
    if not texts:
        refuse_nothing(job, step, what="nothing is chosen", ways="Touch 'Dry all round', or the wet place")
    return [of_opening(texts)] if texts else []


SCREEN: Final = StepScreen("wet", shown, wanted)
