"""The forms in which a table is written out alone, several at once from one reading of its rows."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager, ExitStack
from typing import IO, Final, NamedTuple, Protocol

from bevelbook.interchange.csv_rows import csv_into
from bevelbook.interchange.ndjson import ndjson_into
from bevelbook.interchange.one_table import OneTable
from bevelbook.interchange.parquet import parquet_into


class TakesRows(Protocol):
    """What the rows of a table are given to, block by block."""

    def write(self, block: Sequence[Sequence[object]], /) -> None: ...


class IntoFile(Protocol):
    """Begins a table in a file, and ends it."""

    def __call__(
        self, file: IO[bytes], table: OneTable, *, invented: bool = False
    ) -> AbstractContextManager[TakesRows]: ...


class TableForm(NamedTuple):
    """A form of a table: what people call it, how it is written, and whether it is text."""

    title: str
    into: IntoFile
    is_text: bool


FORMS: Final[Mapping[str, TableForm]] = {
    "csv": TableForm("CSV", csv_into, True),
    "ndjson": TableForm("NDJSON", ndjson_into, True),
    "parquet": TableForm("Parquet", parquet_into, False),
}


def write_table(
    connection: sqlite3.Connection, table: OneTable, files: Mapping[str, IO[bytes]], *, invented: bool
) -> int:
    """Write all rows of a table into files, each by the name of its form; returns how many rows.

    Only a block of rows is in memory at a time. Raises InputError for what a form cannot hold or needs, sqlite3.Error
    for what SQLite refuses.
    """
    count = 0
    with ExitStack() as ends:
        forms = [ends.enter_context(FORMS[form].into(file, table, invented=invented)) for form, file in files.items()]
        for block in table.rows(connection):
            count += len(block)
            for form in forms:
                form.write(block)
    return count
