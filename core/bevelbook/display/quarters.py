"""Days that stand for others, as people read them: the quarter, and which one in it.

In a copy without days each one became a numbered day of its quarter, in the form of a day so that everything that
counts and orders days still does. Nobody is to take it for a real one.
"""

from __future__ import annotations

import re
from typing import Final

from bevelbook.declare.late_pattern import late_pattern

_MONTHS: Final = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_BEFORE: Final = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334)
_PIECES: Final = late_pattern(
    r"(<(?:script|style|time|pre)\b.*?</(?:script|style|time|pre)\s*>|<[^>]*>)", re.IGNORECASE | re.DOTALL
)
"""What of a page is not text, and text in which a day is a real one: ``<time>``."""
_SAID: Final = late_pattern(r'(\s(?:title|alt|aria-label|aria-description)=")([^"]*)"', re.IGNORECASE)
_ISO: Final = late_pattern(r"(?<![\w/.-])(\d{4})-(0[1-9]|1[0-2])-([0-3]\d)(?!\d|-\d|\.\w)")
_IN_WORDS: Final = late_pattern(rf"(?<![\w.,/-])([1-3]?\d) ({'|'.join(_MONTHS)})(?: (\d{{4}}))?(?![\w-])")

_FROM: Final = late_pattern(rf"(?<![\w.,/-])([1-3]?\d) to (?=[1-3]?\d ({'|'.join(_MONTHS)})( \d{{4}})?(?![\w-]))")
"""The first of days of one month, of which only the last says it: ``3 to 5 May 2026``."""


def quarter_day(day: str) -> str:
    """A day that stands for another.

    >>> quarter_day("2026-04-04"), quarter_day("2026-12-31"), quarter_day("2024-03-01"), quarter_day("spring")
    ('2026-Q2-04', '2026-Q4-92', '2024-Q1-61', 'spring')
    """
    return _ISO.sub(_of_iso, day)


def in_quarters(text: str) -> str:
    """A text in which every day stands for another one, whether as 2026-04-04 or as 4 Apr 2026; the names of files and
    addresses stay.

    >>> in_quarters("built 2026-04-04, run on 4 Apr 2026 and 6 Apr, see demo-2026-11-27.db")
    'built 2026-Q2-04, run on 2026-Q2-04 and Q2-06, see demo-2026-11-27.db'
    >>> in_quarters("3 to 5 May 2026; 30 May to 1 Jun; 3 to 5 runs")
    '2026-Q2-33 to 2026-Q2-35; Q2-60 to Q2-62; 3 to 5 runs'
    """
    return _IN_WORDS.sub(_of_words, _FROM.sub(r"\1 \2\3 to ", _ISO.sub(_of_iso, text)))


def page_in_quarters(html: str) -> str:
    """A page in which each numbered day is read as one of its quarter; addresses in it stay.

    >>> page_in_quarters('<a href="/day/2026-04-04" title="2026-04-04">4 Apr 2026</a> <time>27 Nov 2026</time>')
    '<a href="/day/2026-04-04" title="2026-Q2-04">2026-Q2-04</a> <time>27 Nov 2026</time>'
    """
    pieces = _PIECES.split(html)
    pieces[0::2] = map(in_quarters, pieces[0::2])
    pieces[1::2] = (_SAID.sub(lambda found: f'{found[1]}{in_quarters(found[2])}"', one) for one in pieces[1::2])
    return "".join(pieces)


def _of_iso(found: re.Match[str]) -> str:
    return f"{found[1]}-{_in_year(int(found[1]), int(found[2]), int(found[3]))}"


def _of_words(found: re.Match[str]) -> str:
    day = _in_year(int(found[3] or 2026), _MONTHS.index(found[2]) + 1, int(found[1]))
    return f"{found[3]}-{day}" if found[3] else day


def _in_year(year: int, month: int, day: int) -> str:
    first = (month - 1) // 3 * 3
    number = _BEFORE[month - 1] - _BEFORE[first] + day
    if month == 3 and year % 4 == 0 and (year % 100 or year % 400 == 0):
        number += 1
    return f"Q{first // 3 + 1}-{number:02d}"
