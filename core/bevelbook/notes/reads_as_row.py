"""Whether a line inside a cell of many lines is a row of the table: then a quote above it was left open."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from bevelbook.declare.fields import Field
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.notes.headings import Heading
from bevelbook.notes.table import Row
from bevelbook.reading import ReadingError
from bevelbook.reading.dates import days_of
from bevelbook.reading.faults import NUMBER_MISSING, trimmed
from bevelbook.reading.heading_words import folded
from bevelbook.reading.numbers import parts_of, scale_for

_DIGIT: Final = late_pattern(r"\d")


def row_test(heading: Heading) -> Callable[[Row], bool]:
    """A function that says whether the cells of a line are a row under this heading.

    Commas prove nothing, since a remark has them too. A line is a row if its cells are those of the heading; or if it
    has a day in the day's column and something in the diff's, and beside them either as many cells as the heading or a
    number in a column of numbers and nothing else in these; or if it has as many cells as the heading and, in the
    columns of days and numbers, at least one of them and nothing else.
    """
    fields = [(column.field, column.place) for column in heading.columns if column.field]
    numbers = [(field, place) for field, place in fields if field.is_number]
    day = next(((field, place) for field, place in fields if field.name == "date"), None)
    diff = next((place for field, place in fields if field.name == "diff"), None)
    width, cells = heading.width, len(heading.cells)
    own = [folded(cell) for cell in heading.cells]

    def is_row(row: Row) -> bool:
        is_whole = width <= len(row) and not any(map(trimmed, row[cells:]))
        if is_whole and [folded(cell) for cell in row] == own:
            return True
        has_day = _is_day(day[0], row[day[1]]) if day and day[1] < len(row) else None
        if has_day is False or not (is_whole or has_day):
            return False
        found = [_is_number(field, row[place]) for field, place in numbers if place < len(row)]
        is_clean = False not in found
        if has_day and diff is not None and diff < len(row) and trimmed(row[diff]):
            return is_whole or (is_clean and True in found)
        return is_whole and is_clean and (has_day or True in found)

    return is_row


def _is_day(field: Field, text: str) -> bool | None:
    """Whether a cell is a day; None if it says that there is none."""
    if _DIGIT.search(text) is None and trimmed(text).lower() not in NUMBER_MISSING:
        return False
    try:
        return None if days_of(field, text) is None else True
    except ReadingError:
        return False


def _is_number(field: Field, text: str) -> bool | None:
    """Whether a cell is a number of its column; None if it says that there is none."""
    try:
        parts = parts_of(field, text)
        if parts is None:
            return None
        scale_for(field, parts.unit, text)
    except ReadingError:
        return False
    return True
