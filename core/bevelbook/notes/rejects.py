"""The file of rejected rows: the input's columns with line, reason and column added, to be corrected and imported."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import IO, Final, NamedTuple

from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.notes.cells import kept_cells
from bevelbook.notes.changed_rows import LOOKS_CHANGED
from bevelbook.notes.corrected_lines import stem_of_rejects
from bevelbook.notes.headings import Heading
from bevelbook.notes.note_columns import REJECT_FILE_COLUMNS
from bevelbook.notes.staging import Stage
from bevelbook.reading.heading_words import folded
from bevelbook.store.closed_file import write_closed

UNITS_ROW: Final = "units_row"
"""The reason of a skipped row that says the units of the columns."""


def rejects_path(path: Path, part: str = "") -> Path:
    """Where the rejected rows of a file, or of a part of it, go: beside it."""
    return path.with_name(f"{stem_of_rejects(path.name, part)}.rejected.csv")


def write_rejects(stage: Stage, heading: Heading, target: Path | IO[bytes]) -> Path | None:
    """Write the rejected rows, in the input's delimiter; the added columns say what to correct. Returns the file, None
    where they went into one that is open.

    A file of that name with other content, which someone may be editing, is left alone: a number is added.
    Raises DatabaseError if the file cannot be written.
    """
    text = "\ufeff" + rejects_text(stage, heading)
    if not isinstance(target, Path):
        target.write(text.encode())
        target.flush()
        return None
    free, number = target, 1
    try:
        while free.exists():
            if free.read_bytes() == text.encode():
                return free
            number += 1
            free = target.with_name(f"{target.stem}-{number}{target.suffix}")
        write_closed(free, text.encode())
    except OSError as fault:
        raise DatabaseError(
            "the rows came in, but the file of rejected ones cannot be written",
            code="not_writable",
            place=Place(str(free)),
            found=fault.strerror or str(fault),
            remedy="The database keeps them too (note_rejects). To write them elsewhere: "
            "'bevelbook import FILE --rejects OTHER'.",
        ) from fault
    return free


class CorrectedLine(NamedTuple):
    """A line of a file of rejected rows: the line that it had in its sheet, why it was rejected, and its cells."""

    of_line: int
    words: str
    column: str | None
    cells: Sequence[str]


def rejects_text(stage: Stage, heading: Heading) -> str:
    """The rejected rows as text, but for those that only need an answer when their sheet is imported again."""
    units = [kept_cells(one.raw) for one in stage.left("skipped") if one.reason == UNITS_ROW]
    lines = (
        CorrectedLine(one.line, f"{one.reason}: {one.words or ''}".strip(), one.column, kept_cells(one.raw))
        for one in stage.left("rejected")
        if one.reason != LOOKS_CHANGED
    )
    return text_of_lines(heading, units, lines)


def text_of_lines(heading: Heading, units: Iterable[list[str]], lines: Iterable[CorrectedLine]) -> str:
    """Lines of a sheet as the text of a file of its rejected rows, below its rows of units."""
    width = len(heading.cells)
    own = [place for place, cell in enumerate(heading.cells) if folded(cell) not in REJECT_FILE_COLUMNS]
    file = io.StringIO(newline="")
    writer = csv.writer(file, delimiter=heading.delimiter, lineterminator="\n")
    writer.writerow([*(heading.cells[place] for place in own), *REJECT_FILE_COLUMNS])
    for cells in units:
        row = _evened(cells, width)
        writer.writerow([*(row[place] for place in own), *("" for _ in REJECT_FILE_COLUMNS)])
    for one in lines:
        row = _evened([*one.cells], width)
        writer.writerow(
            [*(row[place] for place in own), str(one.of_line), one.words, one.column or "", *one.cells[width:]]
        )
    return file.getvalue()


def _evened(row: list[str], width: int) -> list[str]:
    return (row + [""] * width)[:width]
