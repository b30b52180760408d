"""A table as NDJSON: one object a line in JSON (RFC 8259), every column in each, an empty value as null."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import IO, Final

from bevelbook.interchange.one_table import OneTable

_ENCODER: Final = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), allow_nan=False, check_circular=False)
"""Numbers with all their digits (``repr``), and no word for one that is infinite: RFC 8259 has none."""


class NdjsonRows:
    """Takes the rows of a table, block by block."""

    def __init__(self, file: IO[bytes], table: OneTable) -> None:
        self._file = file
        self._names = table.names

    def write(self, block: Sequence[Sequence[object]]) -> None:
        """Write some rows."""
        names, encode = self._names, _ENCODER.encode
        lines = [encode(dict(zip(names, row, strict=True))) for row in block]
        self._file.write(("\n".join(lines) + "\n").encode())


@contextmanager
def ndjson_into(file: IO[bytes], table: OneTable, *, invented: bool = False) -> Iterator[NdjsonRows]:
    """Writes a table into a file as NDJSON. It has no place for the mark of invented data."""
    yield NdjsonRows(file, table)
