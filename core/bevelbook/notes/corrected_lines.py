"""Which row of a sheet a row of its file of rejected rows is, read from the kept files themselves.

It is known also after the rejected row itself is gone, because the import of the sheet was taken back.
"""

from __future__ import annotations

import io
import json
import sqlite3
from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.notes.cells import typed_cells
from bevelbook.notes.decoding import FileRejected, beginning, unpacked
from bevelbook.notes.note_columns import REJECT_FILE_COLUMNS
from bevelbook.notes.settings import Settings
from bevelbook.notes.source import NoteSource, rows_below, source_of
from bevelbook.reading.faults import trimmed
from bevelbook.reading.heading_words import folded
from bevelbook.records.kept_file_names import called_file

_OF_REJECTS: Final = late_pattern(r"\.rejected(-\d+)?$")
LOOKED_AT: Final = 100_000
"""Bytes at the beginning of a file in which the added columns of rejected rows are looked for."""
_NOT_OF_A_FILE_NAME: Final = late_pattern(r"[^\w-]+")


class CorrectedRow(NamedTuple):
    """A row of a file of rejected rows: the line that it had in its sheet, the code of why it was rejected and the
    column that was wrong, as the file says, and its cells in the columns of the sheet."""

    of_line: int
    reason: str
    column: str
    cells: tuple[str, ...]


class FileOfRejects(NamedTuple):
    """A kept file that may be one of rejected rows; ``is_named`` where its name says of which sheet."""

    id: str
    name: str
    is_named: bool


class LineOfSheet(NamedTuple):
    """A line of a sheet: what its kept file is called, its hash, and the line."""

    name: str
    sha256: str
    line: int


def is_of_rejects(name: str) -> bool:
    """Whether a file is, by its name, one of rejected rows.

    >>> is_of_rejects("season.rejected-2.csv"), is_of_rejects("season.csv")
    (True, False)
    """
    return _OF_REJECTS.search(_stem(name)) is not None


def is_of(name: str, file: str, part: str | None = None) -> bool:
    """Whether a file is, by its name, the one of the rejected rows of another, or of a part of it.

    >>> is_of("season.rejected-2.csv", "season.xlsx"), is_of("season.csv", "other.csv")
    (True, False)
    >>> is_of("season.sheet-K-01.rejected.csv", "season.xlsx", "sheet K-01")
    True
    """
    return _OF_REJECTS.sub("", _stem(name)) == stem_of_rejects(file, part) and name != file


def stem_of_rejects(name: str, part: str | None = None) -> str:
    """How the name of the file of the rejected rows begins.

    >>> stem_of_rejects("season.rejected.csv"), stem_of_rejects("season.xlsx", "sheet K-01, lines 1-40")
    ('season', 'season.sheet-K-01-lines-1-40')
    """
    stem = _OF_REJECTS.sub("", _stem(name))
    return f"{stem}.{_NOT_OF_A_FILE_NAME.sub('-', part).strip('-')}" if part else stem


def lines_of_sheet(connection: sqlite3.Connection, note_file: str) -> dict[int, LineOfSheet]:
    """The rows of a kept file of rejected rows, by line, with the line of the sheet that each is.

    Where a kept state of the sheet has the row as it was corrected, that line; else the line that it was rejected on.
    Empty for a file that is not one of rejected rows, or that can no longer be read.
    """
    source = kept_source(connection, note_file)
    if source is None:
        return {}
    columns, rows = _corrected(source)
    name, found = source.name, dict[int, LineOfSheet]()
    kept = connection.execute("SELECT id, name, part, sha256 FROM note_files ORDER BY read_at, id")
    for file_id, file, part, sha256 in kept:
        if file_id == note_file or is_of_rejects(file) or not is_of(source.name, file, part):
            continue
        name = sheet = called_file(file, part)
        held = _lines_by_cells(connection, file_id, columns)
        for line, row in rows.items():
            if row.cells in held:
                found[line] = LineOfSheet(sheet, sha256, held[row.cells])
    return {line: found.get(line) or LineOfSheet(name, "", row.of_line) for line, row in rows.items()}


