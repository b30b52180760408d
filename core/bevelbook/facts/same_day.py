"""Which of two rows of one day was first: by the line of one sheet, or by when they were written by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from bevelbook.records.kept_file_names import called_file_sql

if TYPE_CHECKING:
    import sqlite3


def was_before_sql(row: str, later: str) -> str:
    """Whether ``row`` was before ``later``, a weighing or a count of the same day.

    Of one sheet of notes the one whose line is above (files called the same are versions of one sheet), of two written
    by hand the one that was written first. Nothing says how rows of two sheets, or a row and what was written by hand,
    go together: then ``later`` ended the day.
    """
    sheet, of_later = (
        f"(SELECT {called_file_sql('nf')} FROM note_files nf WHERE nf.id = {one}.note_file)" for one in (row, later)
    )
    return (
        f"CASE WHEN {row}.note_file IS NULL AND {later}.note_file IS NULL "
        f"THEN {row}.created_at <= {later}.created_at "
        f"WHEN {row}.note_file = {later}.note_file OR {sheet} = {of_later} "
        f"THEN coalesce({row}.note_line <= {later}.note_line, 1) ELSE 1 END"
    )


class BuildsBefore:
    """Whether a build was made before what was counted or weighed, in a table with the day in the column ``day``."""

    def __init__(self, connection: sqlite3.Connection, table: str, day: str) -> None:
        self._same_day = {
            (row[0], row[1])
            for row in connection.execute(
                f"SELECT b.id, c.id FROM {table} c CROSS JOIN builds b ON b.built_on = c.{day} "
                f"WHERE {was_before_sql('b', 'c')}"
            )
        }

    def is_before(self, build: str, built_on: str, later: str, later_on: str) -> bool:
        """Whether the build (id, day) was before the count or the reading on the scale (id, day)."""
        return built_on < later_on or (build, later) in self._same_day
