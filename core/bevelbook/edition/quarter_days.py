"""Days and times of which only the quarter is left, and their order: the first day of a quarter that anything names
becomes its first, and so on.

Days that follow each other still do, and others have one between them, so that a meeting stays a meeting. Moments of a
day become its first milliseconds, times of day its first minutes, in their order.
"""

from __future__ import annotations

import re
import sqlite3
from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from typing import Final

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.display.quarters import quarter_day
from bevelbook.edition.days_in_texts import DaysInTexts
from bevelbook.edition.edition_rows import INSTANTS, Row, change_rows, json_of, texts_of
from bevelbook.edition.neutral_names import LooksPersonal
from bevelbook.edition.texts_in_json import with_texts
from bevelbook.facts.day_order import minutes
from bevelbook.records import Kind
from bevelbook.store.edition_mark import END_OF_DAY

NO_DAY_IN_WORDS: Final = "(day)"
_STAMPS: Final = ("created_at", "updated_at")
_ISO: Final = late_pattern(r"(?<!\d)(\d{4})-(\d{2})-(\d{2})(?!\d)")
_MONTH: Final = (
    r"(?:jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?|sept?(?:ember)?|oct(?:ober)?"
    r"|nov(?:ember)?|dec(?:ember)?)"
)
_IN_WORDS: Final = late_pattern(
    r"(?<![\dQ.,/])\d{1,2}(?:\. ?|/|-)\d{1,2}(?:\. ?|/|-)(?:\d{4}|\d{2})(?![\d.,/]\d|\d)"
    rf"|\b\d{{1,2}}(?:st|nd|rd|th|\.)? (?:of )?{_MONTH}\b\.?(?:,? \d{{4}})?"
    rf"|\b{_MONTH}\.? \d{{1,2}}(?:st|nd|rd|th)?\b(?:,? \d{{4}})?",
    re.IGNORECASE,
)
_ANY_DAY: Final = late_pattern(f"{_ISO.pattern}|{_IN_WORDS.pattern}", re.IGNORECASE)


class QuarterDays:
    """What stands for each day of a copy, for its moments and its times of day."""

    def __init__(self, aside: sqlite3.Connection, kinds: Sequence[Kind]) -> None:
        self._kinds = kinds
        days: set[str] = set()
        moments: dict[str, set[str]] = defaultdict(set)
        self._times: dict[str, list[int]] = {}
        times: dict[str, set[int]] = defaultdict(set)
        for kind in kinds:
            for column in _columns(kind, "date"):
                days |= _held(aside, kind, column)
            for column in (*(_STAMPS if kind.own else ()), *_instants(kind)):
                for moment in _held(aside, kind, column):
                    days.add(moment[:10])
                    moments[moment[:10]].add(moment)
            for column in _columns(kind, "time") if kind.day else ():
                for day, time in aside.execute(
                    f"SELECT {kind.day}, {column} FROM {kind.table} WHERE {column} IS NOT NULL ORDER BY 1, 2"
                ):
                    if (at := minutes(time)) is not None:
                        times[day].add(at)
        self.days = shortened(day for day in days if _is_day(day))
        self._in_texts = DaysInTexts(self.days)
        self.to_look_at: list[LooksPersonal] = []
        """What may still be a day, with the record as the book itself calls it."""
        self._seen: set[LooksPersonal] = set()
        self._times = {day: sorted(held) for day, held in times.items()}
        self._moments = {
            moment: number
            for held in moments.values()
            for number, moment in enumerate(sorted(one for one in held if not one.endswith(END_OF_DAY)))
        }

    def day(self, day: str) -> str:
        """What stands for a day; one that no record has is the first of its quarter."""
        return self.days.get(day) or (_first_of_quarter(date.fromisoformat(day)).isoformat() if _is_day(day) else day)

    def moment(self, moment: str) -> str:
        """What stands for a moment."""
        day = self.day(moment[:10])
        if moment.endswith(END_OF_DAY):
            return f"{day}{END_OF_DAY}"
        at_ms = self._moments.get(moment, 0)
        return f"{day}T00:{at_ms // 60_000:02d}:{at_ms // 1000 % 60:02d}.{at_ms % 1000:03d}Z"

    def time(self, day: str | None, time: str) -> str | None:
        """What stands for a time of that day; None where it is not a time."""
        at, held = minutes(time), self._times.get(day or "", [])
        if at is None or at not in held:
            return None
        place = held.index(at) + 1
        return f"{place // 60:02d}:{place % 60:02d}"

    def in_text(self, text: str) -> str:
        """A text with its days in words of quarters: one that is written as 2026-05-03 becomes 2026-Q2-04, or 2026-Q2
        where no record has it; a day with all digits together and a week do too; other ways become ``(day)``."""
        text = _ANY_DAY.sub(lambda found: self._day_in_text(found[0]) if found[1] else NO_DAY_IN_WORDS, text)
        pieces: list[str] = []
        at = 0
        for start, end, day in sorted(self._in_texts.surely(text), key=lambda one: one[:2]):
            if start >= at:
                pieces += (text[at:start], self._day_in_text(day) if day else NO_DAY_IN_WORDS)
                at = end
        return "".join((*pieces, text[at:]))

    def look_at(self, text: str, where: str) -> None:
        """Note what still looks like a day in a text."""
        for said in self._in_texts.looking_like_one(text):
            one = LooksPersonal("a day", where, said)
            if one not in self._seen:
                self._seen.add(one)
                self.to_look_at.append(one)

    def in_value(self, text: str) -> str:
        """The same for a text of a kept result, which may be a day itself."""
        return self.day(text) if _is_day(text) else self.in_text(text)

    def _day_in_text(self, day: str) -> str:
        stands = self.days.get(day)
        if stands is not None:
            return quarter_day(stands)
        return quarter_day(self.day(day)).rpartition("-")[0] if _is_day(day) else NO_DAY_IN_WORDS

    def put_into(self, aside: sqlite3.Connection) -> None:
        """Put them in the place of all days and times of the copy."""
        for kind in self._kinds:
            change_rows(aside, kind, self._changing(kind))

    def _changing(self, kind: Kind) -> _ChangeDays:
        return _ChangeDays(self, kind)


