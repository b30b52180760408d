"""What is found inside: all sound is one touch, else words for each part."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from bevelbook.card.procedure import ProcedureStep
from bevelbook.display.begun import begun
from bevelbook.physics.suspension import dark_oil_words
from bevelbook.pictures.reader import pictures_can_be_read
from bevelbook.records import BY_NAME
from bevelbook.reports.bench import JobOnBench
from bevelbook.reports.opening_of_job import opening_of
from bevelbook.saving.record import WantedRecord
from bevelbook.web.entry.step_fields import refuse_nothing, step_field, typed_texts
from bevelbook.web.entry.steps.step_screen import StepScreen, of_opening
from bevelbook.web.shared.typed_form import TypedForm

ALL: Final = "all"
"""The button for all sound; its value is what the oil is like."""
ALL_SOUND: Final = "All sound, oil "
"""Begins the name of that button; the oil ends it."""
REST: Final = "rest"
"""The button for what was not chosen being sound."""
OIL: Final = "oil"
OILS: Final = ("clear", "grey")
PARTS: Final = ("side_gears", "small_gears", "shafts", "cross_pin", "bores", "seals")
SOUND: Final = "ok"
"""What the one touch writes for each part."""
NOTE: Final = "note"


def shown(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> Mapping[str, Any]:
    """The words for each part, as they are stored."""
    stored = opening_of(connection, job.opening)
    kind = BY_NAME["opening"]
    return {
        "all": ALL,
        "all_sound": ALL_SOUND,
        "rest": REST,
        "oils": OILS,
        "sound": SOUND,
        "parts": [step_field(kind.field(name), stored=stored.get(name)) for name in (OIL, *PARTS)],
        "note": step_field(kind.field(NOTE), stored=stored.get(NOTE)),
        "photograph_of": _photograph_of(job) if pictures_can_be_read() else {},
    }


def _photograph_of(job: JobOnBench) -> Mapping[str, str]:
    """What a photograph of what is found hangs on: the opening, else the build that was in the diff."""
    if job.opening is not None:
        return {"opening": job.opening}
    return {"build": job.ends} if job.ends is not None else {}


def wanted(
    connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> Sequence[WantedRecord]:
    """What was chosen; with one touch the parts of which nothing was chosen are sound."""
    chosen = typed_texts(typed, (OIL, *PARTS, NOTE))
    sound = dict.fromkeys(PARTS, SOUND)
    if typed.text(ALL) in OILS:
        chosen = {**sound, OIL: typed.text(ALL), **chosen}
    elif typed.text(REST):
        chosen = {**sound, **chosen}
    if not chosen:
        all_sound = " or ".join(f"'{ALL_SOUND}{oil}'" for oil in OILS)
        refuse_nothing(job, step, what="nothing is chosen", ways=f"Touch {all_sound}, or a word for each part")
    return [of_opening(chosen)] if chosen else []


def said(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> Iterator[str]:
    """What dark oil means."""
    words = dark_oil_words(opening_of(connection, job.opening).get(OIL))
    if words:
        yield f"{begun(words)}."


SCREEN: Final = StepScreen("found", shown, wanted, said=said)
