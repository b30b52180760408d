"""Which rows of a table are what: the heading, the row of units, and what is not part of the table."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import islice
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.notes.decoding import FileRejected, rejected
from bevelbook.notes.headings import Column, Heading, matched
from bevelbook.notes.line_range import LineRange
from bevelbook.notes.near_headings import likely_heading
from bevelbook.notes.note_columns import REQUIRED_COLUMNS
from bevelbook.notes.row_words import filled_cells, has_words_only, starts_as_number
from bevelbook.notes.table import DELIMITERS, Row, height, hinted_delimiter, open_quote, rows_in_quotes, sample_rows
from bevelbook.notes.two_line_headings import unclear_heading, with_groups_above, with_second_line
from bevelbook.notes.wording import typed, typed_with
from bevelbook.reading.faults import NUMBER_MISSING
from bevelbook.reading.options import ReadingOption
from bevelbook.reading.units import looks_like_unit

SEARCHED_ROWS: Final = 200
SEARCHED_CELLS: Final = 20_000
"""How much of a file is looked at for the heading: a table is far narrower, and a heading comes early."""
LIKELY_ROWS: Final = 40
"""Rows that are looked at for one that looks like a heading, where no row is known to be one."""
_DAY_PATTERN: Final = frozenset("dmytj./- ()[]")


class Layout(NamedTuple):
    """Where a table is in its file, in lines: its heading, of one row or two, its row of units with the cells by
    place, and the first line that may hold a row of notes."""

    heading: Heading
    heading_lines: tuple[int, ...]
    units: dict[int, str]
    units_line: int | None
    first_line: int

    @property
    def lines(self) -> tuple[int, ...]:
        """The lines of heading and units."""
        return tuple(sorted((*self.heading_lines, *([self.units_line] if self.units_line else []))))


def layout_of(heading: Heading, rows: Sequence[Row], lines: Sequence[int]) -> Layout:
    """The layout of a table from its first rows, each with its line. Blank lines may be between heading and units."""
    of_heading = tuple(lines[heading.first_row : heading.row + 1])
    end = lines[heading.row] + height(rows[heading.row])
    below = next((place for place in range(heading.row + 1, len(rows)) if filled_cells(rows[place])), None)
    above = next((place for place in range(heading.first_row - 1, -1, -1) if filled_cells(rows[place])), None)
    for place in (below, above):
        units = units_in(rows[place], heading, is_next=True) if place is not None else None
        if units is None and place is not None and place == below:
            units = _unknown_units(rows[place], heading)
        if units and place is not None:
            first_line = lines[place] + height(rows[place]) if place == below else end
            return Layout(heading, of_heading, units, lines[place], first_line)
    return Layout(heading, of_heading, {}, None, end)


def find_heading(
    sample: str,
    *,
    own: Mapping[str, str],
    delimiter: str | None = None,
    line: int | None = None,
    required: Collection[str] = REQUIRED_COLUMNS,
    first_line: int = 1,
) -> Heading:
    """The heading of a text and its delimiter: those that give the required columns, then the most known headings.

    ``first_line`` is the line of the text's first row; the heading's place counts from that row.

    Raises FileRejected (no_heading, two_line_heading, unterminated_quote).
    """
    given = delimiter or hinted_delimiter(sample)
    best: tuple[tuple[bool, int], Heading] | None = None
    for one in [given] if given else DELIMITERS.values():
        rows = sample_rows(sample, one, max(SEARCHED_ROWS, line or 0) + 2)
        found = heading_in(rows, own=own, line=line, delimiter=one, required=required, first_line=first_line)
        if found:
            score = set(required) <= found.known.keys(), len(_names(found.columns))
            if best is None or score > best[0]:
                best = (score, found)
    if best is None:
        for one in [given] if given else DELIMITERS.values():
            for opened, text, row in islice(rows_in_quotes(sample, one), SEARCHED_ROWS):
                if heading_in([row], own=own, line=None, delimiter=one):
                    raise open_quote(opened + first_line - 1, text)
        raise no_heading(line)
    return best[1]


def likely_in(
    sample: str, *, own: Mapping[str, str], delimiter: str | None, line: int | None, first_line: int = 1
) -> Heading | None:
    """The row of a text that looks most like a heading, where none is known; None if no row does."""
    given = delimiter or hinted_delimiter(sample)
    found = []
    for one in [given] if given else DELIMITERS.values():
        rows = sample_rows(sample, one, max(LIKELY_ROWS, line or 0) + 2)
        likely = likely_heading(rows, own, line, one, first_line=first_line)
        if likely:
            found.append(likely)
    best = max(found, key=lambda likely: (likely.score, len(likely.heading.cells)), default=None)
    return best.heading if best else None


def heading_in(
    rows: Sequence[Row],
    *,
    own: Mapping[str, str],
    line: int | None,
    delimiter: str,
    required: Collection[str] = REQUIRED_COLUMNS,
    first_line: int = 1,
) -> Heading | None:
    """The first row that names the required columns, alone or with the row below it; else that with the most known
    names. A row given by its line is used as it is, with a second line where it has one.

    Raises FileRejected (two_line_heading).
    """
    best: tuple[int, Heading] | None = None
    for number, here in _searched(rows, line, first_line):
        row = rows[number]
        columns = tuple(matched(cell, place, own) for place, cell in enumerate(row))
        names = _names(columns)
        found = Heading(number, columns, tuple(row), delimiter)
        if line is None and not names:
            continue
        is_whole = len(names) >= 2 and set(required) <= names and _is_mostly_words(row)
        if is_whole or line is not None:
            whole = _with_other_line(found, rows, here, own, required)
            if whole.known:
                return whole
            continue
        if number + 1 < len(rows):
            pair = _of_two(found, rows[number + 1], own, required)
            if pair:
                return pair
        if len(names) >= 2 and (best is None or len(names) > best[0]):
            best = (len(names), found)
    return best[1] if best else None


def _searched(rows: Sequence[Row], line: int | None, first_line: int) -> Iterator[tuple[int, int]]:
    """The places of the rows that may be the heading, each with its line."""
    here, cells = first_line, 0
    for number, row in enumerate(rows):
        if line is None:
            cells += len(row)
            if number >= SEARCHED_ROWS or (number and cells > SEARCHED_CELLS):
                return
            yield number, here
        elif here == line:
            yield number, here
            return
        here += height(row)


def _names(columns: Sequence[Column]) -> set[str]:
    """What the known columns name; a word with several meanings counts as one name."""
    return {
        column.field.name if column.field else " or ".join(column.meanings) for column in columns if column.is_known
    }


def _is_mostly_words(row: Row) -> bool:
    cells = filled_cells(row).values()
    return sum(map(starts_as_number, cells)) * 4 <= len(cells)


def _with_other_line(
    found: Heading, rows: Sequence[Row], line: int, own: Mapping[str, str], required: Collection[str]
) -> Heading:
    """A heading with its second line below it, or with the groups above it, where it has one of these."""
    row = rows[found.row]
    below = rows[found.row + 1] if found.row + 1 < len(rows) else []
    joined = with_second_line(row, below, own, required)
    if joined and joined.gained and not joined.unclear:
        return _two_lines(found.row + 1, joined.columns, (row, below), found.delimiter)
    if joined and found.known.keys() >= set(required) and units_in(below, found) is None:
        raise unclear_heading(joined, (line, line + height(row)))
    above = rows[found.row - 1] if found.row else []
    columns = with_groups_above(above, row, own)
    return _two_lines(found.row, columns, (above, row), found.delimiter) if columns else found


def _of_two(upper: Heading, below: Row, own: Mapping[str, str], required: Collection[str]) -> Heading | None:
    """The heading that two rows are together, where neither alone names the required columns."""
    if not upper.known:
        return None
    joined = with_second_line(list(upper.cells), below, own, tuple(required))
    if joined is None or joined.unclear:
        return None
    return _two_lines(upper.row + 1, joined.columns, (list(upper.cells), below), upper.delimiter)


def _two_lines(row: int, columns: Sequence[Column], written: tuple[Row, Row], delimiter: str) -> Heading:
    cells = tuple(column.heading for column in columns)
    return Heading(row, tuple(columns), cells, delimiter, tuple(tuple(one) for one in written))


def no_heading(line: int | None) -> FileRejected:
    return rejected(
        "no_heading",
        "no row has known headings" if line is None else "that line has no known headings",
        line=line,
        remedy=f"Is it a table of notes? Name the line of the headings with {typed(ReadingOption.HEADER_LINE)} and the "
        f"columns with {typed(ReadingOption.COLUMNS)}, or start from 'bevelbook import --template'.",
    )


def no_heading_within(lines: LineRange, count: int) -> FileRejected:
    """The fault of lines that were asked for without a heading among them, in a file of ``count`` lines."""
    has = f"the file has {counted(count, 'line')}"
    if lines.first > count:
        what = f"{has}, so there is none from {lines.first} to {lines.last}"
        remedy = f"The lines begin with that of the headings: {typed_with(ReadingOption.LINES, f'1-{max(count, 1)}')}."
    else:
        what = f"lines {lines.first} to {lines.last} have no row with known headings; {has}"
        remedy = (
            "The headings have to be among the lines: begin with the line of the headings, "
            f"{typed(ReadingOption.LINES)}. Say what unknown headings mean with {typed(ReadingOption.COLUMNS)}."
        )
    return rejected("no_heading", what, remedy=remedy)


def units_in(row: Row, heading: Heading, *, is_next: bool = False) -> dict[int, str] | None:
    """The cells of a row of units by place, if the row is one: units alone; or, where days and diffs are left empty,
    words with a unit among those under numbers. One that cannot be used is among them.

    A row that is next to the heading may have words under the days and the diffs too, if most of those under numbers
    are units.
    """
    cells = {place: cell for place, cell in filled_cells(row).items() if cell.lower() not in NUMBER_MISSING}
    said = _under_numbers(cells, heading)
    units = sum(map(looks_like_unit, said.values()))
    if not units:
        return None
    if all(looks_like_unit(cell.strip("()[]")) for cell in cells.values()):
        return said
    if not has_words_only(row):
        return None
    has_day, has_diff = _has_day_or_diff(cells, heading)
    if has_day:
        return said if is_next and units * 2 > len(said) else None
    return None if has_diff else said


def _unknown_units(row: Row, heading: Heading) -> dict[int, str] | None:
    """The cells of a row below the heading that is words only, with single words under numbers and none under days and
    diffs: units that nobody knows."""
    cells = {place: cell for place, cell in filled_cells(row).items() if cell.lower() not in NUMBER_MISSING}
    said = _under_numbers(cells, heading)
    if not said or not has_words_only(row) or any(_has_day_or_diff(cells, heading)):
        return None
    return said if all(len(word.split()) == 1 for word in said.values()) else None


def _under_numbers(cells: Mapping[int, str], heading: Heading) -> dict[int, str]:
    quantities = {column.place for column in heading.columns if column.field and column.field.kind == "quantity"}
    return {place: cell.strip("()[]") for place, cell in cells.items() if place in quantities}


def _has_day_or_diff(cells: Mapping[int, str], heading: Heading) -> tuple[bool, bool]:
    """Whether something is under the days, other than how to write one, and whether something is under the diffs."""
    day, diff = (heading.known.get(name) for name in REQUIRED_COLUMNS)
    has_day = day is not None and day.place in cells and not _DAY_PATTERN.issuperset(cells[day.place].casefold())
    return has_day, diff is not None and diff.place in cells
