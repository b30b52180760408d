"""Text to rows: the delimiter, the lines before the heading, and blocks of rows with their line numbers."""

from __future__ import annotations

import csv
import io
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from itertools import chain, islice, pairwise
from typing import BinaryIO, Final, NamedTuple, Protocol

from bevelbook.notes.decoding import FileRejected, rejected
from bevelbook.notes.line_range import LineRange
from bevelbook.notes.quotes import (
    cells_as_written,
    has_odd_quotes,
    left_open,
    looks_torn,
    only_reading,
    split_line,
    without_quotes_behind_blanks,
)

BLOCK_ROWS: Final = 10_000
BLOCK_CELLS: Final = 2_000_000
CHUNK_CHARACTERS: Final = 250_000
BLOCK_CHARACTERS: Final = 10_000_000
"""Of the lines of a block: one of long texts has fewer rows, so that memory does not grow with the file."""
_SOME_LINES: Final = 64
SAMPLE_CHARACTERS: Final = 400_000
LONGEST_CELL: Final = 1_000_000
"""Characters of a cell, thirty times those that a sheet of a workbook has at most."""
_SHOWN_OF_LONG: Final = 200
DELIMITERS: Final = {"comma": ",", "semicolon": ";", "tab": "\t", "pipe": "|"}

Row = list[str]
MALFORMED: Final = "there is text after a closing quote. Double a quote that belongs to the text."
TORN: Final = (
    "a quote opens in one cell and closes in another. Put straight quotes around the whole cell, directly after the "
    "delimiter, or take it out of the text."
)
NOT_CLOSED: Final = (
    "a quote opens behind a blank and does not close in its row. Close it, and take out the blank before it, or take "
    "the quote out of the text."
)
LONGEST_QUOTE_ROWS: Final = 100
"""Rows that are looked at for the end of a quote that is not directly around its cell."""


class BrokenLine(NamedTuple):
    """A line that could not be split: why, and its text cut at every delimiter."""

    line: int
    words: str
    cells: Row


class Block(NamedTuple):
    """Some rows, each with its first line; ``broken`` are lines that could not be split."""

    rows: list[Row]
    lines: list[int] | range
    broken: list[BrokenLine]


class RecordShape(NamedTuple):
    """How the rows below a heading look, so that a record that is not one row is noticed.

    ``heading_row`` is the heading's place among the rows; ``width`` counts its cells, ``needed`` those up to the last
    with a heading. ``is_row`` says whether the cells of a single line are a row of the table.
    """

    heading_row: int
    width: int
    needed: int
    is_row: Callable[[Row], bool]

    def fits(self, row: Row) -> bool:
        """Whether a row has the cells of the heading; empty ones at the end may be missing, or more."""
        return self.needed <= len(row) and not any(cell.strip() for cell in row[self.width :])


class CellFinding(NamedTuple):
    """Something odd about how a sheet shows a cell: its code, its line and its column from 0; None for all of them."""

    code: str
    line: int | None
    place: int | None


class NoteTable(Protocol):
    """Rows of a file, to be read more than once."""

    def blocks(self, block_rows: int = BLOCK_ROWS) -> Iterator[Block]:
        """All rows from the first on, in blocks."""

    def progress(self) -> tuple[int, int]:
        """How much of the file was read and how much there is, 0 if unknown."""

    def findings(self) -> Iterable[CellFinding]:
        """What is odd about how cells are shown; asked after all rows were read."""

    @property
    def date_base(self) -> int | None:
        """The year that the file itself says its day numbers count from; None if it says none."""

    def outside(self) -> Iterator[tuple[int, Row]]:
        """The rows that are not read since they are not among the lines asked for."""


