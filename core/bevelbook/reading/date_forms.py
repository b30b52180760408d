"""The forms in which a day is written: each one read into the days that it may mean, by order of its parts.

Orders are ``dmy``, ``mdy`` and ``ymd``. What has its year in front in four digits is ISO 8601 whatever the marks
between, and dots with a four-digit year at the end are day.month.year (DIN 1355, from memory): neither has another
order. Two digits of a year: 80 to 99 are 19yy, 00 to 79 are 20yy.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from typing import Final, Literal, NamedTuple

from bevelbook.declare.late_pattern import late_pattern

ORDERS: Final = ("dmy", "mdy", "ymd")
ISO: Final = "iso"
"""The key of a reading that has no other order."""

FiveDigits = Literal["number", "joined", "either"]
"""What five digits are: the number of a day, a day run together that lost its first nought, or the second if there is
such a day and else the first."""


class DayForms(NamedTuple):
    """What is known about how days are written. ``date_base`` is the year that day numbers count from, ``year`` that
    of days without one, ``months`` the team's own words for months, in small letters.

    ``joined``: six to eight digits are a day run together; ``five_digits`` says what five are.
    """

    date_base: int | None = None
    year: int | None = None
    months: Mapping[str, int] = {}
    joined: bool = False
    five_digits: FiveDigits = "number"


class Days(NamedTuple):
    """The readings of one text: ISO day by order (``iso`` if the order does not matter), and warning codes. An order
    whose day is not in the calendar is left out.

    ``usual`` are the orders that a person who types such a text by itself may mean; where ``is_fixed``, there is one.
    ``time`` is the time of day beside it, ``is_stamp`` whether a machine wrote that: with seconds or a zone.
    """

    readings: dict[str, str]
    warnings: tuple[str, ...] = ()
    usual: tuple[str, ...] = ORDERS
    is_fixed: bool = False
    time: str | None = None
    is_stamp: bool = False

    @property
    def ambiguous(self) -> bool:
        return len(set(self.readings.values())) > 1

    def in_orders(self, orders: Collection[str]) -> Days:
        """The readings in these orders; all of them where there is none."""
        kept = {order: day for order, day in self.readings.items() if order in orders}
        return self._replace(readings=kept) if kept else self


class NoSuchDay(ValueError):
    """The text has the form of a day, and no order gives one that is in the calendar."""


class IncompleteDay(ValueError):
    """The day, the month or the year is left out; ``only_year`` if a year is all that is missing."""

    def __init__(self, only_year: bool) -> None:
        super().__init__()
        self.only_year = only_year


_DAYS_OF_MONTH: Final = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_DAY_ZERO: Final = {1900: 693594, 1904: 695056}
DAY_NUMBERS: Final = range(30_000, 60_001)
"""Day numbers that are taken: from 1982 to 2064 counted from 1900."""
_FULL_MONTHS: Final = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)
_ENGLISH_MONTHS: Final = {
    word: number for number, name in enumerate(_FULL_MONTHS, start=1) for word in (name, name[:3])
} | {"sept": 9}
_WEEKDAYS: Final = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_BETWEEN: Final = frozenset(("of", "the"))
_BETWEEN_OWN: Final = _BETWEEN | {"de", "del", "den", "der", "le", "il", "el"}
"""Words between day, month and year that say nothing; the second ones beside months of the team's own."""

