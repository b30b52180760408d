"""What keeps a form of the bench from being stored: a sentence, and the buttons that settle it."""

from __future__ import annotations

from typing import Final

from bevelbook.declare.errors import BevelbookError, DatabaseError
from bevelbook.display.begun import begun
from bevelbook.entering.question import Question
from bevelbook.web.entry.bench_writing import StepSavedMeanwhileError
from bevelbook.web.entry.sent import ANOTHER, ANSWER, SURE, NotSureError, WrittenBeforeError
from bevelbook.web.entry.stops import TRY_AGAIN, Stop, WayOut
from bevelbook.web.shared.fault_words import fault_words
from bevelbook.web.shared.typed_form import TypedForm

OVER_THEIRS: Final = "over_theirs"
"""The field that says that what was typed is right, and not what somebody else stored meanwhile."""


def bench_stop(fault: BevelbookError) -> Stop:
    """The sentence of a fault and the ways out of it."""
    if isinstance(fault, Question):
        words = _sentence(begun(fault.what, (fault.found or "",)))
        return Stop(words, tuple(WayOut(f"{ANSWER}{fault.field}", way.key, way.words) for way in fault.answers))
    if isinstance(fault, NotSureError):
        said = " ".join(_sentence(begun(odd.words)) for odd in fault.odd)
        ways = tuple(
            WayOut(SURE, f"{odd.field.name}={odd.text}", f"Yes, the {odd.field.words} is right") for odd in fault.odd
        )
        return Stop(f"{said} Is that right? Nothing was stored yet.", ways)
    if isinstance(fault, WrittenBeforeError):
        return Stop(fault_words(fault), (WayOut(ANOTHER, "yes", "Store it once more: it happened twice"),))
    if isinstance(fault, StepSavedMeanwhileError):
        stored = f" Stored is: {fault.stored}." if fault.stored else ""
        return Stop(f"{fault_words(fault)}{stored}", (WayOut(OVER_THEIRS, "yes", "Store what I typed in its place"),))
    if isinstance(fault, DatabaseError):
        return Stop(f"{fault_words(fault)} {TRY_AGAIN}")
    field = fault.place.field
    words = fault_words(fault)
    return Stop(f"{_capital(fault.naming.as_place(field))}: {words[:1].lower()}{words[1:]}" if field else words)


def settled_so_far(form: TypedForm) -> tuple[tuple[str, str], ...]:
    """What a form has to send again: answers given and values confirmed."""
    answers = ((f"{ANSWER}{name}", text) for name, text in form.after(ANSWER).items() if text)
    return (*answers, *((SURE, text) for text in form.all(SURE)))


def _sentence(words: str) -> str:
    return words if words.endswith((".", "?", "!")) else f"{words}."


def _capital(words: str) -> str:
    return begun(words)
