"""What a rejected cell may have meant, where its reason allows a few answers alone: each as a text that has one
reading."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from datetime import date
from typing import Final, NamedTuple

from bevelbook.declare.errors import near_names
from bevelbook.declare.fields import Field
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.display.days import day_in_words
from bevelbook.display.format import SHOWN_UNIT
from bevelbook.notes.note_columns import BY_NAME, REFERRED
from bevelbook.reading import ReadingError
from bevelbook.reading.date_forms import DayForms
from bevelbook.reading.dates import FIRST, days_of
from bevelbook.reading.numbers import is_sane, parts_of, scale_for
from bevelbook.reading.units import converted
from bevelbook.records import BY_NAME as KINDS_BY_NAME
from bevelbook.store.lookup import labels_of

MOST_NAMES: Final = 8
_NUMBER: Final = late_pattern(r"[-+−]?\d+(?:[.,]\d+)?")
_OF_UNIT: Final = frozenset(
    ("unit_ambiguous", "unit_not_allowed", "unit_unknown", "temp_unit_unknown", "viscosity_unit_unknown")
)
_OF_NAME: Final = frozenset(("date_in_label", "not_a_name", "missing_required", "ditto_mark", "name_too_long"))
_GROUP: Final = 1000
_TEMPERATURES: Final = ("°C", "°F")


class CellAnswer(NamedTuple):
    """What a cell may have meant: the text that says so, and the words of it."""

    text: str
    words: str


def answers_of(
    connection: sqlite3.Connection, reason: str, column: str | None, value: str | None, today: date
) -> tuple[CellAnswer, ...]:
    """The answers that the reason of a rejected cell allows; none where it can only be typed."""
    field = BY_NAME.get(column or "")
    if field is None:
        return ()
    text = value or ""
    if field.kind == "choice" and reason == f"{field.name}_unknown":
        return tuple(CellAnswer(one, one) for one in _near_first(text, field.choices))
    if reason == "ambiguous_number":
        return tuple(_numbers(field, text))
    if reason in ("ambiguous_date", "date_incomplete"):
        return tuple(_days(field, text, today))
    if reason == "out_of_range" and field.is_number:
        return tuple(_meant(field, text))
    if reason in _OF_UNIT and field.is_number:
        return tuple(_units(field, text))
    if reason in _OF_NAME and field.name in REFERRED:
        labels = labels_of(connection, KINDS_BY_NAME[REFERRED[field.name]])
        return tuple(CellAnswer(one, one) for one in [*_near_first(text, [*reversed(labels)])][:MOST_NAMES])
    return ()


def _near_first(text: str, known: Sequence[str]) -> Iterable[str]:
    return dict.fromkeys((*(near_names(text, known) if text else ()), *known))


def _numbers(field: Field, text: str) -> Iterator[CellAnswer]:
    """A number under either decimal mark, but for readings that cannot be."""
    with suppress(ReadingError):
        parts = parts_of(field, text)
        scale = scale_for(field, parts.unit if parts else "", text)
        for number in (parts.point, parts.comma) if parts else ():
            if number is not None and is_sane(field, converted(number, scale)):
                unit = f" {parts.unit}" if parts and parts.unit else ""
                is_whole = number == int(number)
                typed = f"{int(number)}" if is_whole else f"{number:.4f}"
                shown = f"{number:,.0f}" if is_whole and number >= 10 * _GROUP else f"{number:g}"
                beside = unit or f" {SHOWN_UNIT.get(field.unit or '', field.unit or '')}".rstrip()
                yield CellAnswer(f"{typed}{unit}", f"{shown}{beside}")


def _meant(field: Field, text: str) -> Iterator[CellAnswer]:
    """What a number that cannot be right may mean: its other mark, or the number in the unit of its field."""
    with suppress(ReadingError):
        parts = parts_of(field, text)
        if parts is not None and parts.ambiguous:
            yield from _numbers(field, text)
        elif parts is not None and parts.unit and parts.unit != field.unit:
            yield from _units(field, text)


def _days(field: Field, text: str, today: date) -> Iterator[CellAnswer]:
    """The days that a text may say; of one without its year those of this year and the last."""
    for year in (None, today.year, today.year - 1):
        with suppress(ReadingError):
            days = days_of(field, text, DayForms(None, year))
            found: dict[str, list[str]] = {}
            for order, day in days.readings.items() if days else ():
                found.setdefault(day, []).append(FIRST.get(order, ""))
            for day, firsts in found.items():
                if day <= today.isoformat():
                    order = f", the {' or '.join(firsts)} first" if len(found) > 1 else ""
                    yield CellAnswer(day, f"{day_in_words(day)}{order}")
            if year is None and found:
                return


def _units(field: Field, text: str) -> Iterator[CellAnswer]:
    """The number of a text in the units of its field, but for what cannot be."""
    number = _NUMBER.match(text.strip())
    for unit in _TEMPERATURES if field.unit == "°C" else (field.unit or "",):
        typed = f"{number[0]} {unit}".rstrip() if number else ""
        with suppress(ReadingError):
            parts = parts_of(field, typed) if typed else None
            value = parts.under(".") if parts else None
            if value is not None and is_sane(field, converted(value, scale_for(field, unit, typed))):
                yield CellAnswer(typed, typed)
