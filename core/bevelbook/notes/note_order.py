"""The order of the note rows of a diff over all files: by day, place in the day, file name, line, hash of the file.

Files called the same are versions of one sheet, so that the line goes before the hash. A row that came in corrected
has the place of the rejected row that it closes, also after the import with that row was taken back. Of several sheets
with rows of one day, those that weighed a build on it come first, so that the runs of a sheet from the track follow the
build of a sheet from the bench, whatever the two are named.
"""

from __future__ import annotations

import sqlite3
from typing import Final, NamedTuple

from bevelbook.notes.corrected_lines import LineOfSheet, is_of_rejects, lines_of_sheet
from bevelbook.records.kept_file_names import called_file_sql

_STEPS: Final = 20
"""How often a row may have been rejected and corrected before its place is looked for no further."""

RowPlace = tuple[str, int, str]
"""File name, line, hash: sorts rows of one day."""


class NamedFile(NamedTuple):
    """A kept file: its name, what it is called with its part, and its hash."""

    name: str
    called: str
    sha256: str


class NoteOrder:
    """Where the rows of all kept files are, in the order in which they are placed."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.connection = connection
        self.files = {
            row[0]: NamedFile(*row[1:])
            for row in connection.execute(f"SELECT id, name, {called_file_sql('note_files')}, sha256 FROM note_files")
        }
        self._closes = {
            (row[0], row[1]): (row[2], row[3])
            for row in connection.execute(
                "SELECT closed_by, closed_line, note_file, line FROM note_rejects "
                "WHERE closed_by IS NOT NULL AND closed_line IS NOT NULL ORDER BY note_file DESC, line DESC"
            )
        }
        self._read_back: dict[str, dict[int, LineOfSheet]] = {}

    def of(self, note_file: str, line: int) -> RowPlace:
        """The place of a row among those of its day; a file that is gone has no name, and its rows come first."""
        here = (note_file, line)
        for _ in range(_STEPS):
            there = self._closes.get(here)
            if there is None:
                break
            here = there
        file = self.files.get(here[0])
        if file is None:
            return ("", here[1], here[0])
        if is_of_rejects(file.name):
            sheet = self._of_sheet(*here)
            if sheet is not None:
                return (sheet.name, sheet.line, sheet.sha256)
        return (file.called, here[1], file.sha256)

    def _of_sheet(self, note_file: str, line: int) -> LineOfSheet | None:
        """The row of the sheet that a row of a file of rejected rows is; the file is read once, and only if asked."""
        if note_file not in self._read_back:
            self._read_back[note_file] = lines_of_sheet(self.connection, note_file)
        return self._read_back[note_file].get(line)
