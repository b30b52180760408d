"""What an export holds, in words: how many of what, and how large."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from bevelbook.declare.counting import counted
from bevelbook.interchange.exported_tables import HISTORY, NOTE_BYTES, PICTURE_BYTES

_SAID: Final = (
    ("build", "builds", "builds"),
    ("run", "runs", "runs"),
    ("weighing", "weighings", "weighings"),
    ("kept result", "kept results", "calculations"),
    ("photograph", "photographs", "photos"),
    ("entry", "entries", "entries"),
    ("file of notes", "files of notes", NOTE_BYTES),
    ("picture", "pictures", PICTURE_BYTES),
    ("row left out of notes", "rows left out of notes", "note_rejects"),
)
"""What is counted by its name; the rest is counted together."""
_UNCOUNTED: Final = frozenset({"note_files", "pictures", "also_called"})


def held_in_words(rows: Mapping[str, int]) -> str:
    """How many of what, from the rows of each table.

    >>> held_in_words({"builds": 3, "runs": 1, "diffs": 2, "history": 1})
    '3 builds, 1 run, 2 other records, 1 earlier version'
    """
    parts = [f"{rows[table]} {one if rows[table] == 1 else many}" for one, many, table in _SAID if rows.get(table)]
    named = {table for *_, table in _SAID} | _UNCOUNTED | {HISTORY}
    others = sum(count for table, count in rows.items() if table not in named)
    if others:
        parts.append(counted(others, "other record"))
    if rows.get(HISTORY):
        parts.append(counted(rows[HISTORY], "earlier version"))
    return ", ".join(parts) or "nothing yet"


def size_in_words(byte_count: int) -> str:
    """A size as people say it.

    >>> size_in_words(812), size_in_words(41_300), size_in_words(1_240_000)
    ('812 bytes', '41 kB', '1.2 MB')
    """
    if byte_count < 1_000:
        return f"{byte_count} bytes"
    return f"{byte_count / 1_000:.0f} kB" if byte_count < 1_000_000 else f"{byte_count / 1_000_000:.1f} MB"
