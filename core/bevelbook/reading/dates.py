"""Days, as people and spreadsheets write them.

ISO 8601 always wins, and dots with a four-digit year at the end are day.month.year; what else has two orders needs an
order that the rest of its column proves, or that a person says. An order that is said is the only one tried. What is
typed by itself has no column: there a year of two digits is first only between dashes.
"""

from __future__ import annotations

from typing import Final

from bevelbook.declare.fields import Field
from bevelbook.reading.date_forms import ISO, DayForms, Days, IncompleteDay, NoSuchDay, forms_of
from bevelbook.reading.faults import ReadingError, fault, is_no_value, trimmed
from bevelbook.reading.labels import in_plain_signs
from bevelbook.reading.options import ReadingOption

_WANTED: Final = "a day such as 2026-05-03"
FIRST: Final = {"dmy": "day", "mdy": "month", "ymd": "year"}
"""What is first in each order."""

_DIGITS_OF_A_NUMBER: Final = 3
"""Digits up to which a whole number is the number of a day; four are a year, more are a date."""
_LAST_DAY: Final = "9999-12-31"
BY_HAND: Final = DayForms()


def days_of(field: Field, text: str, forms: DayForms = BY_HAND) -> Days | None:
    """All readings of a text as a day; None if it says that there is none. Raises ReadingError."""
    plain = in_plain_signs(text)
    if is_no_value(plain):
        return None
    if plain[0] == "=":
        raise fault(field, "formula_in_cell", "a spreadsheet formula", plain, wanted=_WANTED)
    if plain[0] == "#" and (not plain.strip("#") or plain.endswith(("!", "?", "/A"))):
        raise fault(field, "spreadsheet_error", "an error of a spreadsheet", plain, wanted=_WANTED)
    try:
        found = forms_of(plain, forms)
    except NoSuchDay:
        raise _no_such_day(field, plain) from None
    except IncompleteDay as incomplete:
        settled_by = ReadingOption.YEAR if incomplete.only_year else None
        words = "no year" if incomplete.only_year else "no day, no month or no year"
        raise fault(field, "date_incomplete", words, plain, wanted=_WANTED, settled_by=settled_by) from None
    if found is None:
        raise fault(field, "date_unparseable", "not a date in any known form", plain, wanted=_WANTED)
    return found


def settled_day(field: Field, days: Days, order: str | None, today: str, text: str) -> str:
    """The one day of a text under an order, which is the only one tried; refuses a future one."""
    fixed = days.readings.get(ISO) or (days.readings["dmy"] if days.is_fixed else None)
    if fixed is not None:
        day = fixed
    elif order is not None:
        if order not in days.readings:
            raise _not_in_order(field, days, order, text)
        day = days.readings[order]
    elif days.ambiguous:
        raise ambiguous_day(field, days, text, today)
    else:
        day = next(iter(days.readings.values()))
    if day > today and not field.may_come:
        raise fault(field, "future_date", f"{day} is later than today", text, wanted="a day up to today")
    return day


def day_by_hand(field: Field, days: Days, order: str | None, today: str, text: str) -> str:
    """The one day of a text that is typed by itself: a year of two digits is first only between dashes, and dots are
    day.month.year."""
    if order is None and not any(one in days.readings for one in (*days.usual, ISO)):
        raise _no_such_day(field, text)
    days = days if order else days.in_orders((*days.usual, ISO))
    return settled_day(field, days, order, today, text)


def read_which_day(field: Field, text: str, order: str | None = None, date_base: int | None = None) -> str | None:
    """Which day a text says, so that one day written in several ways is one: a date as ISO 8601, else its name.

    A name is compared without case and outer blanks, a whole number without leading zeros. A day to come is taken as
    well. None for an empty text. Raises ReadingError for a date that may be read in two ways, that leaves out the year
    or that is not in the calendar.

    >>> from bevelbook.declare.fields import record, which_day
    >>> @record
    ... class Row:
    ...     day: str = which_day("Day")
    >>> [read_which_day(Row.fields[0], text) for text in ("2.5.2026", "Sat 2 May 26", "02", " Sat ")]
    ['2026-05-02', '2026-05-02', '2', 'sat']
    """
    from unicodedata import normalize

    name = " ".join(normalize("NFC", trimmed(text)).casefold().split())
    if name == "today":
        return today_iso()
    if name.isdecimal() and len(name) <= _DIGITS_OF_A_NUMBER:
        return str(int(name))
    try:
        days = days_of(field, text, DayForms(date_base))
    except ReadingError as error:
        if error.code != "date_unparseable":
            raise
        return name
    return None if days is None else day_by_hand(field, days, order, _LAST_DAY, text)


def ambiguous_day(field: Field, days: Days, text: str, today: str) -> ReadingError:
    """The fault of a day whose parts may be in more than one order. A day after today is not offered as a reading."""
    readings = [f"{day} ({FIRST[order]} first)" for order, day in days.readings.items() if day <= today]
    late = [FIRST[order] for order, day in days.readings.items() if day > today]
    if late:
        what = f"with the {' or the '.join(late)} first it is later than today, and it may be a slip in the year"
    else:
        what = f"{'two' if len(readings) == 2 else 'three'} readings are possible"
    return fault(
        field,
        "ambiguous_date",
        what,
        text,
        remedy=f"Write it as {' or '.join([*readings, *(['the day that was meant'] if late else [])])}.",
        settled_by=ReadingOption.DATE_ORDER,
    )


def today_iso() -> str:
    import time

    return time.strftime("%Y-%m-%d")


def _no_such_day(field: Field, text: str) -> ReadingError:
    return fault(field, "date_invalid", "no such day in the calendar", text, wanted=_WANTED)


def _not_in_order(field: Field, days: Days, order: str, text: str) -> ReadingError:
    """The fault of a text that is a day in another order only."""
    readings = [f"{day} ({FIRST[other]} first)" for other, day in days.readings.items()]
    return fault(
        field,
        "date_invalid",
        f"there is no such day with the {FIRST[order]} first",
        text,
        remedy=f"Correct it, or write it as {' or '.join(readings)}.",
    )
