"""A table as CSV: the names of its columns, then its rows, by the rules of an export's files (``csv_cells.py``)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import IO, Final

from bevelbook.interchange.csv_cells import CellType, csv_lines, heading_line
from bevelbook.interchange.one_table import ColumnType, OneTable

_CELL_TYPES: Final[dict[ColumnType, CellType]] = {"text": "TEXT", "date": "TEXT", "number": "REAL", "whole": "INTEGER"}


class CsvRows:
    """Takes the rows of a table, block by block."""

    def __init__(self, file: IO[bytes], types: Sequence[CellType]) -> None:
        self._file = file
        self._types = types

    def write(self, block: Sequence[Sequence[object]]) -> None:
        """Write some rows."""
        self._file.write(csv_lines(block, self._types).encode())


@contextmanager
def csv_into(file: IO[bytes], table: OneTable, *, invented: bool = False) -> Iterator[CsvRows]:
    """Writes a table into a file as CSV. It has no place for the mark of invented data."""
    file.write(heading_line(table.names).encode())
    yield CsvRows(file, [_CELL_TYPES[column.type] for column in table.columns])
