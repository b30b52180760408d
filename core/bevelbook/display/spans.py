"""A span of time as people say it."""

from __future__ import annotations

from typing import Final

_SECONDS_UNDER: Final = 90.0


def span_in_words(seconds: float) -> str:
    """Seconds under a minute and a half, else minutes.

    >>> span_in_words(40.0), span_in_words(120.0), span_in_words(150.0)
    ('40 s', '2 min', '2.5 min')
    """
    return f"{seconds:g} s" if seconds < _SECONDS_UNDER else f"{float(f'{seconds / 60.0:.2f}'):g} min"
