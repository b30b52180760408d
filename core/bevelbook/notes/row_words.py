"""What the cells of a row look like: words, or numbers and days."""

from __future__ import annotations

from collections.abc import Sequence

from bevelbook.reading.faults import trimmed


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
