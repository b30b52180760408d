"""Rows of cells in straight columns for the terminal: every table and every list in columns is printed from here."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from typing import Final

from bevelbook.declare.printable import JOINERS, printable

_GAP: Final = "  "


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
    wider than ``widest`` does not widen its column: the rest of its row follows on the next line. The last column is
    wrapped between words so that a line is ``wrap_at`` wide at most. All widths are in columns of the terminal.
    Raises ValueError where rows differ in their number of cells.

    >>> list(table_lines([("oil", "9.5"), ("shim", "12")], headings=("part", "g"), right={1}))
    ['part    g', 'oil   9.5', 'shim   12']
    """
    table = [[printable(cell) for cell in row] for row in ((headings, *rows) if headings else rows)]
    widths = [
        max((width for width in map(display_width, column) if width <= (widest or width)), default=0)
        for column in zip(*table, strict=True)
    ]
    for *cells, last in table:
        line = indent
        for place, cell in enumerate(cells):
            room = widths[place] - display_width(cell)
            if room < 0:
                yield (line + cell).rstrip(" ")
                line, cell, room = " " * display_width(line), "", widths[place]
            line += (" " * room + cell if place in right else cell + " " * room) + _GAP
        if len(cells) in right:
            line += " " * (widths[-1] - display_width(last))
        for piece in wrapped_words(last, wrap_at - display_width(line)) if wrap_at else [last]:
            yield (line + piece).rstrip(" ")
            line = " " * display_width(line)


def display_width(text: str) -> int:
    """How many columns of the terminal a text takes: two for a wide character, none for a combining mark.

    Source: Unicode Standard Annex 11, East Asian Width (W and F are wide).

    >>> display_width("oil"), display_width("油"), display_width("e\u0301")
    (3, 2, 1)
    """
    if text.isascii():
        return len(text)
    from unicodedata import category, east_asian_width

    return sum(
        0 if category(c) in ("Mn", "Me") or c in JOINERS else 2 if east_asian_width(c) in "WF" else 1 for c in text
    )


def wrapped_words(text: str, width: int) -> list[str]:
    """The words of a text on lines at most ``width`` wide; a word that is wider has a line of its own.

    >>> wrapped_words("three fillings of oil", 9)
    ['three', 'fillings', 'of oil']
    """
    lines = [""]
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}" if lines[-1] else word
        if lines[-1] and display_width(longer) > width:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines
