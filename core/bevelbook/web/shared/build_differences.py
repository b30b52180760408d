"""What differs between two builds, as two pages show it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.reports.build_difference import Difference
from bevelbook.reports.changed_lines import ChangedLine, changed_lines
from bevelbook.reports.compare import CALCULATED, CHANGED, MORE
from bevelbook.web.shared.short_text import short


class FoldedLines(NamedTuple):
    """Lines that open under a summary."""

    summary: str
    lines: list[ChangedLine]


class BuildDifferences(NamedTuple):
    """What differs between two builds: their names, a heading, the lines read first, and those that open."""

    a: str
    b: str
    heading: str
    first: list[ChangedLine]
    folds: list[FoldedLines]


def build_differences(a: str, b: str, differences: tuple[Difference, ...]) -> BuildDifferences:
    """What differs, with what a person changed first."""
    found = changed_lines(differences)
    folds = [
        FoldedLines(f"{heading}: {counted(len(lines), 'line')}", _short(lines))
        for heading, lines in ((MORE, found.more), (CALCULATED, found.calculated))
        if lines
    ]
    return BuildDifferences(a, b, CHANGED, _short(found.first), folds)


def _short(lines: Sequence[ChangedLine]) -> list[ChangedLine]:
    return [ChangedLine(*map(short, line)) for line in lines]