class TextTable:
    """A delimited text file. With ``blanks_go_before`` a blank after a delimiter does not belong to the cell; with
    ``lines`` only these are read, and those before them are empty rows."""

    def __init__(
        self,
        file: BinaryIO,
        encoding: str,
        delimiter: str,
        shape: RecordShape | None = None,
        *,
        blanks_go_before: bool = False,
        lines: LineRange | None = None,
    ) -> None:
        self.file = file
        self.encoding = encoding
        self.lines = lines
        self.delimiter = delimiter
        self.shape = shape
        self.blanks_go_before = blanks_go_before
        self.byte_count = file.seek(0, io.SEEK_END)

    date_base: int | None = None

    def progress(self) -> tuple[int, int]:
        return self.file.tell(), self.byte_count

    def findings(self) -> Iterable[CellFinding]:
        return ()

    def blocks(self, block_rows: int = BLOCK_ROWS) -> Iterator[Block]:
        """Raises FileRejected (unterminated_quote) if a quote is opened and not closed in its cell."""
        with _opened(self.file, self.encoding) as text, long_cells():
            read = self.lines.within(text) if self.lines else text
            records = _Records(read, self.delimiter, self.shape, blanks_go_before=self.blanks_go_before)
            while True:
                block = records.take(block_rows)
                if not block.rows and not block.broken:
                    return
                yield block

    def outside(self) -> Iterator[tuple[int, Row]]:
        """The lines that are not read, each with its number and its text."""
        if self.lines:
            with _opened(self.file, self.encoding) as text:
                for line, written in self.lines.outside(text):
                    yield line, [written]


class RowsWithin:
    """Some rows of a sheet; those before them are empty rows."""

    def __init__(self, table: NoteTable, lines: LineRange) -> None:
        self.table = table
        self.lines = lines

    @property
    def date_base(self) -> int | None:
        return self.table.date_base

    def progress(self) -> tuple[int, int]:
        return self.table.progress()

    def findings(self) -> Iterator[CellFinding]:
        """What is odd about these rows; asked after they were read."""
        for one in self.table.findings():
            if one.line is None or self.lines.first <= one.line <= self.lines.last:
                yield one

    def blocks(self, block_rows: int = BLOCK_ROWS) -> Iterator[Block]:
        for block in self.table.blocks(block_rows):
            count = bisect_right(block.lines, self.lines.last)
            empty = bisect_left(block.lines, self.lines.first)
            rows: list[Row] = [[] for _ in block.rows[:empty]] + block.rows[empty:count]
            if rows:
                yield Block(rows, block.lines[:count], [])
            if count < len(block.rows):
                return

    def outside(self) -> Iterator[tuple[int, Row]]:
        """The rows that are not read, each with its line."""
        for block in self.table.blocks():
            for line, row in zip(block.lines, block.rows, strict=True):
                if not self.lines.first <= line <= self.lines.last:
                    yield line, row


class _Paused(Exception):
    """Enough was read for a block. What asks for lines goes on where it was."""


class _Lines:
    """The physical lines of a text, handed on in chunks; those of the records being read are kept."""

    def __init__(self, text: Iterable[str]) -> None:
        self._text = text if isinstance(text, io.TextIOBase) else iter(text)
        self._kept: list[str] = []
        self._first = 1
        self.left: int | None = None
        """How many characters may be handed on until the next pause; None for all."""
        self.handed = chain.from_iterable(self)
        """The lines that were not handed on yet. Raises _Paused between two chunks; then :meth:`go_on`."""

    def go_on(self) -> None:
        """Hand on the rest without a pause."""
        self.left = None
        self.handed = chain.from_iterable(self)

    def __iter__(self) -> Iterator[list[str]]:
        return self

    def __next__(self) -> list[str]:
        if self.left is not None and self.left <= 0:
            raise _Paused
        text = self._text
        chunk = text.readlines(CHUNK_CHARACTERS) if isinstance(text, io.TextIOBase) else [*islice(text, _SOME_LINES)]
        if not chunk:
            raise StopIteration
        if self.left is not None:
            self.left -= sum(map(len, chunk))
        self._kept += chunk
        return chunk

    def between(self, line: int, behind: int) -> list[str]:
        """The lines from ``line`` up to the one before ``behind``."""
        return self._kept[line - self._first : behind - self._first]

    def forget(self, line: int) -> None:
        """Keep only the lines from ``line`` on."""
        del self._kept[: line - self._first]
        self._first = line


class _Fault(NamedTuple):
    """A record with wrong quotes: its first line, the line behind it, and whether its quote was left open."""

    line: int
    behind: int
    is_open: bool


