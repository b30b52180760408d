"""Text to rows: the delimiter, the lines before the heading, and blocks of rows with their line numbers."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import islice
from typing import BinaryIO, Final, NamedTuple, Protocol

from bevelbook.notes.decoding import rejected

BLOCK_ROWS: Final = 10_000
SAMPLE_CHARACTERS: Final = 400_000
LONGEST_CELL: Final = 50_000_000
DELIMITERS: Final = {"comma": ",", "semicolon": ";", "tab": "\t", "pipe": "|"}

Row = list[str]


class Block(NamedTuple):
    """Some rows, each with its first line; ``broken`` are lines that could not be split, with the reason."""

    rows: list[Row]
    lines: list[int] | range
    broken: list[tuple[int, str]]


class NoteTable(Protocol):
    """Rows of a file, to be read more than once."""

    def blocks(self, block_rows: int = BLOCK_ROWS) -> Iterator[Block]:
        """All rows from the first on, in blocks."""

    def progress(self) -> tuple[int, int]:
        """How much of the file was read and how much there is, 0 if unknown."""


class TextTable:
    """A delimited text file."""

    def __init__(self, file: BinaryIO, encoding: str, delimiter: str) -> None:
        self.file = file
        self.encoding = encoding
        self.delimiter = delimiter
        self.byte_count = file.seek(0, io.SEEK_END)

    def progress(self) -> tuple[int, int]:
        return self.file.tell(), self.byte_count

    def blocks(self, block_rows: int = BLOCK_ROWS) -> Iterator[Block]:
        """Raises FileRejected (unterminated_quote) if a quote is opened and never closed."""
        with _opened(self.file, self.encoding) as text, _long_cells():
            reader = csv.reader(text, delimiter=self.delimiter, strict=True)
            while True:
                rows: list[Row] = []
                broken: list[tuple[int, str]] = []
                before = reader.line_num
                fault = None
                try:
                    rows.extend(islice(reader, block_rows))
                except csv.Error as error:
                    fault = error
                lines = _lines(rows, before, reader.line_num - (fault is not None))
                if fault is not None:
                    start = before + 1 + _height(rows)
                    if "unexpected end" in str(fault) or "field larger" in str(fault):
                        raise rejected(
                            "unterminated_quote",
                            "a quote is opened and never closed",
                            line=start,
                            remedy="Close the quote in that line, or double a quote that belongs to the text.",
                        )
                    broken.append((start, "malformed_quotes"))
                if not rows and not broken:
                    return
                yield Block(rows, lines, broken)


def sample_of(file: BinaryIO, encoding: str, *, lines: int = 0) -> str:
    """The beginning of the text, in whole lines; with ``lines`` at least so many, and two more."""
    with _opened(file, encoding) as text:
        sample = text.read(SAMPLE_CHARACTERS)
        wanted = lines + 2 if lines else 0
        if wanted > 2 and len(sample) == SAMPLE_CHARACTERS and len(sample.splitlines()) <= wanted:
            text.seek(0)
            return "".join(islice(text, wanted))
    if len(sample) == SAMPLE_CHARACTERS:
        cut = max(sample.rfind("\n"), sample.rfind("\r"))
        sample = sample[: cut + 1] or sample
    return sample


def hinted_delimiter(sample: str) -> str | None:
    """The delimiter that a first line such as ``sep=;`` names."""
    first = sample.lstrip("\ufeff").splitlines()[0].strip() if sample.strip() else ""
    if first.lower().startswith("sep=") and len(first) == 5:
        return first[4]
    return (
        "\t" if first.lower() in ("sep=\\t", "sep=") and sample.lower().lstrip("\ufeff").startswith("sep=\t") else None
    )


def sample_rows(sample: str, delimiter: str, limit: int = 60) -> list[Row]:
    """The first rows of a sample under a delimiter; faults in its quotes end it early."""
    rows: list[Row] = []
    with _long_cells():
        reader = csv.reader(io.StringIO(sample, newline=""), delimiter=delimiter)
        try:
            rows.extend(islice(reader, limit))
        except csv.Error:
            return rows
    return rows


def height(row: Row) -> int:
    """How many physical lines a row takes."""
    return 1 + sum(
        cell.count("\n") + cell.count("\r") - cell.count("\r\n") for cell in row if "\n" in cell or "\r" in cell
    )


def _height(rows: list[Row]) -> int:
    return sum(map(height, rows))


def _lines(rows: list[Row], before: int, after: int) -> list[int] | range:
    if after - before == len(rows):
        return range(before + 1, after + 1)
    lines: list[int] = []
    line = before + 1
    for row in rows:
        lines.append(line)
        line += height(row)
    return lines


@contextmanager
def _opened(file: BinaryIO, encoding: str) -> Iterator[io.TextIOWrapper]:
    file.seek(0)
    text = io.TextIOWrapper(file, encoding=encoding, newline="")
    try:
        yield text
    finally:
        text.detach()


@contextmanager
def _long_cells() -> Iterator[None]:
    """Lift the csv module's limit of 131,072 characters a cell, and put it back."""
    before = csv.field_size_limit(LONGEST_CELL)
    try:
        yield
    finally:
        csv.field_size_limit(before)
