"""The day that a form showed as the one it would take: asked about where another one would be taken by now."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from bevelbook.display.days import day_in_words
from bevelbook.entering.question import Question, Way
from bevelbook.records import Kind
from bevelbook.web.entry.record_form import RecordForm

SHOWN_DAY: Final = "shown.day"
"""The hidden field with the day that the form showed."""
AS_OF_TODAY: Final = "day.today"
"""The button that draws a form of another day again as one of today, with all that was typed."""


def shown_day(form: RecordForm) -> str:
    """The day that a new record takes where none is typed, as the form shows it; empty where it takes none."""
    return next((one.greyed for one in form.fields if one.name == form.kind.day), "")


def day_as_shown(kind: Kind, given: Mapping[str, str], shown: str, now: str, answer: str) -> Mapping[str, str]:
    """The texts with the day that was shown, or the one that was answered; as they are where a day was typed, or the
    form shows the day that is taken now. Raises Question where the two differ: a form may stay open overnight."""
    day = kind.day
    if day is None or not shown or not now or shown == now or given.get(day, "").strip():
        return given
    if answer in (shown, now):
        return {**given, day: answer}
    raise Question(
        f"this form was opened when the day was {day_in_words(shown)}; now it would be {day_in_words(now)}. Which day "
        "is it of?",
        code="which_day",
        field=day,
        found=shown,
        answers=(Way(shown, day_in_words(shown)), Way(now, day_in_words(now))),
    )