class _Records:
    """The records of a text: rows of one line or of several, where quotes say so.

    A quote that is left open takes the rows below it into its cell, up to the next quote. So a record of several lines
    is refused if one of its inner lines is itself a row of the table, or if its quotes are wrong: the fault is where
    the quote opens. A single line whose quotes are wrong, or that does not fit the heading, is read in another way if
    exactly one fits (see :mod:`bevelbook.notes.quotes`); else it is broken.
    """

    def __init__(
        self, text: Iterable[str], delimiter: str, shape: RecordShape | None = None, *, blanks_go_before: bool = False
    ) -> None:
        self._lines = _Lines(text)
        self._delimiter = delimiter
        self._shape = shape
        self._blanks_go_before = blanks_go_before
        self._row_count = 0
        self._is_paused = False
        """Whether enough was read for the block in progress."""
        self._next_line = 1
        self._taken = 1
        """The line behind those that any reader took."""
        self._start(self._lines.handed, 1)

    def _start(self, lines: Iterable[str], first: int) -> None:
        self._reader = csv.reader(
            lines, delimiter=self._delimiter, strict=True, skipinitialspace=self._blanks_go_before
        )
        self._first_line = first

    def take(self, count: int) -> Block:
        """Up to so many rows more, fewer where they are long; an empty block at the end. Raises FileRejected
        (unterminated_quote)."""
        self._lines.forget(self._next_line)
        self._is_paused = False
        rows: list[Row] = []
        lines: list[int] | range = range(0)
        broken: list[BrokenLine] = []
        self._lines.left = BLOCK_CHARACTERS
        while len(rows) < count and not (self._is_paused and (rows or broken)):
            was_paused = self._is_paused
            wanted = 1 if was_paused else count - len(rows)
            got, got_lines, fault = self._read(wanted)
            is_end = fault is None and len(got) < wanted and self._is_paused is was_paused
            got, got_lines = self._with_odd_quotes(got, got_lines, broken)
            self._row_count += len(got)
            rows, lines = (rows + got, [*lines, *got_lines]) if rows else (got, got_lines)
            if fault is not None:
                row = self._read_again(fault, broken)
                if row is not None:
                    self._row_count += 1
                    rows, lines = [*rows, row], [*lines, fault.line]
            elif is_end:
                break
        return Block(rows, lines, broken)

    def _read(self, count: int) -> tuple[list[Row], list[int] | range, _Fault | None]:
        """The next rows with their lines, up to one with wrong quotes."""
        start, error = self._next_line, ""
        rows: list[Row] = []
        try:
            rows.extend(islice(self._reader, count))
        except csv.Error as fault:
            error = str(fault)
        except _Paused:
            return self._paused(rows, start)
        behind = self._first_line + self._reader.line_num
        self._taken = max(self._taken, behind)
        if not error and behind - start == len(rows):
            self._next_line = behind
            return rows, range(start, behind), None
        lines, end = _lines_of(rows, start)
        opened = self._open_quote([*lines, end])
        if opened is not None:
            self._next_line = lines[opened]
            following = lines[opened + 1] if opened + 1 < len(lines) else end
            return rows[:opened], lines[:opened], _Fault(lines[opened], following, True)
        self._next_line = end
        if not error:
            return rows, lines, None
        is_open = behind - end > 1 or "unexpected end" in error or "field larger" in error
        return rows, lines, _Fault(end, behind, is_open)

    def _paused(self, rows: list[Row], start: int) -> tuple[list[Row], list[int], _Fault | None]:
        """The rows that were whole before a pause; what was begun of the next is read again behind it."""
        self._is_paused = True
        self._lines.go_on()
        self._taken = max(self._taken, self._first_line + self._reader.line_num)
        lines, self._next_line = _lines_of(rows, start)
        opened = self._open_quote([*lines, self._next_line])
        fault = None
        if opened is not None:
            following = lines[opened + 1] if opened + 1 < len(lines) else self._next_line
            rows, lines, fault = rows[:opened], lines[:opened], _Fault(lines[opened], following, True)
            self._next_line = fault.line
        rest = self._lines.between(self._next_line, self._taken)
        self._start(chain(rest, self._lines.handed), self._next_line)
        return rows, lines, fault

    def _open_quote(self, lines: list[int]) -> int | None:
        """Which record has a row of the table inside; the last of the lines is the one behind all records."""
        if self._shape is None:
            return None
        for index, (line, following) in enumerate(pairwise(lines)):
            if following - line > 1:
                for text in self._lines.between(line + 1, following):
                    if self._delimiter in text and self._shape.is_row(self._row_inside(text)):
                        return index
        return None

    def _row_inside(self, text: str) -> Row:
        """The cells of a line inside a cell, without the quote that closes that cell."""
        plain = text.rstrip()
        if plain.endswith('"') and plain.count('"') % 2:
            plain = plain[:-1]
        return split_line(plain, self._delimiter)

    def _with_odd_quotes(
        self, rows: list[Row], lines: list[int] | range, broken: list[BrokenLine]
    ) -> tuple[list[Row], list[int] | range]:
        """The rows, with those read in another way whose quotes are not directly around their cells, and without those
        that are torn."""
        shape = self._shape
        if shape is None or not rows:
            return rows, lines
        odd: set[int] = set()
        texts = self._lines.between(lines[0], self._next_line)
        if has_odd_quotes("".join(texts), self._delimiter):
            odd = {
                bisect_right(lines, lines[0] + index) - 1
                for index, text in enumerate(texts)
                if has_odd_quotes(text, self._delimiter)
            }
        if 1 in set(map(len, rows)):
            odd |= {index for index, row in enumerate(rows) if len(row) == 1 and self._delimiter in row[0]}
        if not odd:
            return rows, lines
        torn: set[int] = set()
        behind = [*lines[1:], self._next_line]
        for index in sorted(odd):
            row, line, is_torn = rows[index], lines[index], looks_torn(rows[index])
            if index in torn or self._row_count + index <= shape.heading_row:
                continue
            closing = "" if is_torn else left_open(row)
            if closing:
                last = self._closing_row(rows, index, closing)
                whole = texts[line - lines[0] : behind[last or index] - lines[0]]
                joined = only_reading("".join(whole), self._delimiter, shape.fits) if last else None
                if joined is not None and last is not None:
                    rows[index] = joined
                    torn.update(range(index + 1, last + 1))
                elif last is not None or closing == '"':
                    torn.add(index)
                    own = "".join(texts[line - lines[0] : behind[index] - lines[0]])
                    broken.append(BrokenLine(line, NOT_CLOSED, cells_as_written(own, self._delimiter)))
                continue
            if not (len(row) == 1 or is_torn):
                continue
            tall = height(row)
            text = "".join(texts[line - lines[0] : line - lines[0] + tall])
            if shape.fits(row):
                if is_torn:
                    torn.add(index)
                    broken.append(BrokenLine(line, TORN, cells_as_written(text, self._delimiter)))
            elif tall == 1:
                rows[index] = only_reading(text, self._delimiter, shape.fits) or row
        if torn:
            kept = [index for index in range(len(rows)) if index not in torn]
            return [rows[index] for index in kept], [lines[index] for index in kept]
        return rows, lines

    def _closing_row(self, rows: list[Row], index: int, closing: str) -> int | None:
        """The row below in which a quote closes; None if another row of the table comes first."""
        for later in range(index + 1, min(len(rows), index + 1 + LONGEST_QUOTE_ROWS)):
            if self._shape is None or self._shape.is_row(rows[later]):
                return None
            if any(mark in cell for mark in closing for cell in rows[later]):
                return later
        return None

    def _read_again(self, fault: _Fault, broken: list[BrokenLine]) -> Row | None:
        """A single line with wrong quotes in its one other reading, or None; reading goes on behind that line."""
        line, shape = fault.line, self._shape
        text = self._lines.between(line, line + 1)[0]
        row = None
        if shape is not None and self._row_count > shape.heading_row:
            row = only_reading(text, self._delimiter, shape.fits)
        if row is None and fault.is_open:
            raise open_quote(line, text, fault.behind)
        if row is None:
            broken.append(BrokenLine(line, MALFORMED, cells_as_written(text, self._delimiter)))
        self._next_line = line + 1
        if fault.behind > self._next_line:
            rest = self._lines.between(self._next_line, self._taken)
            self._start(chain(rest, self._lines.handed), self._next_line)
        return row


