"""What differs between two builds, as two pages show it."""

from __future__ import annotations

from itertools import groupby
from typing import NamedTuple

from bevelbook.reports.compare import Difference
from bevelbook.web.shared.short_text import short


class BuildDifferences(NamedTuple):
    """What differs between two builds: their names, and under each group the lines (what, a, b, change)."""

    a: str
    b: str
    groups: tuple[tuple[str, tuple[tuple[str, ...], ...]], ...]


def build_differences(a: str, b: str, differences: tuple[Difference, ...]) -> BuildDifferences:
    """What differs, group by group."""
    return BuildDifferences(
        a,
        b,
        tuple(
            (group, tuple(tuple(map(short, one.cells())) for one in lines))
            for group, lines in groupby(differences, key=lambda one: one.group)
        ),
    )
