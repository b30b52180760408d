"""Cells with one value for each place in the car, split as a profile says: 7k/10k for front and rear.

A file is read once for each place, as a part of its own: in the part of a place each split cell has the value of that
place, and the column ``position`` is the place. Everything behind the table reads it as if it had been written so:
decimal marks, orders of dates and units are settled by the values of that place alone. A rejected row is kept, and
written out, in the shape of its part.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from bevelbook.notes.cells import SheetDay, SheetFormula, UnsplitCell
from bevelbook.notes.decoding import FileRejected, rejected
from bevelbook.notes.headings import IGNORED, Column, Heading, without_unit
from bevelbook.notes.note_columns import BY_NAME, making
from bevelbook.notes.split_rule import BOTH, SplitRule
from bevelbook.notes.table import BLOCK_ROWS, Block, CellFinding, NoteTable, Row
from bevelbook.notes.wording import mapped
from bevelbook.reading.faults import trimmed
from bevelbook.reading.heading_words import folded
from bevelbook.reading.labels import plain_label
from bevelbook.records.building import Build, Weighing

POSITION: Final = "position"
_CACHED_SPELLINGS: Final = 100_000
_NEVER_SPLIT: Final = ("date", POSITION)


class SplitTable:
    """The rows of a table with the values of one place in the columns that are split.

    Raises FileRejected (option_misfit) for a place that the rule does not have.
    """

    def __init__(self, table: NoteTable, heading: Heading, rule: SplitRule, place: str) -> None:
        self.table, self.rule, self.place = table, rule, place
        self.first_row = heading.row + 1
        if place not in rule.into:
            raise _misfit(f"this is the part of {place}, and the profile splits into {rule.words}", None, place)
        self.index = rule.into.index(place)
        columns = [(name, column_of(heading, name)) for name in rule.columns]
        self.missing = [name for name, column in columns if column is None]
        self.values = {column.place: _Values(self, column.heading) for _, column in columns if column}

    @property
    def date_base(self) -> int | None:
        return self.table.date_base

    def progress(self) -> tuple[int, int]:
        return self.table.progress()

    def findings(self) -> Iterable[CellFinding]:
        return self.table.findings()

    def outside(self) -> Iterator[tuple[int, Row]]:
        return self.table.outside()

    def blocks(self, block_rows: int = BLOCK_ROWS) -> Iterator[Block]:
        seen = 0
        for block in self.table.blocks(block_rows):
            above = max(self.first_row - seen, 0)
            seen += len(block.rows)
            for values in self.values.values():
                values.trim()
            yield block._replace(rows=[*block.rows[:above], *map(self._split, block.rows[above:])])

    def settle(self, heading: Heading, line: int) -> list[str]:
        """Check the rule against the columns as they are understood; returns the warnings of the file.

        Raises FileRejected (option_misfit) for a column that the file does not have or that cannot be split, and where
        one diff would be in two places.
        """
        known = heading.known
        if self.missing:
            headings = ", ".join(column.heading for column in heading.columns if column.heading)
            raise _misfit(f"the sheet has no column {' and no column '.join(self.missing)}", line, headings)
        for name in _NEVER_SPLIT:
            if name in known and known[name].place in self.values:
                what = f"the column is the {BY_NAME[name].words}, which is one for all of {self.rule.words}"
                raise _misfit(what, line, known[name].heading)
        if POSITION in known:
            raise rejected(
                "option_misfit",
                "split: the sheet has a column for the position itself",
                line=line,
                found=known[POSITION].heading,
                remedy=f"Leave that column out, {mapped(known[POSITION].heading, IGNORED)}, or the section split.",
            )
        if "diff" in known and known["diff"].place in self.values:
            self.values[known["diff"].place].are_diffs = True
        elif "diff" in known and self.rule.diffs:
            raise rejected(
                "option_misfit",
                "split: the profile gives the diffs, and the sheet has a column for them",
                line=line,
                found=known["diff"].heading,
                remedy=f'Name it in "columns" of split, or leave it out: {mapped(known["diff"].heading, IGNORED)}.',
            )
        elif not self.rule.diffs:
            diffs = ", ".join(f"{place}: {place[0].upper()}-01" for place in self.rule.into)
            cell = self.rule.at.join(f"{place[0].upper()}-01" for place in self.rule.into)
            raise rejected(
                "option_misfit",
                f"split: one diff cannot be at {self.rule.words}",
                line=line,
                found=known["diff"].heading if "diff" in known else None,
                remedy=f'Name the column of the diffs in "columns" of split, with cells such as {cell}; or give the '
                f"diff of each place in the profile, below split: diffs: {{{diffs}}}.",
            )
        return [
            f"same_at_each_place:{column.heading}"
            for name in (*making(Build), *making(Weighing))
            if (column := known.get(name)) is not None and column.place not in self.values
        ]

    def _split(self, row: Row) -> Row:
        width = len(row)
        row = [*row]
        for place, values in self.values.items():
            if place < width:
                row[place] = values[row[place]]
        return row


class _Values(dict[str, str]):
    """What each spelling of one column is at the place."""

    def __init__(self, table: SplitTable, heading: str) -> None:
        super().__init__()
        self.rule, self.index, self.place = table.rule, table.index, table.place
        self.heading = folded(heading)
        self._are_diffs = False

    @property
    def are_diffs(self) -> bool:
        """Whether the column names diffs, which are in one place only."""
        return self._are_diffs

    @are_diffs.setter
    def are_diffs(self, value: bool) -> None:
        self._are_diffs = value
        self.clear()

    def trim(self) -> None:
        """Forget all spellings once there are many."""
        if len(self) > _CACHED_SPELLINGS:
            self.clear()

    def __missing__(self, text: str) -> str:
        value = self[text] = self._value(text)
        return value

    def _value(self, text: str) -> str:
        """The value at the place. A blank cell stays blank, and a heading that comes again stays a heading."""
        if not trimmed(text) or isinstance(text, SheetFormula) or folded(text) == self.heading:
            return text
        values = [trimmed(value) for value in plain_label(str(text)).split(self.rule.at)]
        if len(values) == 1 and self.rule.is_for_both and not self.are_diffs:
            return text
        if len(values) != len(self.rule.into):
            return self._unsplit(text, len(values))
        if self.are_diffs and values[self.index] and values.count(values[self.index]) > 1:
            return UnsplitCell(text, f"one diff cannot be at {self.rule.words}", self._remedy())
        return values[self.index]

    def _unsplit(self, text: str, count: int) -> UnsplitCell:
        if isinstance(text, SheetDay):
            what = f"a day, as a spreadsheet makes it of 7/10, and not one value for {self.rule.words}"
        elif count == 1:
            what = f'one value, where the profile wants one for {self.rule.words} with "{self.rule.at}" between'
        else:
            what = f"{count} values, and the profile splits into {self.rule.words}"
        may_be_alone = count == 1 and not self.are_diffs and not self.rule.is_for_both
        return UnsplitCell(text, what, self._remedy(may_be_alone))

    def _remedy(self, may_be_alone: bool = False) -> str:
        types = f"Type one for each in the sheet, or only that of {self.place} in the file of rejected rows"
        return f"{types}, or say in the profile, below split, that it is for all: alone: {BOTH}." * may_be_alone or (
            f"{types}."
        )


def is_split(heading: Heading) -> bool:
    """Whether a file is one of rejected rows of a part, which are split already."""
    return heading.line_before is not None and POSITION in heading.known


def refuse_splitting_later() -> FileRejected:
    """The fault of a file that was imported whole, and is to be read again in parts."""
    return rejected(
        "option_misfit",
        "split: the file was imported whole",
        remedy="Take that import back by its number, which 'bevelbook history' lists; then import the file with the "
        "profile.",
    )


def column_of(heading: Heading, name: str) -> Column | None:
    """The column by its heading, by its heading without the unit, or by what it means."""
    low = folded(name)
    columns = [column for column in heading.columns if column.heading]
    for is_named in (
        lambda one: folded(one.heading) == low,
        lambda one: without_unit(one.heading) == low,
        lambda one: one.field is not None and folded(one.field.name) == low,
    ):
        found = next(filter(is_named, columns), None)
        if found is not None:
            return found
    return None


def _misfit(what: str, line: int | None, found: str | None = None) -> FileRejected:
    return rejected(
        "option_misfit",
        f"split: {what}",
        line=line,
        found=found,
        remedy='Correct "columns" or "into" of the section split of the profile, or the heading of the sheet.',
    )
