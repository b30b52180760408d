"""A table given another shape before its rows are read: one value for the whole file, cells as above, runs counted
beside their days.

What is changed is changed cell by cell in the rows below the heading, and in the heading; everything behind reads the
table as if it had been written so. A row keeps its line, and a rejected row is kept, and written out, in the new shape.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final, Protocol

from bevelbook.declare.counting import counted
from bevelbook.notes.decoding import FileRejected, rejected
from bevelbook.notes.headings import Column, Heading
from bevelbook.notes.heats import ORDER, HeatsBesideDays, word_of_heats
from bevelbook.notes.note_columns import BY_NAME
from bevelbook.notes.settings import Settings
from bevelbook.notes.summaries import sums_up
from bevelbook.notes.table import Block, Row
from bevelbook.notes.wording import IMPORT_OPTIONS
from bevelbook.reading.faults import trimmed
from bevelbook.reading.heading_words import folded
from bevelbook.reading.labels import is_ditto
from bevelbook.reading.options import ReadingOption

_NEVER_ABOVE: Final = ""


class Reshape(Protocol):
    """One change of the rows below the heading."""

    def blocks(self, blocks: Iterator[Block]) -> Iterator[Block]:
        """The blocks, changed; may be called more than once, each time from the first block on."""

    def warnings(self) -> list[str]:
        """What the last pass over the blocks did, as warnings of the file."""


class SameForAll:
    """Columns that the file does not have, each with one value for all rows, behind its own columns."""

    def __init__(self, heading: Heading, cells: Mapping[str, str]) -> None:
        self.width, self.needed = len(heading.cells), heading.width
        self.cells = list(cells.values())

    def blocks(self, blocks: Iterator[Block]) -> Iterator[Block]:
        """Rows that lack cells stay as they are, so that they are reported as what they are in the file."""
        width, needed, cells = self.width, self.needed, self.cells
        for block in blocks:
            rows = [
                row[:width] + cells + row[width:]
                if len(row) >= width
                else row + [""] * (width - len(row)) + cells
                if len(row) >= needed
                else row
                for row in block.rows
            ]
            yield block._replace(rows=rows)

    def warnings(self) -> list[str]:
        return []


class FilledFromAbove:
    """Blank cells and ditto marks of some columns take the cell of the row above, within the table."""

    def __init__(self, heading: Heading, names: Sequence[str]) -> None:
        known = heading.known
        self.names = [name for name in names if name in known]
        self.places = [known[name].place for name in self.names]
        self.needed = heading.width
        self.header_rows = heading.rows_folded()
        self.day, self.diff, self.builder = (
            known[name].place if name in known else None for name in ("date", "diff", "builder")
        )
        self.rows_filled = 0

    def blocks(self, blocks: Iterator[Block]) -> Iterator[Block]:
        """A repeated heading is a boundary: below it nothing is taken from above it. A sum gives nothing, and takes
        nothing but the day, and that only where its word has the place of the diff: so it is judged as the other rows
        of its day are, and rejected."""
        self.rows_filled = 0
        above = dict.fromkeys(self.places, _NEVER_ABOVE)
        for block in blocks:
            yield block._replace(rows=[self._filled(row, above) for row in block.rows])

    def warnings(self) -> list[str]:
        return (
            [f"filled_from_above:{', '.join(self.names)} in {counted(self.rows_filled, 'row')}"]
            if self.rows_filled
            else []
        )

    def _filled(self, row: Row, above: dict[int, str]) -> Row:
        if len(row) < self.needed or not any(map(trimmed, row)):
            return row
        if self._sums_up(row):
            return self._with_day(row, above)
        if tuple(folded(cell) for cell in row[: self.needed]) in self.header_rows:
            above.update(dict.fromkeys(self.places, _NEVER_ABOVE))
            return row
        is_changed = False
        for place in self.places:
            cell = row[place]
            if trimmed(cell) and not is_ditto(cell):
                above[place] = cell
            elif above[place]:
                if not is_changed:
                    row, is_changed = [*row], True
                row[place] = above[place]
        self.rows_filled += is_changed
        return row

    def _with_day(self, row: Row, above: Mapping[int, str]) -> Row:
        """A row that sums up, with the day from above where it names something in place of the diff."""
        day, diff = self.day, self.diff
        if day is None or diff is None or trimmed(row[day]) or not trimmed(row[diff]) or not above.get(day):
            return row
        self.rows_filled += 1
        return [*row[:day], above[day], *row[day + 1 :]]

    def _sums_up(self, row: Row) -> bool:
        if self.builder is not None and trimmed(row[self.builder]):
            return False
        cells = [row[place] for place in (self.day, self.diff) if place is not None]
        first = next((cell for cell in row if trimmed(cell)), "")
        return any(sums_up(trimmed(cell)) for cell in (cells if any(map(trimmed, cells)) else [*cells, first]))


def reshaped(
    heading: Heading, settings: Settings, line: int, sample: Sequence[Row]
) -> tuple[Heading, tuple[Reshape, ...]]:
    """The heading as the settings and its first rows change it, and the changes of the rows below it, in order.

    Raises FileRejected (option_misfit) where an option names a column that the file does not have, or gives one that it
    has.
    """
    steps: list[Reshape] = []
    if settings.as_above:
        missing = [name for name in settings.as_above if name not in heading.known]
        if missing:
            raise _misfit(ReadingOption.AS_ABOVE, f"the file has no column for {' and '.join(missing)}", line)
        steps.append(FilledFromAbove(heading, settings.as_above))
    if settings.constants:
        twice = [heading.known[name].heading for name in settings.constants if name in heading.known]
        if twice:
            raise _misfit(ReadingOption.CONSTANT, "the file has that column itself", line, found=", ".join(twice))
        steps.append(SameForAll(heading, settings.constants))
        heading = _with_columns(heading, settings.constants)
    word = word_of_heats(heading, sample)
    if word is not None:
        if ORDER not in heading.known:
            steps.append(SameForAll(heading, {ORDER: ""}))
            heading = _with_columns(heading, {ORDER: ""})
        steps.append(HeatsBesideDays(heading, word))
    return heading, tuple(steps)


def _with_columns(heading: Heading, names: Mapping[str, str]) -> Heading:
    """The heading with more columns behind its own."""
    width = len(heading.cells)
    columns = (
        Column(place, name, BY_NAME[name], "" if BY_NAME[name].kind == "quantity" else None)
        for place, name in enumerate(names, width)
    )
    return heading._replace(
        columns=(*heading.columns, *columns), cells=(*heading.cells, *names), added=heading.added + len(names)
    )


def _misfit(option: ReadingOption, what: str, line: int, *, found: str | None = None) -> FileRejected:
    name = IMPORT_OPTIONS[option].name
    return rejected(
        "option_misfit",
        f"{name}: {what}",
        line=line,
        found=found,
        remedy=f"Leave it out of {name} (in a profile, {option.value}), or correct the heading.",
    )
