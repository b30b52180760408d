"""Rows of cells in straight columns for the terminal: every table and every list in columns is printed from here."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from itertools import zip_longest
from typing import Final

from bevelbook.declare.printable import printable
from bevelbook.display.line_width import terminal_width
from bevelbook.display.wrapping import display_width, wrapped_words

_GAP: Final = "  "
_TOWER: Final = 12
"""Columns under which a column of words is not narrowed."""


def table_lines(
    rows: Iterable[Sequence[str]],
    *,
    headings: Sequence[str] = (),
    right: Collection[int] = (),
    indent: str = "",
    widest: int | None = None,
    wrap_at: int | None = None,
) -> Iterator[str]:
    """The lines of a table, without blanks at their ends.

    ``right`` are the columns aligned to the right, counted from 0; headings are aligned like their columns. A cell
    wider than ``widest`` does not widen its column (but for the last): the rest of its row follows on the next line.
    Lines are ``wrap_at`` wide at most, else as wide as the terminal: columns of words get narrower, their cells going
    on in the next line; where that is not enough each row becomes a few lines of its own, a heading before each cell.
    All widths are in columns of the terminal. Raises ValueError where rows differ in their number of cells.

    >>> list(table_lines([("oil", "9.5"), ("shim", "12")], headings=("part", "g"), right={1}))
    ['part    g', 'oil   9.5', 'shim   12']
    >>> list(table_lines([("oil", "three fillings of it")], wrap_at=16))
    ['oil  three', '     fillings of', '     it']
    """
    table = [headings, *rows] if headings else list(rows)
    for lines in lines_of_rows(table, bool(headings), right, indent, widest, wrap_at):
        yield from lines


def lines_of_rows(
    table: Iterable[Sequence[str]],
    has_headings: bool = False,
    right: Collection[int] = (),
    indent: str = "",
    widest: int | None = None,
    wrap_at: int | None = None,
) -> Iterator[list[str]]:
    """The same, as a list of lines for each row of ``table``; the first is the headings where it ``has_headings``.

    Headings that stand before each cell instead have no lines.
    """
    cells = [[printable(cell) for cell in row] for row in table]
    if not cells:
        return
    *columns, last = [list(map(display_width, column)) for column in zip(*cells, strict=True)]
    natural = [max((width for width in column if width <= (widest or width)), default=0) for column in columns]
    natural.append(max(last))
    room = wrap_at or terminal_width()
    widths = natural if room is None else _narrowed(cells, natural, right, room - len(indent))
    for number, row in enumerate(cells):
        if widths is not None:
            yield list(_row_lines(row, widths, right, indent, is_wrapped=room is not None))
        elif has_headings and number == 0:
            yield []
        else:
            headings = cells[0] if has_headings else ()
            yield list(_one_below_the_other(row, headings, indent, room or 0, is_name_first=0 not in right))


def _row_lines(
    row: Sequence[str], widths: Sequence[int], right: Collection[int], indent: str, *, is_wrapped: bool
) -> Iterator[str]:
    """One row; a cell wider than its column goes on below it, but the first has a line of its own."""
    if display_width(row[0]) > widths[0] and len(row) > 1 and 0 not in right:
        yield (indent + row[0]).rstrip(" ")
        row = ("", *row[1:])
    pieces = [wrapped_words(cell, width) if is_wrapped else [cell] for cell, width in zip(row, widths, strict=True)]
    for cells in zip_longest(*pieces, fillvalue=""):
        line = indent
        for place, cell in enumerate(cells):
            room = " " * (widths[place] - display_width(cell))
            line += (room + cell if place in right else cell + room) + _GAP
        yield line.rstrip(" ")


def _narrowed(
    table: Sequence[Sequence[str]], widths: Sequence[int], right: Collection[int], room: int
) -> list[int] | None:
    """Widths of columns that fit in ``room``: the widest column of words first; None if they cannot."""
    found = list(widths)
    over = sum(found) + len(_GAP) * (len(found) - 1) - room
    tower = min(_TOWER, room // 3)
    least = [_least(column, width, tower) for column, width in zip(zip(*table, strict=True), found, strict=True)]
    while over > 0:
        place = max(range(len(found)), key=lambda one: found[one] - least[one] if one not in right else -1)
        if place in right or found[place] <= least[place]:
            return None
        found[place] -= 1
        over -= 1
    return found


def _least(cells: Iterable[str], width: int, tower: int) -> int:
    """The narrowest column for some cells: its longest word, and not so narrow that a sentence becomes a tower."""
    longest = max((display_width(word) for cell in cells for word in cell.split(" ")), default=0)
    return min(width, max(longest, tower))


def _one_below_the_other(
    row: Sequence[str], headings: Sequence[str], indent: str, room: int, *, is_name_first: bool
) -> Iterator[str]:
    """A row as lines of its own: the first cell, then the others, each after its heading; the first as well where it is
    a number, which says nothing alone."""
    words = [
        f"{headings[place]}: {cell}" if headings and headings[place] and (place or not is_name_first) else cell
        for place, cell in enumerate(row)
        if cell
    ]
    for place, cell in enumerate(words):
        before = indent if place == 0 else f"{indent}{_GAP}"
        for number, piece in enumerate(wrapped_words(cell, room - len(before) - len(_GAP))):
            yield f"{before}{_GAP if number else ''}{piece}"
