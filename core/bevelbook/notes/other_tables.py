"""More than one table in a file: where each begins and ends, and how the file is refused with a way to import it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Final, NamedTuple

from bevelbook.notes.decoding import FileRejected, rejected
from bevelbook.notes.headings import Column, Heading, matched
from bevelbook.notes.layout import Layout, units_in
from bevelbook.notes.note_columns import REQUIRED_COLUMNS
from bevelbook.notes.questions import FileQuestion, PossibleAnswer
from bevelbook.notes.row_words import filled_cells, has_words_only, starts_as_number
from bevelbook.notes.table import Block, NoteTable, Row, height
from bevelbook.notes.wording import typed_with
from bevelbook.reading import ReadingError
from bevelbook.reading.dates import days_of
from bevelbook.reading.heading_words import folded
from bevelbook.reading.options import ReadingOption

_NAMED_TABLES: Final = 5


class TableLines(NamedTuple):
    """One table of several in a file: its first and last line, and its heading."""

    first: int
    last: int
    cells: tuple[str, ...]

    @property
    def range(self) -> str:
        return f"{self.first}-{self.last}"

    @property
    def words(self) -> str:
        """What it is in words: its heading, shortened."""
        named = [cell for cell in self.cells if cell]
        return ", ".join(named[:6]) + (" ..." if len(named) > 6 else "")


class HeadingTest:
    """Says of rows whether they are the heading of another table than the one that is read."""

    def __init__(self, heading: Heading) -> None:
        self.own = {folded(column.heading): column.field.name for column in heading.columns if column.field}
        self._same = heading.rows_folded()
        self._needed = heading.own_width
        known = (heading.known.get(name) for name in REQUIRED_COLUMNS)
        self._required = {column.place for column in known if column and column.place < self._needed}
        self._day = heading.known.get("date")
        self.numbers = {
            column.place
            for column in heading.columns
            if column.field and (column.field.is_number or column.field.kind == "date")
        }

    def is_repeated(self, row: Sequence[str]) -> bool:
        """Whether a row is the same heading again, without more columns."""
        return tuple(folded(cell) for cell in row[: self._needed]) in self._same and not any(
            place >= self._needed for place in filled_cells(row)
        )

    def names_columns(self, row: Row) -> bool:
        """Whether a row is words only, two known headings among them."""
        return has_words_only(row) and len(known_names(row, self.own)) >= 2

    def may_be_heading(self, row: Sequence[str]) -> bool:
        """Whether a row could be a heading, by itself: only words, in two cells or more."""
        return has_words_only(row) and len(filled_cells(row)) >= 2 and not self.is_repeated(row)

    def is_below(self, row: Row, following: Row, is_after_blank: bool) -> bool:
        """Whether a row below the heading is that of another table: two known headings in it; or, after a blank line,
        words where this table has numbers and days, or in a few cells alone, and below it a row that is not words
        only."""
        if self.names_columns(row):
            return True
        cells = filled_cells(row)
        if not is_after_blank or not has_words_only(row) or not _holds_values(following):
            return False
        if self._is_narrow(row, following):
            return True
        return len(self.numbers & cells.keys()) >= 2 or (len(cells) >= 3 and bool(self.numbers & cells.keys()))

    def _is_narrow(self, row: Row, following: Row) -> bool:
        """Whether two rows are filled in the same places, and the lower one cannot be a row of this table: it has no
        day, and too few cells or nothing where a day or a diff is needed."""
        cells = filled_cells(following)
        if filled_cells(row).keys() != cells.keys() or (self._day and self._has_day(self._day, cells)):
            return False
        return not self._required <= cells.keys() or len(following) < self._needed

    def _has_day(self, column: Column, cells: Mapping[int, str]) -> bool:
        if column.field is None or column.place not in cells:
            return False
        try:
            return days_of(column.field, cells[column.place]) is not None
        except ReadingError:
            return False


def known_names(row: Sequence[str], own: Mapping[str, str]) -> set[str]:
    """What the cells of a row name as headings; a word with several meanings counts as one name."""
    columns = [matched(cell, 0, own) for cell in row]
    return {one.field.name if one.field else " or ".join(one.meanings) for one in columns if one.is_known}


def is_table_above(rows: Sequence[Row], own: Mapping[str, str]) -> bool:
    """Whether the rows above a heading hold another table: a row of words with known headings, or three or more of
    them, and directly below it a row of as many cells with numbers or days."""
    for upper, lower in pairwise(rows):
        words, values = filled_cells(upper), filled_cells(lower)
        if not has_words_only(upper) or not _holds_values(lower) or not values.keys() <= words.keys():
            continue
        if len(words) >= 3 and len(values) >= 3:
            return True
        if len(words) >= 2 and len(known_names(upper, own)) >= 2:
            return True
    return False


def tables_in(blocks: Iterable[Block], layout: Layout) -> list[TableLines]:
    """The tables of a file, from its rows: the one that is read, and those above and below it.

    The same heading again begins another table if other units follow it.
    """
    test = HeadingTest(layout.heading)
    units, again = layout.units, 0
    found: list[TableLines] = []
    is_blank, is_below = True, False
    for line, row, following in _with_following(blocks):
        cells = filled_cells(row)
        if not cells:
            is_blank = True
            continue
        last = line + height(row) - 1
        if line == layout.lines[0]:
            found.append(TableLines(line, last, layout.heading.cells))
            is_below = True
        elif line in layout.lines:
            pass
        elif test.is_repeated(row):
            again = line
            is_blank = False
            continue
        elif again and (here := units_in(row, layout.heading, is_next=True)):
            if here != units:
                found.append(TableLines(again, last, layout.heading.cells))
                units = here
        elif test.is_below(row, following, is_blank) if is_below else is_table_above([row, following], test.own):
            found.append(TableLines(line, last, tuple(row)))
        elif found and len(cells) > 1:
            found[-1] = found[-1]._replace(last=last)
        is_blank, again = False, 0
    return found


def check_one_table(table: NoteTable, layout: Layout) -> None:
    """Raise FileRejected (header_changed) if a file holds more than one table."""
    tables = tables_in(table.blocks(), layout)
    if len(tables) > 1:
        raise several_tables(tables)


def check_units_below(units_below: Mapping[int, Mapping[int, str]], table: NoteTable, layout: Layout) -> None:
    """Raise FileRejected if rows of units below the heading, by line, say others than those in which the numbers are
    read: header_changed where a table begins there, else units_unclear."""
    if not units_below:
        return
    check_one_table(table, layout)
    line, units = next(iter(units_below.items()))
    names = {column.place: column.field.name for column in layout.heading.columns if column.field}
    said = ", ".join(f'{names[place]}: "{unit}"' for place, unit in units.items())
    raise rejected(
        "units_unclear",
        f"a row of units ({', '.join(units.values())}) below rows of notes: it may be for those above it or below it",
        line=line,
        remedy=f"Put it below the headings in line {layout.heading_lines[-1]} if it is for all rows, or say the units "
        f"in a profile: units: {{{said}}}.",
    )


def several_tables(tables: Sequence[TableLines]) -> FileRejected:
    """The refusal of a file with more than one table, with the lines of each."""
    named = [f"lines {one.first} to {one.last} ({one.words})" for one in tables[:_NAMED_TABLES]]
    more = f", and {len(tables) - _NAMED_TABLES} more" if len(tables) > _NAMED_TABLES else ""
    first, second = tables[0].range, tables[1].range
    return rejected(
        "header_changed",
        f"the file has {len(tables)} tables: {'; '.join(named)}{more}",
        line=tables[1].first,
        remedy=f"Import one at a time: {typed_with(ReadingOption.LINES, first)}, or "
        f"{typed_with(ReadingOption.LINES, second)}.",
        questions=(
            FileQuestion(
                ReadingOption.LINES,
                "Which of the tables shall be imported?",
                tuple(PossibleAnswer(one.range, f"lines {one.first} to {one.last}: {one.words}") for one in tables),
            ),
        ),
    )


def _with_following(blocks: Iterable[Block]) -> Iterator[tuple[int, Row, Row]]:
    """Every row with its line and the row below it, which is empty for the last one."""
    before: tuple[int, Row] | None = None
    for block in blocks:
        for line, row in zip(block.lines, block.rows, strict=True):
            if before is not None:
                yield *before, row
            before = line, row
    if before is not None:
        yield *before, []


def _holds_values(row: Sequence[str]) -> bool:
    cells = filled_cells(row)
    return len(cells) >= 2 and any(map(starts_as_number, cells.values()))
