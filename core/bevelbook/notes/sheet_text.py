"""The text of a sheet of a workbook (its XML) without what holds nothing: blank rows in a run, and cells beyond the
columns that are read.

A library that reads such a sheet looks at every row and cell one by one; here they are cut out before.
"""

from __future__ import annotations

import re
from typing import IO, Final

WIDEST: Final = 500
"""Columns that are read; the last one is SF."""
_BEYOND: Final = rb"(?:[A-Z]{3}|S[G-Z]|[T-Z][A-Z])"
_CHUNK: Final = 1 << 20
_LONGEST_ROW: Final = 8 << 20
_ROWS: Final = (b"<row", b"<x:row")
"""How a row begins; some programs put a prefix before each name."""

_NOTHING: Final = rb"<:v\s*+/>|<:v></:v>|<:is>\s*+(?:<:t\s*+/>|<:t></:t>)\s*+</:is>"
_BLANK_CELL: Final = rb"<:c[\s/][^>]*+(?:(?<=/)>|>\s*+(?:" + _NOTHING + rb")?+\s*+</:c>)\s*+"
_BLANK: Final = rb'<:row(?:\s[^>]*?)??\sr="[0-9]++"[^>]*+(?:(?<=/)>|>\s*+(?:' + _BLANK_CELL + rb")*+</:row>)\s*+"
_RUN: Final = rb"(?:" + _BLANK + rb")+(" + _BLANK + rb")"
_PLAIN_RUN: Final = _RUN.replace(b"<:", b"<").replace(b"</:", b"</")
_PREFIXED_RUN: Final = _RUN.replace(b"<:", b"<x:").replace(b"</:", b"</x:")
_BLANK_RUNS: Final = (re.compile(_PLAIN_RUN), re.compile(_PREFIXED_RUN))
_CELL: Final = rb'<c\sr="' + _BEYOND + rb'[0-9]++"[^>]*+(?:(?<=/)>|>.*?</c>)\s*+'
_CELLS_BEYOND: Final = re.compile(rb"(?:" + _CELL + rb"){2,}", re.DOTALL)
_FILLED_CELL: Final = re.compile(rb'<c\sr="[A-Z]++[0-9]++"[^>]*+(?<!/)>.*?</c>', re.DOTALL)


class SheetText:
    """The text of a sheet as a file to read from. Of a run of blank rows the last is left, so that a row behind it that
    does not say its number is still counted from it; of the cells beyond, the first filled one.
    """

    def __init__(self, file: IO[bytes]) -> None:
        self._file = file
        self._waiting = b""
        self._is_as_it_is = False
        """Whether the rest is handed on unchanged: a comment or a section of raw text may hold anything."""

    def read(self, _size: int = -1) -> bytes:
        """The next piece of the text, of any length; empty at its end."""
        while not self._is_as_it_is:
            chunk = self._file.read(_CHUNK)
            seen = len(self._waiting)
            self._waiting += chunk
            if b"<!" in self._waiting or len(self._waiting) > _LONGEST_ROW:
                self._is_as_it_is = True
                break
            if not chunk:
                text, self._waiting = self._waiting, b""
                return _without_blanks(text)
            end = max(self._waiting.rfind(one, max(seen - len(one), 0)) for one in _ROWS)
            if end > 0:
                text, self._waiting = self._waiting[:end], self._waiting[end:]
                return _without_blanks(text)
        text, self._waiting = self._waiting, b""
        return text or self._file.read(_CHUNK)


def _without_blanks(text: bytes) -> bytes:
    for begins, run in zip(_ROWS, _BLANK_RUNS, strict=True):
        if begins in text:
            text = run.sub(rb"\1", text)
    return _CELLS_BEYOND.sub(_one_filled, text)


def _one_filled(cells: re.Match[bytes]) -> bytes:
    found = _FILLED_CELL.search(cells[0])
    return found[0] if found else b""
