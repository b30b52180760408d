"""A text whose columns are the rows of notes: one column a race day, the names of the fields in the first column."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from itertools import zip_longest
from typing import BinaryIO, Final

from bevelbook.notes.decoding import FileRejected, rejected
from bevelbook.notes.layout import heading_in, no_heading
from bevelbook.notes.table import DELIMITERS, Row, hinted_delimiter, long_cells
from bevelbook.notes.wording import IMPORT_OPTIONS
from bevelbook.reading.options import ReadingOption

LARGEST_BYTES: Final = 5_000_000
DELIMITER: Final = ","
ENCODING: Final = "utf-8"


def transposed(file: BinaryIO, encoding: str, own: Mapping[str, str], delimiter: str | None = None) -> io.BytesIO:
    """The text with rows and columns swapped, in ``ENCODING`` and with ``DELIMITER``: its lines are the columns of the
    file, counted from 1. A line break in a cell becomes a blank.

    Of the delimiters the one that gives the most known fields. Raises FileRejected (no_heading, option_misfit where the
    text is too long, unterminated_quote).
    """
    if file.seek(0, io.SEEK_END) > LARGEST_BYTES:
        raise refuse_transposing(f"the file has more than {LARGEST_BYTES // 1_000_000} MB")
    file.seek(0)
    text = file.read().decode(encoding).removeprefix("\ufeff")
    given = delimiter or hinted_delimiter(text)
    best: tuple[int, list[Row]] | None = None
    torn: FileRejected | None = None
    for one in [given] if given else DELIMITERS.values():
        try:
            rows = _columns(text, one)
        except FileRejected as fault:
            torn = fault
            continue
        found = heading_in(rows[:1], own=own, line=None, delimiter=one)
        if found and (best is None or len(found.known) > best[0]):
            best = (len(found.known), rows)
    if best is None:
        raise torn or no_heading(None)
    made = io.StringIO(newline="")
    csv.writer(made, delimiter=DELIMITER, lineterminator="\n").writerows(best[1])
    return io.BytesIO(made.getvalue().encode(ENCODING))


def refuse_transposing(why: str) -> FileRejected:
    """The fault of a file that cannot be read column by column."""
    name = IMPORT_OPTIONS[ReadingOption.TRANSPOSE].name
    return rejected(
        "option_misfit", f"{name}: {why}", remedy=f"Swap rows and columns in the sheet, and leave out {name}."
    )


def _columns(text: str, delimiter: str) -> list[Row]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        with long_cells():
            rows = [row for row in reader if not _is_hint(row)]
    except csv.Error:
        raise rejected(
            "unterminated_quote",
            "a quote does not close where its cell ends",
            line=max(reader.line_num, 1),
            remedy="Close it, or double a quote that belongs to the text.",
        ) from None
    return [[" ".join(cell.splitlines()) for cell in column] for column in zip_longest(*rows, fillvalue="")]


def _is_hint(row: Row) -> bool:
    return bool(row) and row[0].lower().startswith("sep=")