def open_quote(line: int, text: str, behind: int | None = None) -> FileRejected:
    """The fault of a quote that takes the lines below it into its cell, up to the line before ``behind``."""
    last = behind - 1 if behind is not None else line
    if len(text) > LONGEST_CELL:
        return rejected(
            "unterminated_quote",
            f"a cell has more than {LONGEST_CELL:,} characters, or a quote before it is never closed",
            line=line,
            found=text[:_SHOWN_OF_LONG].strip(),
            remedy="Shorten the cell, or close the quote.",
        )
    remedy = "Close the quote in that line, or double a quote that belongs to the text."
    if last > line:
        remedy += " If these lines are one remark with rows of a table in it, put > before each of them but the first."
    return rejected(
        "unterminated_quote",
        "a quote is opened and never closed"
        if last <= line
        else f"a quote is opened and not closed in its row: the lines down to {last} would be one cell",
        line=line,
        found=text.strip(),
        remedy=remedy,
    )


def sample_of(file: BinaryIO, encoding: str, *, header_line: int = 0, lines: LineRange | None = None) -> str:
    """The beginning of the text, in whole lines; up to two lines behind the header line, if that is given. With
    ``lines`` the beginning of these."""
    first, last = lines or (1, None)
    with _opened(file, encoding) as text:
        if lines is None and not header_line:
            sample = text.read(SAMPLE_CHARACTERS)
            if len(sample) == SAMPLE_CHARACTERS:
                cut = max(sample.rfind("\n"), sample.rfind("\r"))
                sample = sample[: cut + 1] or sample
            return sample
        taken: list[str] = []
        length = 0
        for line, written in enumerate(islice(text, first - 1, last), first):
            if length + len(written) > SAMPLE_CHARACTERS and line > header_line + 2 and taken:
                break
            taken.append(written)
            length += len(written)
        return "".join(taken)


