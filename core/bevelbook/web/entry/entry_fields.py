"""One input of a form that writes: how it is drawn, what is in it, and what is used while it is left empty."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, time
from typing import Final, Literal, NamedTuple

from bevelbook.declare.fields import Field
from bevelbook.display.begun import begun
from bevelbook.reading.laps import takes_minutes
from bevelbook.web.shared.form_inputs import keypad_of, may_be_negative, unit_of

Drawn = Literal["number", "choices", "list", "record", "text", "remark", "day", "time"]
Choice = tuple[str, str]
"""A button: what it sends, and its words."""

MOST_BUTTONS: Final = 7
"""Words of a choice, or names of records, that are buttons; more are a list."""
MOST_DIFFS: Final = 12
"""The same for diffs: a team sees all of its shelf."""
NOTHING: Final = "-"
"""What is sent for a field that is to be left empty although something would be taken for it."""
TYPED: Final = ".typed"
"""Ends the name of the input for a name that is none of the buttons."""
NOT_SAID_WORDS: Final = "not said"
_NONE_WORDS: Final = "none"
_LONG: Final = frozenset({"note", "text", "changed", "happened", "lap_times", "reason", "dropped"})
"""Texts that may be several lines."""


class ValueMeanwhile(NamedTuple):
    """A field that somebody else changed while the form was open: what is stored now, who wrote it and when."""

    stored: str
    by: str
    when: str


class EntryField(NamedTuple):
    """One input of a form that writes, with the attributes that the macros of ``bevelbook_entry.html`` take.

    ``drawn`` says which of them draws it. ``choices`` are the words of a choice or the names of the records most likely
    meant, ``others`` further names. ``greyed`` is what is used while it is left empty, and ``origin`` where that comes
    from. ``was`` is the text that was stored when the form was drawn; None for a new record. ``fault`` is what is wrong
    with it, ``clash`` what somebody else wrote meanwhile. ``plausible`` and ``bounds`` are the ends of the ranges
    outside which a number is asked about, or refused: ``-20 120``; an end that there is not is ``-``. ``called`` is
    what such a question calls it, whatever ``words`` a form has for it. ``id`` stands for the name in what the page
    refers to, where several of its forms have a field of that name.
    """

    name: str
    words: str
    unit: str
    about: str
    kind: str
    drawn: Drawn
    typed: str = ""
    choices: tuple[Choice, ...] = ()
    others: tuple[str, ...] = ()
    greyed: str = ""
    origin: str = ""
    keypad: str = ""
    signed: bool = False
    was: str | None = None
    is_needed: bool = False
    fault: str = ""
    clash: ValueMeanwhile | None = None
    plausible: str = ""
    bounds: str = ""
    called: str = ""
    id: str = ""
    in_minutes: bool = False

    @property
    def is_stopped(self) -> bool:
        """Whether it keeps the form from being saved."""
        return bool(self.fault or self.clash)

    @property
    def typed_beside(self) -> str:
        """What was typed that is none of the buttons."""
        return "" if any(value == self.typed for value, _ in self.choices) else self.typed


def entry_field(
    field: Field,
    *,
    typed: str = "",
    names: Sequence[str] = (),
    offered: str = "",
    origin: str = "",
    was: str | None = None,
    is_needed: bool = False,
    most: int = MOST_BUTTONS,
) -> EntryField:
    """The input of a declared field; ``names`` are those of the records that a reference most likely means, ``most`` of
    which are buttons."""
    drawn = _drawn(field, typed)
    is_record = field.kind == "reference"
    words = [*names[:most], *([was] if was and was not in names[:most] else [])]
    may_be_none = not is_needed and (was is not None or bool(typed))
    choices = tuple(_choices(words if is_record else field.choices, offered, origin, is_record, may_be_none))
    return EntryField(
        field.name,
        begun(field.words),
        unit_of(field),
        "" if _plain(field.about) == _plain(field.words) else field.about,
        field.kind,
        drawn,
        typed,
        choices if is_record or field.choices else (),
        tuple(names[most:]) if is_record else (),
        offered,
        _origin(offered, origin, drawn),
        keypad_of(field),
        field.is_number and may_be_negative(field),
        was,
        is_needed,
        plausible=_range(*field.plausible) if field.plausible else "",
        bounds=_range(field.minimum, field.maximum) if field.minimum is not None or field.maximum is not None else "",
        called=begun(field.words),
        in_minutes=takes_minutes(field),
    )


def _range(low: float | None, high: float | None) -> str:
    """The ends of a range for a script.

    >>> _range(-20, 120.5), _range(0, None)
    ('-20 120.5', '0 -')
    """
    return " ".join("-" if end is None else f"{end:g}" for end in (low, high))


def _plain(words: str) -> str:
    return words.casefold().removeprefix("the ")


def _choices(words: Iterable[str], offered: str, origin: str, is_record: bool, may_be_none: bool) -> Iterable[Choice]:
    """The buttons: what is used if none is touched comes first, and may be left out; what was chosen may be taken away
    again."""
    if offered:
        yield "", f"{offered}, {origin}" if origin else offered
    yield from ((one, one) for one in words if one != offered)
    if offered and is_record:
        yield NOTHING, _NONE_WORDS
    elif not offered and may_be_none:
        yield "", _NONE_WORDS if is_record else NOT_SAID_WORDS


def _origin(offered: str, origin: str, drawn: Drawn) -> str:
    """What is used while the input is left empty, where neither its buttons nor its ink say it."""
    if not offered or drawn in ("choices", "record"):
        return ""
    if drawn in ("day", "time"):
        return f"{offered} if left empty, {origin}" if origin else f"{offered} if left empty"
    return origin


def _drawn(field: Field, typed: str) -> Drawn:
    if field.kind == "reference":
        return "record"
    if field.kind == "choice":
        is_known = not typed or typed in field.choices
        return ("choices" if len(field.choices) <= MOST_BUTTONS else "list") if is_known else "text"
    if field.is_number:
        return "number"
    if field.kind == "date" and _is_day(typed):
        return "day"
    if field.kind == "time" and _is_time(typed):
        return "time"
    return "remark" if field.name in _LONG else "text"


def _is_day(text: str) -> bool:
    """Whether a day input can show a text: any other would be lost in it."""
    try:
        return not text or date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def _is_time(text: str) -> bool:
    try:
        return not text or time.fromisoformat(text).strftime("%H:%M") == text
    except ValueError:
        return False