_BY_DOTS: Final = ("dmy",)
_USUAL: Final = {".": _BY_DOTS, "/": ("dmy", "mdy"), " ": ("dmy", "mdy"), "-": ORDERS}
"""The orders that are meant by hand where the year has two digits, by the mark between the parts."""
_PARTED: Final = late_pattern(r"(\d{1,4})(?:\s*([-/.])\s*|(\s))(\d{1,2})(?:\s*\2\s*|\3)(\d{4}|\d{1,2})(\.?)")
_WRITTEN_DAY: Final = late_pattern(
    r"(?:\d{4}-\d{1,2}-\d{1,2}|\d{1,2}([-./])\d{1,2}\1\d{4})(?:[T ]\d{1,2}:\d\d(?::\d\d)?)?"
    r"|\d{1,2}(?:\.\s?|-)(?P<month>[^\W\d_]{3,10})\.?(?:[-. ]\s?(?:\d\d|\d{4}))?"
)
_YEARLESS: Final = late_pattern(r"(\d{1,2})\s?([-/.])\s?(\d{1,2})(\.?)")
_DAYLESS: Final = late_pattern(r"(?:19|20)\d\d(?:[-/.](?:0?[1-9]|1[0-2]))?|\d{1,2}[-/](?:19|20)\d\d")
_EAST_ASIAN: Final = late_pattern(r"(\d{4})\s?[年년]\s?(\d{1,2})\s?[月월]\s?(\d{1,2})\s?[日일](?:\s?\(.\))?")
_JOINED: Final = late_pattern(r"[0-9]{6,8}")
_DAY_NUMBER: Final = late_pattern(r"([0-9]{5})(?:[.,]([0-9]+))?")
_ZONES: Final = (
    "UTC|GMT|WET|WEST|BST|CET|CEST|MEZ|MESZ|EET|EEST|MSK|EST|EDT|CST|CDT|MST|MDT|PST|PDT|IST|HKT|SGT|JST|KST|AWST|"
    "ACST|ACDT|AEST|AEDT|NZST|NZDT"
)
_LONGEST_WITH_TIME: Final = 100
_WITH_TIME: Final = late_pattern(
    r"(?P<day>.+?)(?:(?<=\d)T|\s*,\s*|\s(?:at\s)?)"
    r"(?P<hour>\d{1,2})(?:(?P<mark>[:.])(?P<minute>\d{2})(?P<second>(?P=mark)\d{2}(?:[.,]\d+)?)?)?"
    r"\s?(?P<half>[AaPp]\.?[Mm]\.?)?(?:\s?(?:Uhr|h))?"
    rf"\s?\(?(?P<zone>Z|(?:{_ZONES})?(?:\s?[+-](?:0?\d|1[0-4])(?::?(?:00|15|30|45))?)?)\)?"
)


def forms_of(plain: str, forms: DayForms) -> Days | None:
    """The readings of a text, trimmed, by the forms that are known; None if it has none of them.

    Raises NoSuchDay and IncompleteDay.
    """
    text = " ".join(plain.split())
    if not text.isascii():
        import unicodedata

        text = unicodedata.normalize("NFC", text)
    found = _day(text, forms)
    if found is not None:
        return found
    timed = _WITH_TIME.fullmatch(text) if len(text) <= _LONGEST_WITH_TIME else None
    time = _time(timed) if timed else None
    if timed is None or time is None:
        return None
    found = _day(timed["day"], forms)
    if found is None:
        return None
    is_stamp = bool(timed["second"] or timed["zone"])
    return found._replace(warnings=(*found.warnings, "time_dropped"), time=time, is_stamp=is_stamp)


def is_written_day(text: str, months: Mapping[str, int]) -> bool:
    """Whether a text in place of a name is a day with its year, or a day with the month in letters behind it.

    Not where the month is first: ``Jan-02`` is the second of somebody called Jan.

    >>> [is_written_day(one, {}) for one in ("2024-02-03", "3.2.2024", "03.Feb", "3-Feb-24", "3-2", "1/2", "Feb-03")]
    [True, True, True, True, False, False, False]
    """
    found = _WRITTEN_DAY.fullmatch(text)
    if not found or (found["month"] and not _month(found["month"], DayForms(months=months))):
        return False
    try:
        return forms_of(text, DayForms(year=2000, months=months)) is not None
    except ValueError:
        return False


def is_five_digits(text: str) -> bool:
    """Whether a text is five digits, which the rest of its column decides on."""
    return len(text) == 5 and text.isascii() and text.isdigit()


def is_joined(text: str) -> bool:
    """Whether a text is six to eight digits, as days run together are."""
    return _JOINED.fullmatch(text) is not None


