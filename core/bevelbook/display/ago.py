"""How long before a run something was read or written, as people say it."""

from __future__ import annotations

from typing import Final

from bevelbook.declare.counting import counted

_HOUR: Final = 60.0
_JUST_NOW: Final = 1.5
_HOURS_FROM: Final = 90.0


def ago_in_words(minutes: float | None, days: int) -> str:
    """Minutes and hours where the minutes are known, else days.

    >>> ago_in_words(0.5, 0), ago_in_words(40.4, 0), ago_in_words(130.0, 0)
    ('just now', '40 min ago', '2 h ago')
    >>> ago_in_words(None, 0), ago_in_words(None, 1), ago_in_words(None, 20)
    ('earlier that day', 'the day before', '20 days before')
    """
    if minutes is not None:
        if minutes < _JUST_NOW:
            return "just now"
        return f"{minutes:.0f} min ago" if minutes < _HOURS_FROM else f"{minutes / _HOUR:.0f} h ago"
    if days <= 0:
        return "earlier that day"
    return "the day before" if days == 1 else f"{counted(days, 'day')} before"
