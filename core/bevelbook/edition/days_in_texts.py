"""Days as people write them into notes: what surely is one, and what only looks like one.

Forms of ISO 8601 with all digits together and its weeks, days before months of the languages whose profiles come with
the project, and day and month without a year where the book has that day. The short forms and the abbreviations that
are English words too (``set``, ``gen``, ``mag``, ``ago``) are only shown to a person. Names of months: Unicode CLDR, by
the profiles; weekdays: Unicode CLDR, from memory.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime
from typing import Final, NamedTuple
from unicodedata import normalize

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.notes.bundled_profiles import language_profile

_LANGUAGES: Final = ("de", "fr", "es", "it")
_WORDS_TOO: Final = frozenset({"set", "gen", "mag", "ago", "mar"})
_ENGLISH: Final = (
    *("january", "february", "march", "april", "may", "june", "july"),
    *("august", "september", "october", "november", "december"),
)
_WEEKDAYS: Final = (
    *("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"),
    *("montag", "dienstag", "mittwoch", "donnerstag", "freitag", "samstag", "sonnabend", "sonntag"),
    *("lundi", "mardi", "mercredi", "jeudi", "vendredi", "samedi", "dimanche"),
    *("lunes", "martes", "miércoles", "jueves", "viernes", "sábado", "domingo"),
    *("lunedì", "martedì", "mercoledì", "giovedì", "venerdì", "sabato", "domenica"),
)
_BASIC: Final = late_pattern(r"(?<![\d.,+])(\d{4})(\d{2})(\d{2})(?!\d|[.,]\d)")
_WEEK: Final = late_pattern(r"(?<![\w.])(\d{4})-?W(\d{2})(?:-?([1-7]))?(?!\w)", re.IGNORECASE)
_SHORT: Final = late_pattern(r"(?<![\w.,/+-])(\d{1,2})(?:(\.) ?(\d{1,2})\.(?!\d)|/(\d{1,2})(?![\w/]|[.,]\d))")
_FRACTIONS: Final = frozenset({(1, 2), (1, 3), (2, 3), (1, 4), (3, 4), (1, 8), (3, 8), (5, 8), (7, 8)})
_INSTANT: Final = late_pattern(r"(?<![\w.,+])(\d{10})(?:\d{3})?(?!\w|[.,]\d)")


class WrittenDay(NamedTuple):
    """A place in a text that is a day: the day as 2026-05-03 where its year is said, else None."""

    start: int
    end: int
    day: str | None


class DaysInTexts:
    """Finds days in the texts of one book, whose days are given."""

    def __init__(self, days: Iterable[str]) -> None:
        held = [date.fromisoformat(day) for day in days]
        self._years = range(min(held).year, max(held).year + 1) if held else range(0)
        self._days = {(day.month, day.day) for day in held}
        self._months = {day.month for day in held}

    def surely(self, text: str) -> Iterator[WrittenDay]:
        """Days written as 20260503, 2026-W18 or 3. Mai, and 3.5. or 3/5 where the book has that day."""
        for found in _BASIC.finditer(text):
            if (day := self._in_years(found)) is not None:
                yield WrittenDay(*found.span(), day)
        for found in _WEEK.finditer(text):
            yield WrittenDay(*found.span(), _of_week(found))
        for found in _NAMED.finditer(text):
            yield WrittenDay(*found.span(), None)
        for found in _SHORT.finditer(text):
            if self._is_held(found):
                yield WrittenDay(*found.span(), None)

    def looking_like_one(self, text: str) -> Iterator[str]:
        """What a person should look at in a text whose sure days are gone: weekdays, a month with its year, numbers
        that are an instant within the years of the book, and 3.5. or 3/5 in a month of the book."""
        for found in _LOOKS.finditer(text):
            yield found[0]
        for found in _INSTANT.finditer(text):
            if datetime.fromtimestamp(int(found[1]), UTC).year in self._years:
                yield found[0]
        for found in _SHORT.finditer(text):
            if any(month in self._months and 1 <= day <= 31 for month, day in _month_and_day(found)):
                yield found[0]

    def _in_years(self, found: re.Match[str]) -> str | None:
        year, month, day = map(int, found.groups())
        if year not in self._years:
            return None
        try:
            return date(year, month, day).isoformat()
        except ValueError:
            return None

    def _is_held(self, found: re.Match[str]) -> bool:
        if found[2] is None and (int(found[1]), int(found[4])) in _FRACTIONS:
            return False
        return any(one in self._days for one in _month_and_day(found))


def _month_and_day(found: re.Match[str]) -> tuple[tuple[int, int], ...]:
    """Month and day that a short form may mean: with dots the day is first, with a stroke either."""
    first, second = int(found[1]), int(found[3] or found[4])
    return ((second, first),) if found[2] else ((second, first), (first, second))


def _of_week(found: re.Match[str]) -> str | None:
    """A day of an ISO week: the one that is said, or its Thursday, which decides on its year."""
    try:
        return date.fromisocalendar(int(found[1]), int(found[2]), int(found[3] or 4)).isoformat()
    except ValueError:
        return None


def _any_of(words: Iterable[str]) -> str:
    """Any of these words, with an accent as one sign or as two; the longest first."""
    spelled = {normalize(form, word) for word in words for form in ("NFC", "NFD")}
    return f"(?:{'|'.join(sorted(map(re.escape, spelled), key=lambda word: (-len(word), word)))})(?!\\w)"


_MONTHS: Final = frozenset(month for code in _LANGUAGES for month in language_profile(code).months)
_BEFORE_MONTH: Final = r"(?<!\d[.,])(?<!\w)\d{1,2}(?:(?:er|[º°])? ?-? ?|\. ?)(?:(?:de|di|of) )?"
_NAMED: Final = late_pattern(
    rf"{_BEFORE_MONTH}{_any_of(_MONTHS - _WORDS_TOO)}\.?(?:,?(?: del?)?[ -]\d{{4}}(?!\d))?", re.IGNORECASE
)
_LOOKS: Final = late_pattern(
    rf"{_BEFORE_MONTH}{_any_of(_WORDS_TOO & _MONTHS)}"
    rf"|(?<!\w){_any_of((_MONTHS - _WORDS_TOO) | set(_ENGLISH))}\.?(?: del?)? \d{{4}}(?!\d)"
    rf"|(?<!\w){_any_of(word + end for word in _WEEKDAYS for end in ('', 's'))}",
    re.IGNORECASE,
)
