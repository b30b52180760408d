"""What the cells of a row look like: words, or numbers and days."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from bevelbook.reading.faults import trimmed

_DELIMITERS: Final = {
    "tab": "\t",
    "pipe": "|",
    "semicolon": ";",
    "full-width semicolon": "；",
    "full-width comma": "，",
    "comma": ",",
}
"""Signs that separate cells, most telling first."""
_OPENS: Final = {"”": "“„”", "“": "„", "»": "«", "’": "‘’", "'": "'"}
"""Marks that close a quote, with those that open it."""
_IN_PROSE: Final = ("comma", "full-width comma")


def filled_cells(row: Sequence[str]) -> dict[int, str]:
    """The cells of a row that hold something, trimmed, by place."""
    return {place: plain for place, cell in enumerate(row) if (plain := trimmed(cell))}


def starts_as_number(cell: str) -> bool:
    """Whether a filled cell starts as a number or a day does, so that it is not a word.

    >>> [starts_as_number(one) for one in ("7k", "-3", "2024-04-06", "~1.4", "K-01", "(g)", "°C", "-")]
    [True, True, True, True, False, False, False, False]
    """
    return not cell[0].isalpha() and any(one.isdecimal() for one in cell)


def has_words_only(row: Sequence[str]) -> bool:
    """Whether a row has words, and neither a number nor a day.

    >>> has_words_only(["date", "", "oil (g)"]), has_words_only(["K-01", "1.35"]), has_words_only(["", "-"])
    (True, False, False)
    """
    cells = filled_cells(row).values()
    return not any(map(starts_as_number, cells)) and any(one.isalpha() for cell in cells for one in cell)


def other_delimiter(text: str, delimiter: str) -> str | None:
    """The name of the sign, other than the delimiter of the table, that cuts a single text into several cells.

    >>> other_delimiter("15 Feb\\tbo\\tQ2", ","), other_delimiter("15 Feb，bo，Q2", ","), other_delimiter("a", ",")
    ('tab', 'full-width comma', None)
    """
    for name, sign in _DELIMITERS.items():
        if sign != delimiter and text.count(sign) >= (1 if name == "tab" else 2):
            return name
    return None


def is_plain_words(text: str, delimiter: str) -> bool:
    """Whether a single text is a remark and cannot be a row of the table: no digit in it, no quote left open, and no
    sign that cuts it into cells, but for the commas of a sentence.

    >>> [is_plain_words(one, ",") for one in ("weighed dry, by ana", "15 Feb bo Q-B", 'left"', "today;bo;Q-B;ok")]
    [True, False, False, False]
    """
    if any(one.isdecimal() for one in text) or text.count('"') % 2 or _ends_a_quote(text):
        return False
    return other_delimiter(text, delimiter) in (None, *_IN_PROSE)


def _ends_a_quote(text: str) -> bool:
    """Whether a text ends with a mark that closes a quote, and begins none.

    >>> [_ends_a_quote(one) for one in ("left’", "left'", "the “left”", "so said Bo")]
    [True, True, False, False]
    """
    opening = _OPENS.get(text.rstrip()[-1:])
    return opening is not None and not any(mark in text.rstrip()[:-1] for mark in opening)
