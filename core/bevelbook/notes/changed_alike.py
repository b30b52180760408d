"""Rows of a sheet that all differ from earlier ones in the same columns, said once."""

from __future__ import annotations

from collections.abc import Sequence

from bevelbook.declare.counting import counted
from bevelbook.notes.changed_rows import ChangedRow


def changed_alike(rows: Sequence[ChangedRow]) -> str | None:
    """What rows that look like earlier ones have in common, for people; None for one row, or where they differ in
    other columns or look like rows of several files.
    """
    columns = {tuple(one.column for one in (*row.differences, *row.stays)) for row in rows}
    files = {row.file for row in rows}
    if len(rows) < 2 or len(columns) > 1 or len(files) > 1:
        return None
    (names,), (file,) = columns, files
    listed = " and ".join([", ".join(names[:-1]), names[-1]] if names[1:] else names)
    return f"{counted(len(rows), 'row')} have another {listed}; they look like the rows of {file}"
