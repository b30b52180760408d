"""Days as a person says them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date
from typing import Final

from bevelbook.declare.counting import counted

_MONTHS: Final = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


_SAID_FOR_LATER: Final = ContextVar("_SAID_FOR_LATER", default=False)


@contextmanager
def said_for_later() -> Iterator[None]:
    """While words are made that are read on other days too: days are named, and none is so many days ago.

    >>> with said_for_later():
    ...     built_in_words("2026-05-03", date(2026, 5, 4))
    'built on 3 May 2026'
    """
    token = _SAID_FOR_LATER.set(True)
    try:
        yield
    finally:
        _SAID_FOR_LATER.reset(token)


def day_in_words(day: str, *, beside: str | None = None) -> str:
    """``3 May 2026`` for an ISO 8601 day; without its year where the day ``beside`` it is of the same one.

    Any other text stays as it is: another program may have written it.

    >>> day_in_words("2026-05-03"), day_in_words("2026-05-03", beside="2026-06-01"), day_in_words("spring")
    ('3 May 2026', '3 May', 'spring')
    """
    year, _, rest = day.partition("-")
    month, _, number = rest.partition("-")
    if not (year.isdecimal() and month.isdecimal() and number.isdecimal() and 1 <= int(month) <= len(_MONTHS)):
        return day
    words = f"{int(number)} {_MONTHS[int(month) - 1]}"
    return words if beside is not None and beside[:4] == year else f"{words} {year}"


def days_in_words(first: str, last: str | None = None) -> str:
    """The days from one to another, each said once: ``3 to 5 May 2026``.

    >>> days_in_words("2026-05-03", "2026-05-05"), days_in_words("2026-05-30", "2026-06-01")
    ('3 to 5 May 2026', '30 May to 1 Jun 2026')
    >>> days_in_words("2026-05-03"), days_in_words("2026-05-03", "2026-05-03")
    ('3 May 2026', '3 May 2026')
    """
    if last is None or last <= first:
        return day_in_words(first)
    begins = day_in_words(first, beside=last)
    number, _, month = begins.partition(" ")
    ends = day_in_words(last)
    return f"{number if ends.partition(' ')[2].startswith(f'{month} ') else begins} to {ends}"


def to_come_in_words(first: str, last: str | None = None, today: date | None = None) -> str:
    """How far off days are: ``in 5 days``; the days themselves where they cannot be read, and ``said_for_later``.

    ``today`` is the clock's, if not given.

    >>> [to_come_in_words("2026-05-03", "2026-05-05", date(2026, 5, day)) for day in (1, 2, 3, 5, 6)]
    ['in 2 days', 'tomorrow', 'begins today', 'now', '1 day ago']
    >>> to_come_in_words("2026-05-03", today=date(2026, 5, 3)), to_come_in_words("2026-05-03", today=date(2026, 5, 5))
    ('today', '2 days ago')
    """
    now = today or date.today()
    try:
        begins, ends = date.fromisoformat(first), date.fromisoformat(last or first)
    except ValueError:
        return days_in_words(first, last)
    if _SAID_FOR_LATER.get():
        return days_in_words(first, last)
    if now > ends:
        return f"{counted((now - ends).days, 'day')} ago"
    if now > begins:
        return "now"
    if now == begins:
        return "today" if begins == ends else "begins today"
    return "tomorrow" if (begins - now).days == 1 else f"in {counted((begins - now).days, 'day')}"


def day_against(day: str, today: str) -> str:
    """A day as the one that something is written down for: ``today``, else plainly another one.

    >>> day_against("2026-05-03", "2026-05-03"), day_against("2026-05-02", "2026-05-03")
    ('today', '2 May 2026, not today')
    """
    return "today" if day == today else f"{day_in_words(day)}, not today"


def built_in_words(day: str, today: date | None = None) -> str:
    """How long ago a build was made: ``built 12 days ago``; the day itself for one to come or one that is unreadable,
    and ``said_for_later``.

    ``today`` is the clock's, if not given.

    >>> [built_in_words("2026-05-03", date(2026, 5, number)) for number in (3, 4, 15)]
    ['built today', 'built 1 day ago', 'built 12 days ago']
    >>> built_in_words("2026-05-03", date(2026, 5, 1)), built_in_words("spring")
    ('built on 3 May 2026', 'built on spring')
    """
    try:
        days = ((today or date.today()) - date.fromisoformat(day)).days
    except ValueError:
        days = -1
    if days < 0 or _SAID_FOR_LATER.get():
        return f"built on {day_in_words(day)}"
    return f"built {counted(days, 'day')} ago" if days else "built today"
