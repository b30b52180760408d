"""Days as a person says them."""

from __future__ import annotations

from typing import Final

_MONTHS: Final = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day_in_words(day: str, *, beside: str | None = None) -> str:
    """``3 May 2026`` for an ISO 8601 day; without its year where the day ``beside`` it is of the same one.

    Any other text stays as it is: another program may have written it.

    >>> day_in_words("2026-05-03"), day_in_words("2026-05-03", beside="2026-06-01"), day_in_words("spring")
    ('3 May 2026', '3 May', 'spring')
    """
    year, _, rest = day.partition("-")
    month, _, number = rest.partition("-")
    if not (year.isdigit() and month.isdigit() and number.isdigit() and 1 <= int(month) <= len(_MONTHS)):
        return day
    words = f"{int(number)} {_MONTHS[int(month) - 1]}"
    return words if beside is not None and beside[:4] == year else f"{words} {year}"