def _day(text: str, forms: DayForms) -> Days | None:
    return (
        _parted(text)
        or _joined(text, forms)
        or _named(text, forms)
        or _yearless(text, forms)
        or _east_asian(text)
        or _numbered(text, forms)
    )


def _parted(text: str) -> Days | None:
    found = _PARTED.fullmatch(text)
    if not found:
        return None
    first, mark, second, third = found[1], found[2] or " ", found[4], found[5]
    if found[6] and mark != ".":
        return None
    if len(first) == 4 and len(third) <= 2:
        return _one(int(first), int(second), int(third))
    a, b, c = int(first), int(second), int(third)
    if len(third) == 1 and len(first) == 2 and found[6]:
        return _among({"ymd": (full_year(a), b, c)})._replace(usual=_BY_DOTS)
    if len(first) > 2 or len(third) == 1:
        return None
    if len(third) == 4:
        if mark == ".":
            return _among({"dmy": (c, b, a)})._replace(usual=_BY_DOTS, is_fixed=True)
        return _among({"dmy": (c, b, a), "mdy": (c, a, b)})
    candidates = {"dmy": (full_year(c), b, a), "mdy": (full_year(c), a, b)}
    if len(first) == 2:
        candidates["ymd"] = (full_year(a), b, c)
    return _among(candidates)._replace(usual=_USUAL[mark])


def _joined(text: str, forms: DayForms) -> Days | None:
    if not is_joined(text):
        return None
    found = _run_together(text if len(text) % 2 == 0 else f"0{text}") if forms.joined else None
    if found is None and len(text) == 8 and text[:2] in ("19", "20"):
        return _one(int(text[:4]), int(text[4:6]), int(text[6:]))
    return found


def _run_together(digits: str) -> Days | None:
    """``140224``, ``14022024``; None where no order gives a day."""
    a, b, year = int(digits[:2]), int(digits[2:4]), int(digits[4:])
    if len(digits) == 8 and digits[4:6] not in ("19", "20"):
        return None
    full = year if len(digits) == 8 else full_year(year)
    candidates = {"dmy": (full, b, a), "mdy": (full, a, b)}
    if len(digits) == 6:
        candidates["ymd"] = (full_year(a), b, year)
    readings = _existing(candidates)
    return Days(readings) if readings else None


def _named(text: str, forms: DayForms) -> Days | None:
    words = [word for word in re.split(r"[\s,./-]+", text) if word]
    weekday = None
    if words and len(words[0]) >= len(_WEEKDAYS[0]) and words[0].lower()[:3] in _WEEKDAYS:
        weekday = _WEEKDAYS.index(words[0].lower()[:3])
        words = words[1:]
    between = _BETWEEN_OWN if forms.months else _BETWEEN
    words = [word for word in words if word.casefold() not in between]
    months = [index for index, word in enumerate(words) if _month(word, forms)]
    if len(months) != 1 or len(words) > 3:
        return None
    month = _month(words.pop(months[0]), forms)
    numbers = [re.sub(r"^(\d{1,2})(st|nd|rd|th|er)$", r"\1", _without_apostrophe(word.lower())) for word in words]
    if not all(re.compile(r"\d{1,2}$|\d{4}$").match(number) for number in numbers):
        return None
    if len(numbers) < 2:
        return _on_weekday(_named_without_a_year(text, month, months[0] == 0, numbers, forms), weekday)
    if len(numbers[0]) == 4:
        numbers.reverse()
    day, year = numbers
    if len(day) == 4:
        return None
    return _on_weekday(_one(int(year) if len(year) == 4 else full_year(int(year)), month, int(day)), weekday)


def _without_apostrophe(word: str) -> str:
    """``'24`` as 24: the year with its century left out."""
    return word[1:] if word[0] in "'’" and len(word) == 3 else word


def _on_weekday(days: Days, weekday: int | None) -> Days:
    """The days, with a warning if the weekday that is written beside (0 is Monday) is another one."""
    if weekday is None:
        return days
    from datetime import date

    differs = date.fromisoformat(days.readings[ISO]).weekday() != weekday
    return days._replace(warnings=(*days.warnings, "weekday_differs")) if differs else days


