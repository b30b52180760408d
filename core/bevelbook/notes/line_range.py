"""Some lines of a file, as a person says them: the first and the last, counted from 1."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import chain, islice, repeat
from typing import Final, NamedTuple

from bevelbook.declare.errors import InputError, Place
from bevelbook.declare.late_pattern import late_pattern

_RANGE: Final = late_pattern(r"\s*([1-9][0-9]{0,8})\s*[-–]\s*([1-9][0-9]{0,8})\s*")


class LineRange(NamedTuple):
    """The lines of a file from ``first`` to ``last``, both counted from 1."""

    first: int
    last: int

    def __str__(self) -> str:
        return f"{self.first}-{self.last}"

    def within(self, text: Iterable[str]) -> Iterator[str]:
        """The lines of a text, those before the range emptied and those after it left out, so that each line keeps
        its number."""
        lines = iter(text)
        count = sum(1 for _ in islice(lines, self.first - 1))
        return chain(repeat("\n", count), islice(lines, self.last - self.first + 1))

    def outside(self, text: Iterable[str]) -> Iterator[tuple[int, str]]:
        """The other lines of a text with their numbers, without line ends."""
        for line, written in enumerate(text, 1):
            if not self.first <= line <= self.last:
                yield line, written.rstrip("\r\n")


def line_range(text: str, place: Place) -> LineRange:
    """Lines such as ``1-40``; ``place`` is where they were said. Raises InputError (bad_lines)."""
    found = _RANGE.fullmatch(text)
    lines = LineRange(int(found[1]), int(found[2])) if found else None
    if lines is None or lines.first > lines.last:
        raise InputError(
            "these are not lines of a file", code="bad_lines", place=place, found=text, wanted="A-B, such as 1-40"
        )
    return lines
