"""Values as cells of a CSV file and back, unchanged: RFC 4180 in UTF-8, with ``\\n`` at the end of a line.

Nothing is an empty cell; an empty text is the guard alone. A text that a spreadsheet might run gets the guard before
its first character (CWE-1236, Improper Neutralization of Formula Elements in a CSV File; the signs: OWASP Application
Security Verification Standard 5.0, 1.2.10), and so does one that begins with the guard. A number never does.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, Final, Literal

from bevelbook.declare.late_pattern import late_pattern

GUARD: Final = "'"
"""Before the first character of a text; it does not belong to the text."""
SIGNS: Final = "=+-@\uff1d\uff0b\uff0d\uff20"
"""Signs at which a spreadsheet may take a cell for a formula, also those that are as wide as a letter of Chinese."""
CellType = Literal["TEXT", "REAL", "INTEGER"]
"""The types of the database, whose columns have one each."""
NUL: Final = "\0"

_GUARDED: Final = f"\n{GUARD}"
_ENDLESS: Final = float("inf")

_QUOTED: Final = late_pattern('[",\r\n]').search
_NOT_IN_REALS: Final = late_pattern(r"[^0-9.eE+\-\n]").search
_NOT_IN_WHOLES: Final = late_pattern(r"[^0-9\-\n]").search
_WORDS_OF_REALS: Final = {"inf": "INF", "-inf": "-INF", "nan": "NaN"}
"""Numbers that are none, as Table Schema writes them."""
_SMALLEST_WHOLE: Final = -(1 << 63)
_LARGEST_WHOLE: Final = (1 << 63) - 1
_LONGEST_WHOLE: Final = len(str(_SMALLEST_WHOLE))


class CellError(ValueError):
    """A cell that cannot be read; ``place`` counts the cells of the column from 0."""

    def __init__(self, what: str, place: int) -> None:
        super().__init__(what)
        self.place = place


def is_risky(text: str) -> bool:
    """Whether a text needs the guard: one that is empty, that begins with the guard or a sign of ``SIGNS``, or with
    white space or a character that nobody sees, which a spreadsheet may take away.

    >>> is_risky("=1+1"), is_risky("-5"), is_risky(" =1"), is_risky("'s"), is_risky(""), is_risky("rear-a")
    (True, True, True, True, True, False)
    """
    if not text:
        return True
    first = text[0]
    return first == GUARD or first in SIGNS or first.isspace() or not first.isprintable()


def text_cell(text: str | None) -> str:
    """A text as a cell, not quoted yet.

    >>> text_cell(None), text_cell(""), text_cell("=1"), text_cell("'"), text_cell("rear-a")
    ('', "'", "'=1", "''", 'rear-a')
    """
    if text is None:
        return ""
    return text if text[:1].isalnum() or not is_risky(text) else GUARD + text


def text_of(cell: str) -> str | None:
    """The text of a cell.

    >>> text_of(""), text_of("'"), text_of("'=1"), text_of("''"), text_of("rear-a")
    (None, '', '=1', "'", 'rear-a')
    """
    return (cell[1:] if cell[0] == GUARD else cell) if cell else None


def real_cell(number: float | None) -> str:
    """A number as a cell: as few digits as give it back to the last bit.

    >>> real_cell(0.1), real_cell(7000.0), real_cell(-2e-7), real_cell(float("inf"))
    ('0.1', '7000.0', '-2e-07', 'INF')
    """
    said = "" if number is None else repr(float(number))
    return _WORDS_OF_REALS.get(said, said)


def quoted_cell(cell: str) -> str:
    """A cell in quotes where it needs them."""
    return f'"{cell.replace(chr(34), chr(34) * 2)}"' if _QUOTED(cell) else cell


def cells_of_column(values: Sequence[Any], cell_type: CellType) -> list[str]:
    """The values of one column as cells that can be joined by commas."""
    if values.count(None) == len(values):  # most columns of most blocks
        return [""] * len(values)
    if cell_type == "TEXT":
        cells = ["" if one is None else one if one[:1].isalnum() else text_cell(one) for one in values]
        return list(map(quoted_cell, cells)) if _QUOTED("".join(cells)) else cells
    cells = ["" if one is None else repr(one) for one in values]
    if cell_type == "REAL" and any(word in cells for word in _WORDS_OF_REALS):
        return [_WORDS_OF_REALS.get(one, one) for one in cells]
    return cells


def csv_lines(rows: Sequence[Sequence[object]], types: Sequence[CellType]) -> str:
    """Rows as lines of a file, each with its end. A row without a character is two quotes, so that it stays a row."""
    if not rows:
        return ""
    columns = [
        cells_of_column(values, cell_type) for values, cell_type in zip(zip(*rows, strict=True), types, strict=True)
    ]
    if len(columns) == 1:
        columns = [[cell or '""' for cell in columns[0]]]
    return "\n".join([*map(",".join, zip(*columns, strict=True)), ""])


def heading_line(names: Iterable[str]) -> str:
    """The first line of a file."""
    return ",".join(map(quoted_cell, names)) + "\n"


def values_of_column(cells: Sequence[str], cell_type: CellType) -> Sequence[Any]:
    """The values of the cells of one column, which are not quoted any more. Raises CellError for a number that is none
    or not finite."""
    if not any(cells):
        return [None] * len(cells)
    whole = "\n".join(cells)
    if cell_type == "TEXT":
        if whole.startswith(GUARD) or _GUARDED in whole:
            return list(map(text_of, cells))
        return cells if all(cells) else [one or None for one in cells]
    is_real = cell_type == "REAL"
    misfit = (_NOT_IN_REALS if is_real else _NOT_IN_WHOLES)(whole)
    if misfit is None and whole.count("\n") == len(cells) - 1:
        try:
            if is_real:
                reals = [float(one) if one else None for one in cells]
                if _ENDLESS not in reals and -_ENDLESS not in reals:
                    return reals
            elif max(map(len, cells)) <= _LONGEST_WHOLE:
                wholes = [int(one) if one else None for one in cells]
                if all(one is None or _SMALLEST_WHOLE <= one <= _LARGEST_WHOLE for one in wholes):
                    return wholes
        except ValueError:
            pass
    raise _misfit(cells, cell_type)


def _misfit(cells: Sequence[str], cell_type: CellType) -> CellError:
    """The fault of the first cell of a column that is not a number."""
    for place, cell in enumerate(cells):
        if len(cells) > 1:
            try:
                values_of_column([cell], cell_type)
            except CellError as fault:
                return CellError(str(fault), place)
    return CellError("not a number, or not finite" if cell_type == "REAL" else "not a whole number, or too large", 0)
