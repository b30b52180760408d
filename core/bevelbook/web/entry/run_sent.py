"""The form of a run as it came back: minutes, ticks and values confirmed as the texts of its fields."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from bevelbook.declare.errors import BevelbookError, InputError, Place
from bevelbook.declare.vocabulary import CHANGED_SINCE, HAPPENED, POSITIONS
from bevelbook.entering.run_places import FIELDS
from bevelbook.entering.ticked_words import refuse_nothing_beside_something, ticked_text
from bevelbook.reading import BY_HAND, read
from bevelbook.web.shared.typed_form import TypedForm

AFTER: Final = "after"
"""The field with the minutes after the run at which all diffs were read, one of :data:`MINUTES`."""
AFTER_TYPED: Final = "after.typed"
"""The same in words or as another number of minutes."""
AFTER_DRAWN: Final = "after.drawn"
"""A hidden field that says that the form had minutes for all diffs."""
MINUTES: Final = ("0", "1", "2", "3", "5")
TICK: Final = ".tick"
"""Ends the name of the boxes to tick for a field of words."""
WORDS: Final = ".words"
"""Ends the name of the words typed beside them."""
STILL: Final = "still."
"""Begins the name of the box that confirms an older value."""
TICKED: Final[Mapping[str, tuple[str, ...]]] = {"changed": CHANGED_SINCE, "happened": HAPPENED}
"""The fields of words to tick."""
SETTLED: Final = "settled."
"""Begins the name of the button that settles what a field of words says."""
CARRIED_FROM: Final = "carried."
"""Begins the names of the hidden fields with what the form was drawn for: ``car``, ``day``, ``before``, ``all``, and
``values``, which has a mark for each value and each diff."""
_OWN: Final = (STILL, SETTLED, CARRIED_FROM)
_BY_NAME: Final = {field.name: field for field in FIELDS}
_SECONDS: Final = 60.0


def run_texts(form: TypedForm) -> TypedForm:
    """The form with the texts of the declared fields of a run in place of its own inputs."""
    texts = {name: typed for name, typed in form.texts.items() if not _is_own(name)}
    seconds = seconds_of(form.text(AFTER_TYPED) or form.text(AFTER))
    for place in POSITIONS:
        own = f"{place}_after_s"
        if form.text(f"{place}_temp_c") and not form.text(own) and (seconds or AFTER_DRAWN in form.texts):
            texts[own] = [seconds]
    for name in TICKED:
        if f"{name}{WORDS}" in form.texts:
            texts[name] = [ticked_text(form.all(f"{name}{TICK}"), form.text(f"{name}{WORDS}"))]
    texts |= {name: [text] for name, text in form.after(SETTLED).items() if name in TICKED}
    for name, text in form.after(STILL).items():
        if not form.text(name):
            texts[name] = [text]
    return TypedForm(texts)


def _is_own(name: str) -> bool:
    """Whether an input is one of this form that no record has."""
    return name in (AFTER, AFTER_TYPED, AFTER_DRAWN) or name.startswith(_OWN) or name.endswith((TICK, WORDS))


def seconds_of(minutes: str) -> str:
    """Minutes as typed for a field of seconds; anything that is not a number stays as it is typed.

    >>> seconds_of("2"), seconds_of("1,5"), seconds_of("90 s"), seconds_of("")
    ('120', '90', '90 s', '')
    """
    try:
        return f"{float(minutes.replace(',', '.')) * _SECONDS:g}"
    except ValueError:
        return minutes


def minutes_of(texts: Mapping[str, str]) -> str | None:
    """The minutes at which all diffs with a temperature were read, as typed; None where they differ.

    >>> minutes_of({"rear_temp_c": "38", "rear_after_s": "120", "front_temp_c": "35", "front_after_s": "2 min"})
    '2'
    >>> minutes_of({"rear_temp_c": "38"}), minutes_of({"rear_temp_c": "38", "rear_after_s": "soon"})
    ('', 'soon')
    """
    found = {
        _minutes(f"{place}_after_s", texts.get(f"{place}_after_s", ""))
        for place in POSITIONS
        if texts.get(f"{place}_temp_c", "").strip()
    }
    return found.pop() if len(found) == 1 else None if found else ""


def _minutes(name: str, text: str) -> str:
    try:
        seconds = read(_BY_NAME[name], text, BY_HAND) if text.strip() else None
    except BevelbookError:
        return text
    return f"{seconds / _SECONDS:g}" if isinstance(seconds, float) else ""


def refuse_unclear(form: TypedForm, texts: Mapping[str, str]) -> None:
    """Raise InputError for *nothing* chosen beside something, and for minutes without a temperature."""
    for name, words in TICKED.items():
        refuse_nothing_beside_something(name, texts.get(name, ""), words)
    minutes = form.text(AFTER_TYPED) or form.text(AFTER)
    if minutes and not any(texts.get(f"{place}_temp_c", "").strip() for place in POSITIONS):
        raise InputError(
            "there are minutes after the run, but no temperature was read",
            code="minutes_without_temperature",
            place=Place(field=AFTER),
            remedy="Type the temperature of a diff, or take the minutes away.",
        )
