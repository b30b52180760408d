"""Which rows of a table are what: the heading, the row of units, and what is not part of the table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from bevelbook.notes.decoding import FileRejected, rejected
from bevelbook.notes.headings import Heading, matched
from bevelbook.notes.note_columns import REQUIRED_COLUMNS
from bevelbook.notes.table import DELIMITERS, Row, height, hinted_delimiter, sample_rows
from bevelbook.notes.wording import typed, with_option
from bevelbook.reading.faults import trimmed
from bevelbook.reading.options import ReadingOption
from bevelbook.reading.units import looks_like_unit

SEARCHED_ROWS: Final = 40


def find_heading(
    sample: str, *, own: Mapping[str, str], delimiter: str | None = None, line: int | None = None
) -> Heading:
    """The heading row of a text and its delimiter: those that give the most known headings.

    Raises FileRejected (no_heading, duplicate_header, missing_required).
    """
    given = delimiter or hinted_delimiter(sample)
    best: tuple[int, int, Heading] | None = None
    for one in [given] if given else DELIMITERS.values():
        found = heading_in(sample_rows(sample, one), own=own, line=line, delimiter=one)
        if found:
            score = len(found.known)
            if best is None or score > best[0]:
                best = (score, len(found.cells), found)
    if best is None:
        raise no_heading(line)
    return best[2]


def heading_in(rows: Sequence[Row], *, own: Mapping[str, str], line: int | None, delimiter: str) -> Heading | None:
    """The first row with the most known headings; a row given by its line is used as it is."""
    best: tuple[int, Heading] | None = None
    start = 1
    for number, row in enumerate(rows[: line or SEARCHED_ROWS]):
        here = start
        start += height(row)
        if line is not None and here != line:
            continue
        columns = tuple(matched(cell, place, own) for place, cell in enumerate(row))
        score = sum(1 for column in columns if column.field)
        if score >= (1 if line is not None else 2) and (best is None or score > best[0]):
            best = (score, Heading(number, columns, tuple(row), delimiter))
    return best[1] if best else None


def check_heading(heading: Heading, line: int) -> None:
    """Raise FileRejected if two columns have the same name or meaning, or if day or diff is missing."""
    seen: dict[str, int] = {}
    for column in heading.columns:
        if not column.heading:
            continue
        for key in {column.heading.casefold(), f"\0{column.field.name}" if column.field else column.heading.casefold()}:
            if key in seen:
                raise rejected(
                    "duplicate_header",
                    f"columns {seen[key] + 1} and {column.place + 1} mean the same thing",
                    line=line,
                    found=column.heading,
                    remedy="Rename or delete one of them.",
                )
            seen[key] = column.place
    missing = [name for name in REQUIRED_COLUMNS if name not in heading.known]
    if missing:
        unknown_columns = [c.heading for c in heading.columns if c.heading and c.field is None]
        raise rejected(
            "missing_required",
            f"no column for {' and '.join(missing)}",
            line=line,
            found=", ".join(unknown_columns) or None,
            remedy=with_option(
                None,
                ReadingOption.COLUMNS,
                f"{_quoted(unknown_columns[0]) if unknown_columns else 'HEADING'}={missing[0]}",
            ),
        )


def no_heading(line: int | None) -> FileRejected:
    return rejected(
        "no_heading",
        "no row has known headings" if line is None else "that line has no known headings",
        line=line,
        remedy=f"Is it a table of notes? Name the line of the headings with {typed(ReadingOption.HEADER_LINE)} and the "
        f"columns with {typed(ReadingOption.COLUMNS)}, or start from 'bevelbook import --template'.",
    )


def units_in(row: Row, heading: Heading) -> dict[int, str] | None:
    """The units by place, if a row below the heading has nothing else."""
    cells = {place: trimmed(cell) for place, cell in enumerate(row) if trimmed(cell)}
    if not cells or not all(looks_like_unit(cell.strip("()[]")) for cell in cells.values()):
        return None
    quantities = {column.place for column in heading.columns if column.field and column.field.kind == "quantity"}
    if not quantities & set(cells):
        return None
    return {place: cell.strip("()[]") for place, cell in cells.items() if place in quantities}


def _quoted(text: str) -> str:
    return f'"{text}"' if " " in text else text