def files_of_rejects(connection: sqlite3.Connection, name: str, part: str | None) -> list[FileOfRejects]:
    """The kept files that may be of the rejected rows of a sheet, by name or by their columns, in the order in which
    they were read."""
    found: list[FileOfRejects] = []
    for file, called, start in connection.execute(
        "SELECT f.id, f.name, substr(b.packed, 1, ?) FROM note_files f JOIN note_bytes b ON b.sha256 = f.sha256 "
        "WHERE length(b.packed) > 0 ORDER BY f.read_at, f.id",
        (LOOKED_AT,),
    ):
        if is_of_rejects(called):
            if is_of(called, name, part):
                found.append(FileOfRejects(file, called, is_named=True))
        elif has_columns_of_rejects(beginning(start, LOOKED_AT)):
            found.append(FileOfRejects(file, called, is_named=False))
    return found


def has_columns_of_rejects(start: bytes) -> bool:
    """Whether the beginning of a text names the columns of a file of rejected rows, whatever its encoding.

    >>> has_columns_of_rejects(b"date,diff,line,reason,column"), has_columns_of_rejects(b"date,diff")
    (True, False)
    """
    start = start.replace(b"\0", b"").lower()
    return all(column.encode() in start for column in REJECT_FILE_COLUMNS)


def corrected_rows(connection: sqlite3.Connection, note_file: str) -> dict[int, CorrectedRow]:
    """The rows of a kept file of rejected rows, by line."""
    source = kept_source(connection, note_file)
    return {} if source is None else _corrected(source)[1]


def _corrected(source: NoteSource) -> tuple[tuple[str, ...], dict[int, CorrectedRow]]:
    """The columns of the sheet, and the rows of its file of rejected rows, as :func:`corrected_rows` gives them."""
    places = source.heading.places_of_rejects
    own = [at for at, cell in enumerate(source.heading.cells) if folded(cell) not in REJECT_FILE_COLUMNS]
    rows: dict[int, CorrectedRow] = {}
    for line, row in _rows(source) if places else ():
        text, reason, column = _cells(row, [places[name] for name in REJECT_FILE_COLUMNS])
        if text.isascii() and text.isdecimal():
            rows[line] = CorrectedRow(int(text), reason.partition(":")[0], column, _cells(row, own))
    return tuple(folded(source.heading.cells[at]) for at in own), rows


def _lines_by_cells(
    connection: sqlite3.Connection, note_file: str, columns: tuple[str, ...]
) -> dict[tuple[str, ...], int]:
    """The first line of a kept sheet that has these cells in the columns; empty if it has other columns."""
    source = kept_source(connection, note_file)
    if source is None:
        return {}
    places = {folded(cell): at for at, cell in enumerate(source.heading.cells)}
    if not places.keys() >= set(columns):
        return {}
    wanted = [places[column] for column in columns]
    found: dict[tuple[str, ...], int] = {}
    for line, row in _rows(source):
        found.setdefault(_cells(row, wanted), line)
    return found


def kept_source(connection: sqlite3.Connection, note_file: str) -> NoteSource | None:
    """A kept file, opened as it was read; None where it can no longer be read, or is not here."""
    found = connection.execute(
        "SELECT f.name, f.options, b.packed FROM note_files f JOIN note_bytes b ON b.sha256 = f.sha256 WHERE f.id = ?",
        (note_file,),
    ).fetchone()
    if found is None:
        return None
    name, options, packed = found
    settings = Settings(**json.loads(options)) if options else Settings()
    try:
        return source_of(io.BytesIO(unpacked(packed)), name, settings, pack=False)
    except FileRejected:
        return None


def _rows(source: NoteSource) -> Iterator[tuple[int, Sequence[str]]]:
    try:
        for block in rows_below(source):
            for line, row in zip(block.lines, block.rows, strict=False):
                yield line, typed_cells(row, source.heading.numbers)
    except FileRejected:
        return


def _cells(row: Sequence[str], places: Sequence[int]) -> tuple[str, ...]:
    return tuple(trimmed(row[at]) if at < len(row) else "" for at in places)


def _stem(name: str) -> str:
    return name.rpartition(".")[0] or name
