"""What a kept file of notes is called: the name of the file, and the part of it that was imported, if not all of it."""

from __future__ import annotations


def called_file(name: str, part: str | None) -> str:
    """The name of a kept file with its part.

    Parts of one file are sheets of their own: two kept files are states of the same sheet if they are called the same.

    >>> called_file("season.csv", None), called_file("season.xlsx", "sheet K-01")
    ('season.csv', 'season.xlsx, sheet K-01')
    """
    return f"{name}, {part}" if part else name


def called_file_sql(alias: str) -> str:
    """SQL for what the kept file in a row of ``note_files`` is called.

    >>> called_file_sql("f")
    "(f.name || coalesce(', ' || f.part, ''))"
    """
    return f"({alias}.name || coalesce(', ' || {alias}.part, ''))"
