"""The beginning of a note, for a cell or a line."""

from __future__ import annotations

from typing import Final

NOTE_LENGTH: Final = 160


def short(text: str | None, length: int = NOTE_LENGTH) -> str:
    """The beginning of a note, on one line."""
    line = " ".join((text or "")[: length * 4].split())
    return line if len(line) <= length else line[:length].rstrip() + "…"
