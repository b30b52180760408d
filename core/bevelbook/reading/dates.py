"""Days, as people and spreadsheets write them.

ISO 8601 always wins; dotted dates are day.month.year; slashes and dashes may mean two orders, and only an option or a
part above 12 elsewhere in the column settles which. Two digits of a year: 80 to 99 are 19yy, 00 to 79 are 20yy.
"""

from __future__ import annotations

import re
from typing import Final, NamedTuple

from bevelbook.declare.fields import Field
from bevelbook.reading.faults import NUMBER_MISSING, ReadingError, fault, trimmed
from bevelbook.reading.labels import in_plain_signs
from bevelbook.reading.options import ReadingOption

_DAY_ZERO: Final = {1900: 693594, 1904: 695056}
_FIRST_DAY_NUMBER: Final = 20_000
_MONTHS: Final = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]
_FULL_MONTHS: Final = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
    "sept",
]
_DAYS_OF_MONTH: Final = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_WANTED: Final = "a day such as 2026-05-03"
_FIRST: Final = {"dmy": "day", "mdy": "month", "ymd": "year"}

_DIGITS_OF_A_NUMBER: Final = 3
"""Digits up to which a whole number is the number of a day; four are a year, more are a date."""
_LAST_DAY: Final = "9999-12-31"

_TIME = r"(?P<time>[T ,]\s*\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d+)?)?\s*(?:[AaPp][Mm])?\s*(?:Z|[+-]\d{2}:?\d{2})?)?"


class Days(NamedTuple):
    """The readings of one text: ISO day by order (``iso`` if the order does not matter), what it proves, and
    warning codes. An order whose day is not in the calendar is left out."""

    readings: dict[str, str]
    proof: str | None
    warnings: tuple[str, ...] = ()

    @property
    def ambiguous(self) -> bool:
        return len(set(self.readings.values())) > 1


def days_of(field: Field, text: str, date_base: int | None = None) -> Days | None:
    """All readings of a text as a day; None if it says that there is none. Raises ReadingError."""
    plain = in_plain_signs(text)
    if plain.lower() in NUMBER_MISSING:
        return None
    if plain[0] == "=":
        raise fault(field, "formula_in_cell", "a spreadsheet formula", plain, wanted=_WANTED)
    if plain[0] == "#" and (not plain.strip("#") or plain.endswith(("!", "?", "/A"))):
        raise fault(field, "spreadsheet_error", "an error of a spreadsheet", plain, wanted=_WANTED)
    found = _iso(field, plain) or _numeric(field, plain) or _named(field, plain) or _number(field, plain, date_base)
    if found is None:
        raise fault(field, "date_unparseable", "not a date in any known form", plain, wanted=_WANTED)
    return found


def settled_day(field: Field, days: Days, order: str | None, today: str, text: str) -> str:
    """The one day of a text under an order, or the only reading there is; refuses a future one."""
    if not days.ambiguous:
        day = next(iter(days.readings.values()))
    elif order is None or order not in days.readings:
        raise ambiguous_day(field, days, text)
    else:
        day = days.readings[order]
    if day > today:
        raise fault(field, "future_date", f"{day} is later than today", text, wanted="a day up to today")
    return day


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
        days = days_of(field, text, date_base)
    except ReadingError as error:
        if error.code != "date_unparseable":
            raise
        return name
    return None if days is None else settled_day(field, days, order, _LAST_DAY, text)


def ambiguous_day(field: Field, days: Days, text: str) -> ReadingError:
    """The fault of a day whose parts may be in more than one order."""
    readings = [f"{day} ({_FIRST[order]} first)" for order, day in days.readings.items()]
    return fault(
        field,
        "ambiguous_date",
        f"{'two' if len(readings) == 2 else 'three'} readings are possible",
        text,
        remedy=f"Write it as {' or '.join(readings)}.",
        settled_by=ReadingOption.DATE_ORDER,
    )


def today_iso() -> str:
    import time

    return time.strftime("%Y-%m-%d")


def _iso(field: Field, plain: str) -> Days | None:
    if len(plain) == 8 and plain.isascii() and plain.isdigit() and plain[:2] in ("19", "20"):
        return _one(field, plain, int(plain[:4]), int(plain[4:6]), int(plain[6:]), ())
    found = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})" + _TIME + "$").match(plain)
    if found:
        warnings = ("time_dropped",) if found["time"] else ()
        return _one(field, plain, int(found[1]), int(found[3]), int(found[4]), warnings)
    if re.compile(r"(?:19|20)\d\d([-/.](0?[1-9]|1[0-2]))?$").match(plain):
        raise _incomplete(field, plain)
    return None


