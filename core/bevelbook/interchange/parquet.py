"""A table as Parquet: columns with their types, and with what is declared about each. Needs pyarrow, an extra."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import IO, Any

from bevelbook.declare.errors import InputError, Place
from bevelbook.interchange.one_table import ColumnToWrite, OneTable


class ParquetRows:
    """Takes the rows of a table, block by block; each is a group of rows of the file."""

    def __init__(self, writer: Any, schema: Any, table: OneTable) -> None:
        self._writer = writer
        self._schema = schema
        self._table = table

    def write(self, block: Sequence[Sequence[object]]) -> None:
        """Write some rows. Raises InputError for a day that is none, as only another program can write one."""
        import pyarrow as pa

        arrays = []
        for column, values, field in zip(self._table.columns, zip(*block, strict=True), self._schema, strict=True):
            try:
                if column.type == "date":
                    arrays.append(pa.array(values, pa.string()).cast(field.type))
                else:
                    arrays.append(pa.array(values, field.type))
            except (pa.ArrowInvalid, pa.ArrowTypeError, OverflowError) as fault:
                raise InputError(
                    f"a value of {self._table.name} is not what its column holds",
                    code="not_of_its_type",
                    place=Place(column=column.name),
                    found=str(fault),
                    remedy="Another program wrote it. 'bevelbook check' may name the record; CSV and NDJSON take it as "
                    "it is.",
                ) from fault
        self._writer.write_batch(pa.RecordBatch.from_arrays(arrays, schema=self._schema))


@contextmanager
def parquet_into(file: IO[bytes], table: OneTable, *, invented: bool = False) -> Iterator[ParquetRows]:
    """Writes a table into a file as Parquet; what is declared is in the metadata of the file and of each column.

    Raises InputError where pyarrow is not installed.
    """
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ImportError as fault:
        raise InputError(
            "Parquet is written with a library that is not installed",
            code="no_pyarrow",
            remedy="Install it with pip install 'bevelbook[parquet]', or write CSV or NDJSON.",
        ) from fault
    schema = pa.schema(
        [pa.field(one.name, _arrow_type(pa, one), metadata=_said_of_column(one)) for one in table.columns],
        metadata={
            "table": table.name,
            "title": table.title,
            "description": table.about,
            "key": json.dumps(table.key),
            "invented": "true" if invented else "false",
        },
    )
    with pq.ParquetWriter(file, schema) as writer:
        yield ParquetRows(writer, schema, table)


def _arrow_type(pa: Any, column: ColumnToWrite) -> Any:
    match column.type:
        case "number":
            return pa.float64()
        case "whole":
            return pa.int64()
        case "date":
            return pa.date32()
        case "text":
            return pa.string()


def _said_of_column(column: ColumnToWrite) -> dict[str, str]:
    said = {
        "title": column.title,
        "description": column.about,
        "unit": column.unit,
        "ucum": column.ucum,
        "choices": json.dumps(column.choices, ensure_ascii=False) if column.choices else None,
        "references": column.references if column.name_of is None else None,
    }
    return {name: text for name, text in said.items() if text is not None}