def _named_without_a_year(text: str, month: int, month_first: bool, numbers: list[str], forms: DayForms) -> Days:
    """``14 Feb``, ``Feb 14``; not ``Feb-24``, which is how a spreadsheet shows February 2024."""
    has_day = len(numbers) == 1 and len(numbers[0]) <= 2 and not (month_first and "-" in text)
    if not has_day:
        raise IncompleteDay(only_year=False)
    if forms.year is None:
        raise IncompleteDay(only_year=True)
    return _one(forms.year, month, int(numbers[0]))


def _yearless(text: str, forms: DayForms) -> Days | None:
    if _DAYLESS.fullmatch(text):
        raise IncompleteDay(only_year=False)
    found = _YEARLESS.fullmatch(text)
    if not found or (found[4] and found[2] != "."):
        return None
    a, b = int(found[1]), int(found[3])
    year = 2000 if forms.year is None else forms.year
    in_order = {"dmy": (year, b, a), "mdy": (year, a, b), "ymd": (year, a, b)}
    if forms.year is None:
        raise IncompleteDay(only_year=bool(_existing(in_order)))
    if found[2] == ".":
        return _among({"dmy": (year, b, a)})._replace(usual=_BY_DOTS, is_fixed=True)
    return _among(in_order)


def _east_asian(text: str) -> Days | None:
    found = _EAST_ASIAN.fullmatch(text)
    return _one(int(found[1]), int(found[2]), int(found[3])) if found else None


def _numbered(text: str, forms: DayForms) -> Days | None:
    found = _DAY_NUMBER.fullmatch(text)
    if not found:
        return None
    if forms.five_digits != "number" and found[2] is None:
        joined = _run_together(f"0{found[1]}")
        if joined or forms.five_digits == "joined":
            return joined
    if int(found[1]) not in DAY_NUMBERS:
        return None
    from datetime import date

    base = forms.date_base or 1900
    day = date.fromordinal(_DAY_ZERO[base] + int(found[1])).isoformat()
    warnings = (f"day_number_{base}",) + (("time_dropped",) if (found[2] or "").strip("0") else ())
    return Days({ISO: day}, warnings)


def _time(found: re.Match[str]) -> str | None:
    """The time of day as ``21:15``; None where there is no such time."""
    hour, minute = int(found["hour"]), int(found["minute"] or 0)
    if not found["half"] and found["minute"] is None:
        return None
    if minute > 59 or (not 1 <= hour <= 12 if found["half"] else hour > 23):
        return None
    if found["half"]:
        hour = hour % 12 + (12 if found["half"][0] in "Pp" else 0)
    return f"{hour:02}:{minute:02}"


def _one(year: int, month: int, day: int) -> Days:
    return _among({ISO: (year, month, day)})


def _among(candidates: Mapping[str, tuple[int, int, int]]) -> Days:
    readings = _existing(candidates)
    if not readings:
        raise NoSuchDay
    return Days(readings)


def _existing(candidates: Mapping[str, tuple[int, int, int]]) -> dict[str, str]:
    return {order: f"{y:04}-{m:02}-{d:02}" for order, (y, m, d) in candidates.items() if _exists(y, m, d)}


def _exists(year: int, month: int, day: int) -> bool:
    if not (1 <= month <= 12 and 1 <= day <= _DAYS_OF_MONTH[month - 1] and year >= 1):
        return False
    return month != 2 or day < 29 or (year % 4 == 0 and (year % 100 != 0 or year % 400 == 0))


def full_year(two_digits: int) -> int:
    """The year that two digits mean.

    >>> full_year(80), full_year(79)
    (1980, 2079)
    """
    return two_digits + (1900 if two_digits >= 80 else 2000)


def _month(word: str, forms: DayForms) -> int:
    return forms.months.get(word.casefold()) or _ENGLISH_MONTHS.get(word.lower(), 0)