class _ChangeDays:
    """Changes a row of one kind."""

    def __init__(self, days: QuarterDays, kind: Kind) -> None:
        self.days = days
        self.day_column = kind.day
        self.named = kind.name.replace("_", " ")
        self.label = kind.label
        self.dates = _columns(kind, "date")
        self.times = _columns(kind, "time")
        self.moments = (*(_STAMPS if kind.own else ()), *_instants(kind))
        self.texts = texts_of(kind)
        self.in_json = json_of(kind)

    def __call__(self, row: Row) -> None:
        day = row[self.day_column] if self.day_column else None
        called = (row[self.label] if self.label else None) or day or row["id"]
        for column in self.times:
            if row[column] is not None:
                row[column] = self.days.time(day, row[column])
        for column in self.dates:
            if row[column] is not None:
                row[column] = self.days.day(row[column])
        for column in self.moments:
            if row[column] is not None:
                row[column] = self.days.moment(row[column])
        for column in self.texts:
            if row[column] is not None:
                row[column] = new = self.days.in_text(row[column])
                self.days.look_at(new, f"{column.replace('_', ' ')} of {self.named} {called}")
        for column in self.in_json:
            if row[column] is not None:
                row[column] = with_texts(row[column], self.days.in_value)


def shortened(days: Iterable[str]) -> dict[str, str]:
    """What stands for each of these days.

    >>> shortened(["2026-05-03", "2026-05-02", "2026-06-20", "2026-07-04"])["2026-06-20"]
    '2026-04-04'
    """
    found: dict[str, str] = {}
    before: date | None = None
    for day in sorted(map(date.fromisoformat, days)):
        first = _first_of_quarter(day)
        if before is None or _first_of_quarter(before) != first:
            now = first
        else:
            now += timedelta(days=1 if day - before == timedelta(days=1) else 2)
        found[day.isoformat()] = now.isoformat()
        before = day
    return found


def _first_of_quarter(day: date) -> date:
    return date(day.year, (day.month - 1) // 3 * 3 + 1, 1)


def _is_day(text: str) -> bool:
    found = _ISO.fullmatch(text)
    if found is None:
        return False
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def _columns(kind: Kind, field_kind: str) -> tuple[str, ...]:
    return tuple(field.name for field in kind.fields if field.kind == field_kind)


def _instants(kind: Kind) -> tuple[str, ...]:
    return tuple(field.name for field in kind.fields if field.name in INSTANTS)


def _held(aside: sqlite3.Connection, kind: Kind, column: str) -> set[str]:
    return {row[0] for row in aside.execute(f"SELECT DISTINCT {column} FROM {kind.table} WHERE {column} IS NOT NULL")}
