"""Rows whose best lap is not the least of the laps that are listed in them."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence

from bevelbook.facts.lap_times import BEST_LAP, LISTED, is_rounded, least_laps


def lines_with_odd_best_lap(
    connection: sqlite3.Connection, lines: Sequence[int], columns: Mapping[str, Sequence[object]]
) -> Iterator[int]:
    """The lines of accepted rows, given as columns, where the two differ by more than what rounding explains."""
    if BEST_LAP not in columns or LISTED not in columns:
        return
    least = least_laps(connection, columns[LISTED])
    for line, best_s, least_s in zip(lines, columns[BEST_LAP], least, strict=True):
        if isinstance(best_s, float) and least_s is not None and not is_rounded(best_s, least_s):
            yield line
