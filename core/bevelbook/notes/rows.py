"""Blocks of text rows to blocks of values: what is accepted, what is left out and why. A row is accepted whole or
not."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import compress
from operator import add, sub
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.formulas.mass_agreement import EXACT_G, is_mismatch, mass_fault, mass_gap_g
from bevelbook.notes.cells import typed_cells
from bevelbook.notes.columns import CACHED_SPELLINGS, Cells, Fault
from bevelbook.notes.headings import Heading, beside
from bevelbook.notes.layout import units_in
from bevelbook.notes.note_columns import MASSES, NAMES
from bevelbook.notes.other_tables import HeadingTest
from bevelbook.notes.row_words import is_plain_words, other_delimiter
from bevelbook.notes.summaries import DOUBTED, is_certain, may_be_label, sums_up
from bevelbook.notes.table import Block, Row
from bevelbook.reading.faults import has_control_character, trimmed

_END_OF_FILE: Final = "\x1a"
"""What old programs write as the last character of a text (Ctrl-Z)."""


Watched = Sequence[tuple[Callable[[Sequence[str]], None], int]]
"""A function that wants to see a column's cells, with the column's place."""


class LeftRow(NamedTuple):
    """A line that was rejected or skipped."""

    line: int
    status: str
    reason: str
    column: str | None
    value: str | None
    words: str | None
    raw: Sequence[str]


class Taken(NamedTuple):
    """The result of one block: the accepted rows as columns (absent ones left out), and everything else."""

    lines: list[int]
    columns: dict[str, list[object]]
    left: list[LeftRow]
    findings: list[tuple[int, str]]
    extras: list[tuple[int, str]]
    mass_gaps: list[tuple[int, float]]
    corrected: list[tuple[int, int, Sequence[str]]]
    """Rows of a file of rejected rows: their line, the line that each had before, and its cells."""


class RowReader:
    """Reads the rows below the heading, block by block."""

    def __init__(
        self,
        heading: Heading,
        cells: Mapping[str, Cells],
        watched: Watched = (),
        units: Mapping[int, str] | None = None,
    ) -> None:
        self.heading = heading
        self.units = units
        """The row of units by place, which may come again below a repeated heading."""
        self.cells = cells
        self.watched = watched
        self.width = len(heading.cells)
        self.added = heading.added
        self.own_width = self.width - heading.added
        self.needed = heading.width
        self.line_before = heading.line_before
        self.of_rejects = set() if heading.line_before is None else {c.place for c in heading.columns if beside(c)}
        """The places of the columns that a file of rejected rows has beside those of its sheet."""
        self.places = [(name, heading.known[name].place) for name in NAMES if name in heading.known]
        self.unknown_columns = [c for c in heading.columns if c.field is None and not beside(c)]
        self.numbers = heading.numbers
        self.heading_test = HeadingTest(heading)
        self.units_below: dict[int, dict[int, str]] = {}
        """Rows of units that say others than those in which the numbers are read, by line."""
        self.may_be_heading = False
        """Whether a row that was left out may be the heading of another table."""
        self.places_of = dict(self.places)
        self._judged: set[object] = set()
        """The labels of diffs that were judged, of which ``_sums`` are words such as total."""
        self._sums: set[object] = set()

    def read(self, block: Block) -> Taken:
        taken = self._read(block)
        self.may_be_heading = self.may_be_heading or any(
            one.status == "rejected" and self.heading_test.may_be_heading(self._as_written(one.raw))
            for one in taken.left
        )
        return taken._replace(left=[one._replace(raw=typed_cells(one.raw, self.numbers)) for one in taken.left])

    def _read(self, block: Block) -> Taken:
        left = [
            LeftRow(one.line, "rejected", "malformed_quotes", None, None, one.words, one.cells) for one in block.broken
        ]
        rows, lines = block.rows, block.lines
        if set(map(len, rows)) - {self.width}:
            rows, lines = self._evened(rows, lines, left)
        if not rows:
            return Taken([], {}, left, [], [], [], [])
        turned = list(zip(*rows, strict=True))
        for cells in self.cells.values():
            cells.trim()
        for look, place in self.watched:
            look(turned[place])
        columns: dict[str, list[object]] = {
            name: list(map(self.cells[name].__getitem__, turned[place])) for name, place in self.places
        }
        faults = self._faults(columns)
        for index in self._summed_up(turned, columns, faults):
            faults[index] = Fault("summary_row", "diff", turned[self.places_of["diff"]][index], DOUBTED)
        if faults:
            for index in sorted(faults):
                left.append(self._left_out(rows[index], lines[index], faults[index]))
        mismatched, gaps = self._balance(columns, lines, faults)
        for index, fault in mismatched.items():
            left.append(self._rejected(rows[index], lines[index], fault))
        dropped = faults.keys() | mismatched.keys()
        kept = [index not in dropped for index in range(len(rows))] if dropped else None
        findings = list(self._findings(turned, lines, kept))
        extras = list(self._extras(turned, lines, kept))
        corrected = list(self._corrected(rows, lines, kept))
        if kept:
            columns = {name: list(compress(values, kept)) for name, values in columns.items()}
            lines = list(compress(lines, kept))
        return Taken(list(lines), columns, left, findings, extras, gaps, corrected)

    def _as_written(self, row: Sequence[str]) -> Sequence[str]:
        """A row without the cells of columns that the file does not have."""
        return [*row[: self.own_width], *row[self.width :]] if self.added else row

    def _faults(self, columns: Mapping[str, list[object]]) -> dict[int, Fault]:
        faults: dict[int, Fault] = {}
        for name, _ in self.places:
            if self.cells[name].faulty:
                for index, value in enumerate(columns[name]):
                    if value.__class__ is Fault and index not in faults:
                        faults[index] = value
        return faults

    def _summed_up(
        self, turned: Sequence[Sequence[str]], columns: Mapping[str, list[object]], faults: Mapping[int, Fault]
    ) -> list[int]:
        """The rows with a day, without a builder, and with a word such as total where the diff should be."""
        if "diff" not in columns:
            return []
        here = set(columns["diff"])
        if len(self._judged) > CACHED_SPELLINGS:
            self._judged.clear()
        self._sums |= {label for label in here - self._judged if isinstance(label, str) and sums_up(label)}
        self._judged |= here
        labels = self._sums & here
        if not labels:
            return []
        return [
            index
            for index, label in enumerate(columns["diff"])
            if label in labels and index not in faults and not self._has_builder([texts[index] for texts in turned])
        ]

    def _cell(self, row: Sequence[str], name: str) -> str:
        """What a row has in a column; empty if it has none."""
        place = self.places_of.get(name)
        return trimmed(row[place]) if place is not None and place < len(row) else ""

    def _has_builder(self, row: Sequence[str]) -> bool:
        """Whether a row names its builder; one that is given for the whole file does not count."""
        return self.places_of.get("builder", self.width) < self.own_width and bool(self._cell(row, "builder"))

    def _evened(self, rows: list[Row], lines: Sequence[int], left: list[LeftRow]) -> tuple[list[Row], list[int]]:
        """Rows of the heading's width; the others are explained in ``left``."""
        even: list[Row] = []
        even_lines: list[int] = []
        for row, line in zip(rows, lines, strict=True):
            if len(row) != self.width:
                fault = self._odd(row)
                if fault is not None:
                    left.append(fault._replace(line=line))
                    continue
                row = (row + [""] * (self.width - len(row)))[: self.width]
            even.append(row)
            even_lines.append(line)
        return even, even_lines

    def _odd(self, row: Row) -> LeftRow | None:
        """Why a row of the wrong width is left out; None if only empty cells at the end are missing or extra."""
        filled = [cell for cell in row if trimmed(cell)]
        if not filled:
            return LeftRow(0, "skipped", "blank", None, None, None, row)
        if len(row) > self.width and any(trimmed(cell) for cell in row[self.width :]):
            words = f"{self._counts(row)}. Put text with the delimiter in it in quotes."
            return LeftRow(0, "rejected", "too_many_fields", None, None, words, row)
        if len(row) >= self.needed:
            return None
        skipped = self._skipped(row, 0)
        if skipped:
            return skipped
        if len(filled) == 1 and len(row) == 1:
            return self._single(row, filled[0])
        words = f"{self._counts(row)}. Add the missing cells."
        return LeftRow(0, "rejected", "too_few_fields", None, None, words, row)

    def _counts(self, row: Row) -> str:
        """How many fields a row and the heading have, in words, without those that the sheet itself does not have."""
        is_wide = len(row) > self.width
        has = len(row) - (self.added if is_wide else 0) - sum(place < len(row) for place in self.of_rejects)
        return f"{counted(has, 'field')}, and the heading has {self.own_width - len(self.of_rejects)}"

    def _left_out(self, row: Row, line: int, fault: Fault) -> LeftRow:
        """A row with a cell that was not accepted: blank, a repeated heading, a sum, or a rejected row."""
        if fault.column in ("date", "diff") and fault.reason != "summary_row":
            skipped = self._skipped(row, line)
            if skipped:
                return skipped
        return self._rejected(row, line, fault)

    def _skipped(self, row: Row, line: int) -> LeftRow | None:
        own = row[: self.own_width]
        filled = [trimmed(cell) for cell in own if trimmed(cell)]
        if not filled:
            return LeftRow(line, "skipped", "blank", None, None, None, row)
        if self.heading_test.is_repeated(own):
            return LeftRow(line, "skipped", "repeated_header", None, None, None, row)
        units = units_in(own, self.heading)
        if units:
            if units == self.units or self._are_known(units):
                return LeftRow(line, "skipped", "units_row", None, None, None, row)
            self.units_below.setdefault(line, units)
        left = self._summary(own, filled, line)
        return left._replace(raw=row) if left else None

    def _are_known(self, units: Mapping[int, str]) -> bool:
        """Whether units are those in which the numbers are read, or a profile says the units."""
        return all(self.cells[name].is_read_in(units[place]) for name, place in self.places if place in units)

    def _summary(self, row: Row, filled: Sequence[str], line: int) -> LeftRow | None:
        """A row that sums up others: the word is where the day or the diff should be, or comes first where both are
        missing. Never by the name of a builder, and in doubt where the word may be the label of a diff."""
        day, diff = self._cell(row, "date"), self._cell(row, "diff")
        if self._has_builder(row):
            return None
        word = next((cell for cell in (day, diff) if sums_up(cell)), "")
        if not word and not day and not diff and sums_up(filled[0]):
            word = filled[0]
        if not word:
            return None
        is_doubted = word == diff and (bool(day) or may_be_label(word))
        if not is_doubted and is_certain(cell for cell in filled if cell != word):
            return LeftRow(line, "skipped", "summary_row", None, word, None, row)
        column = "diff" if word == diff else "date"
        return LeftRow(line, "rejected", "summary_row", column, word, DOUBTED, row)

    def _single(self, row: Row, text: str) -> LeftRow:
        """A line with a single text: a footer if it is plain words, else rejected, unless it is a mark of the end of
        the file, or was never written."""
        if not text.strip(_END_OF_FILE):
            return LeftRow(0, "skipped", "end_mark", None, None, None, row)
        if has_control_character(text):
            words = "control characters and nothing else to read: the end of the file may be lost. Save it again."
            return LeftRow(0, "rejected", "control_character", None, text, words, row)
        if is_plain_words(text, self.heading.delimiter):
            return LeftRow(0, "skipped", "footer", None, text, None, row)
        other = other_delimiter(text, self.heading.delimiter)
        has = self._counts(row)
        words = f"{has}. Add the missing cells, or take the line out if it is only a remark."
        if other:
            words = f"{has}: the cells of this line are separated by another sign ({other}). Separate them as in the "
            words += "heading."
        return LeftRow(0, "rejected", "too_few_fields", None, text, words, row)

    def _rejected(self, row: Row, line: int, fault: Fault) -> LeftRow:
        return LeftRow(line, "rejected", fault.reason, fault.column, fault.value or None, fault.words, row)

    def _balance(
        self, columns: Mapping[str, list[object]], lines: Sequence[int], faults: Mapping[int, Fault]
    ) -> tuple[dict[int, Fault], list[tuple[int, float]]]:
        """Rows whose three masses do not agree, and the gaps of those that nearly do."""
        if "total_mass_g" not in columns:
            return {}, []
        count = len(lines)
        dry, oil, total = (columns.get(name) or [None] * count for name in MASSES)
        if not faults:
            try:
                gaps = list(map(sub, total, map(add, dry, oil)))
                if max(gaps) < EXACT_G and min(gaps) > -EXACT_G:
                    return {}, []
            except TypeError:
                pass
        mismatched: dict[int, Fault] = {}
        found: list[tuple[int, float]] = []
        for index, (d, o, t) in enumerate(zip(dry, oil, total, strict=True)):
            if not isinstance(t, float) or not isinstance(d, float) or index in faults:
                continue
            if isinstance(o, float):
                gap = mass_gap_g(d, o, t)
                if not is_mismatch(gap):
                    if abs(gap) > EXACT_G:
                        found.append((lines[index], gap))
                    continue
            fault = mass_fault(d, o if isinstance(o, float) else None, t)
            if fault is not None:
                words = f"{fault.words}. {fault.remedy}"
                mismatched[index] = Fault(fault.code, "total_mass_g", f"{t:g}", words)
        return mismatched, found

    def _findings(
        self, turned: Sequence[Sequence[str]], lines: Sequence[int], kept: Sequence[bool] | None
    ) -> Iterator[tuple[int, str]]:
        for name, place in self.places:
            found = self.cells[name].findings
            if not found:
                continue
            for index, text in enumerate(turned[place]):
                if text in found and (kept is None or kept[index]):
                    for code in found[text]:
                        yield lines[index], code

    def _corrected(
        self, rows: Sequence[Row], lines: Sequence[int], kept: Sequence[bool] | None
    ) -> Iterator[tuple[int, int, Sequence[str]]]:
        place = self.line_before
        if place is None:
            return
        for index, row in enumerate(rows):
            text = trimmed(row[place])
            if (kept is None or kept[index]) and text.isascii() and text.isdecimal():
                yield lines[index], int(text), row

    def _extras(
        self, turned: Sequence[Sequence[str]], lines: Sequence[int], kept: Sequence[bool] | None
    ) -> Iterator[tuple[int, str]]:
        """Cells of unknown columns, as JSON with their line."""
        columns = [(c.heading or f"column {c.place + 1}", turned[c.place]) for c in self.unknown_columns]
        if not columns:
            return
        for index, line in enumerate(lines):
            if kept is not None and not kept[index]:
                continue
            cells = {head: text for head, texts in columns if trimmed(text := texts[index])}
            if cells:
                yield line, json.dumps(cells, ensure_ascii=False)
