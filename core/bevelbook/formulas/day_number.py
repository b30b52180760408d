"""A day as a number, so that days have an order and a distance."""

from __future__ import annotations

from contextlib import suppress
from datetime import date
from functools import lru_cache
from typing import Final

_REMEMBERED: Final = 4_096


@lru_cache(_REMEMBERED)
def day_number(day: str | None) -> int | None:
    """A day as a number: a date, or a number as it is; None for anything else.

    >>> day_number("2026-05-08") - day_number("2026-05-01"), day_number("12"), day_number("race day"), day_number(None)
    (7, 12, None, None)
    """
    if day is None:
        return None
    with suppress(ValueError):
        return date.fromisoformat(day).toordinal()
    with suppress(ValueError):
        return int(day)
    return None
