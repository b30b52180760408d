"""Instants of the database, which are UTC, as the clock on the wall shows them."""

from __future__ import annotations

from datetime import date, datetime

from bevelbook.display.days import day_in_words


def local_time(instant: str) -> datetime | None:
    """An instant by the laptop's clock; None for a text that is not one."""
    try:
        return datetime.fromisoformat(instant).astimezone()
    except (ValueError, OverflowError):
        return None


def clock_in_words(instant: str | None, today: date | None = None) -> str:
    """``14:10``, with its day where that is not today; empty for none, the text itself if it is not an instant.

    >>> clock_in_words(None), clock_in_words("noon")
    ('', 'noon')
    """
    if instant is None:
        return ""
    found = local_time(instant)
    if found is None:
        return instant
    shown, day = found.strftime("%H:%M"), today or date.today()
    return shown if found.date() == day else f"{shown} on {day_in_words(found.date().isoformat(), beside=str(day))}"