def _numeric(field: Field, plain: str) -> Days | None:
    found = re.compile(r"(\d{1,2})\s?([-/.])\s?(\d{1,2})\s?\2\s?(\d{4}|\d{2})" + _TIME + "$").match(plain)
    if not found:
        if re.compile(r"\d{1,2}\.\d{1,2}\.?$|\d{1,2}[-/](\d{1,2}|(?:19|20)\d\d)$").match(plain):
            raise _incomplete(field, plain)
        return None
    first, second, third = int(found[1]), int(found[3]), int(found[4])
    year = third if len(found[4]) == 4 else _full_year(third)
    candidates = {"dmy": (year, second, first)}
    if found[2] != ".":
        candidates["mdy"] = (year, first, second)
        if found[2] == "-" and len(found[4]) == 2 and len(found[1]) == 2:
            candidates["ymd"] = (_full_year(first), second, third)
    readings = {order: f"{y:04}-{m:02}-{d:02}" for order, (y, m, d) in candidates.items() if _exists(y, m, d)}
    if not readings:
        raise _invalid(field, plain)
    proof = None
    if found[2] == "/" or (found[2] == "-" and len(found[4]) == 4):
        proof = "dmy" if first > 12 >= second else "mdy" if second > 12 >= first else None
        if proof and proof not in readings:
            raise _invalid(field, plain)
    return Days(readings, proof, ("time_dropped",) if found["time"] else ())


def _named(field: Field, plain: str) -> Days | None:
    words = [word for word in re.split(r"[\s,./-]+", plain) if word]
    if words and len(words[0]) >= 3 and words[0].lower()[:3] in ("mon", "tue", "wed", "thu", "fri", "sat", "sun"):
        words = words[1:]
    months = [index for index, word in enumerate(words) if _month(word)]
    if len(months) != 1 or len(words) > 3:
        return None
    month = _month(words.pop(months[0]))
    numbers = [re.sub(r"^(\d{1,2})(st|nd|rd|th)$", r"\1", word.lower()) for word in words]
    if not all(re.compile(r"\d{1,2}$|\d{4}$").match(number) for number in numbers):
        return None
    if len(numbers) < 2:
        raise _incomplete(field, plain)
    if len(numbers[0]) == 4:
        numbers.reverse()
    day, year = numbers
    if len(day) == 4:
        return None
    full = int(year) if len(year) == 4 else _full_year(int(year))
    return _one(field, plain, full, month, int(day), ())


def _number(field: Field, plain: str, date_base: int | None) -> Days | None:
    found = re.compile(r"(\d{5})(?:[.,](\d+))?$").match(plain)
    if not found or int(found[1]) < _FIRST_DAY_NUMBER:
        return None
    from datetime import date

    base = date_base or 1900
    day = date.fromordinal(_DAY_ZERO[base] + int(found[1])).isoformat()
    warnings = (f"day_number_{base}",) + (("time_dropped",) if (found[2] or "").strip("0") else ())
    return Days({"iso": day}, None, warnings)


def _one(field: Field, plain: str, year: int, month: int, day: int, warnings: tuple[str, ...]) -> Days:
    if not _exists(year, month, day):
        raise _invalid(field, plain)
    return Days({"iso": f"{year:04}-{month:02}-{day:02}"}, None, warnings)


def _exists(year: int, month: int, day: int) -> bool:
    if not (1 <= month <= 12 and 1 <= day <= _DAYS_OF_MONTH[month - 1] and year >= 1):
        return False
    return month != 2 or day < 29 or (year % 4 == 0 and (year % 100 != 0 or year % 400 == 0))


def _full_year(two_digits: int) -> int:
    return two_digits + (1900 if two_digits >= 80 else 2000)


def _month(word: str) -> int:
    low = word.lower()
    return _MONTHS.index(low[:3]) + 1 if low in _MONTHS or low in _FULL_MONTHS else 0


def _incomplete(field: Field, plain: str) -> ReadingError:
    return fault(field, "date_incomplete", "no day, no month or no year", plain, wanted=_WANTED)


def _invalid(field: Field, plain: str) -> ReadingError:
    return fault(field, "date_invalid", "no such day in the calendar", plain, wanted=_WANTED)