def line_count(file: BinaryIO, encoding: str) -> int:
    """How many lines a text file has."""
    with _opened(file, encoding) as text:
        return sum(1 for _ in text)


def hinted_delimiter(sample: str) -> str | None:
    """The delimiter that a first line such as ``sep=;`` names."""
    first = sample.lstrip("\ufeff").splitlines()[0].strip() if sample.strip() else ""
    if first.lower().startswith("sep=") and len(first) == 5:
        return first[4]
    return (
        "\t" if first.lower() in ("sep=\\t", "sep=") and sample.lower().lstrip("\ufeff").startswith("sep=\t") else None
    )


def sample_rows(sample: str, delimiter: str, limit: int = 60) -> list[Row]:
    """The first rows of a sample under a delimiter, without broken lines; a quote left open ends it early.

    A line that is quoted as a whole is split, a cell of several lines is not; quotes behind a blank are taken off.
    """
    rows: list[Row] = []
    with long_cells():
        records = _Records(io.StringIO(sample, newline=""), delimiter)
        while len(rows) < limit:
            try:
                block = records.take(1)
            except FileRejected:
                break
            if not block.rows:
                break
            row = block.rows[0]
            if len(row) == 1 and delimiter in row[0] and height(row) == 1:
                row = split_line(row[0], delimiter)
            rows.append([without_quotes_behind_blanks(cell) for cell in row])
    return rows


def rows_in_quotes(sample: str, delimiter: str) -> Iterator[tuple[int, str, Row]]:
    """The lines of records of several lines, each split alone, with line and text where the quote around them opens."""
    lines = list(io.StringIO(sample, newline=""))
    with long_cells():
        reader = csv.reader(lines, delimiter=delimiter, strict=True)
        first = 1
        while first <= len(lines):
            is_wrong = False
            try:
                next(reader)
            except csv.Error:
                is_wrong = True
            if reader.line_num > first or is_wrong:
                for text in lines[first - 1 : reader.line_num]:
                    yield first, lines[first - 1], split_line(text.lstrip('"'), delimiter)
            first = reader.line_num + 1


def block_rows(width: int) -> int:
    """How many rows of that width are read at once: fewer of a wide table, so that memory does not grow with it.

    >>> block_rows(20), block_rows(10_000)
    (10000, 200)
    """
    return max(1, min(BLOCK_ROWS, BLOCK_CELLS // max(1, width)))


def height(row: Row) -> int:
    """How many physical lines a row takes."""
    return 1 + sum(
        cell.count("\n") + cell.count("\r") - cell.count("\r\n") for cell in row if "\n" in cell or "\r" in cell
    )


def _lines_of(rows: list[Row], first: int) -> tuple[list[int], int]:
    """The first line of each row, and the line behind the last."""
    lines: list[int] = []
    line = first
    for row in rows:
        lines.append(line)
        line += height(row)
    return lines, line


@contextmanager
def _opened(file: BinaryIO, encoding: str) -> Iterator[io.TextIOWrapper]:
    file.seek(0)
    text = io.TextIOWrapper(file, encoding=encoding, newline="")
    try:
        yield text
    finally:
        text.detach()


@contextmanager
def long_cells() -> Iterator[None]:
    """Set our limit of characters a cell in place of the csv module's, and put that back."""
    before = csv.field_size_limit(LONGEST_CELL)
    try:
        yield
    finally:
        csv.field_size_limit(before)
