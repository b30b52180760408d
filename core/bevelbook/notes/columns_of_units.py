"""Columns that hold the units of other columns: which they are, and of which column each is."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Final

from bevelbook.notes.cells import CellBesideUnit
from bevelbook.notes.headings import Column, folded, matched
from bevelbook.notes.table import Row
from bevelbook.reading.faults import trimmed

_UNIT_WORDS: Final = re.compile(r"\b(units? of|units?|uom)\b")


def unit_columns(columns: Sequence[Column]) -> dict[int, int]:
    """The places of columns that hold the units of another column, with the place of that one.

    Such a column has ``unit`` in its heading, beside the words of the other's: ``track temp unit``; or ``units`` alone
    directly to the right of it.
    """
    quantities = {c.place: c.field for c in columns if c.field and c.field.kind == "quantity"}
    names = {folded(column.heading): column.place for column in columns if column.place in quantities}
    names |= {field.name: place for place, field in quantities.items()}
    found: dict[int, int] = {}
    for column in columns:
        low = folded(column.heading).replace("(", " ").replace(")", " ").replace("[", " ").replace("]", " ")
        if column.field is not None or column.is_ignored or not _UNIT_WORDS.search(low):
            continue
        rest = " ".join(_UNIT_WORDS.sub(" ", low).split())
        of = names.get(rest) if rest else column.place - 1
        if of is None:
            meant = matched(rest, column.place, {}).field
            of = names.get(meant.name) if meant else None
        if of in quantities and of not in found.values():
            found[column.place] = of
    return found


def with_units_beside(rows: Sequence[Row], places: Mapping[int, int]) -> None:
    """Put the cells of columns of units to the numbers that they are for, in place."""
    for row in rows:
        for place, of in places.items():
            if place < len(row) and of < len(row) and trimmed(row[place]):
                row[of] = CellBesideUnit(row[of], trimmed(row[place]))
