"""The label of a bottle: the fluid as its own label names it, what it is and since when, and what it weighs."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from typing import Final

from bevelbook.display.format import format_figure
from bevelbook.facts.bottles_left import BY_LOOK, BY_SCALE, BottleLeft, left_in
from bevelbook.facts.oil import OWN_MEASUREMENT
from bevelbook.facts.sql import Row, rows
from bevelbook.labels.contents import Boxes, LabelRow, PaperLabel, ToWrite, Words
from bevelbook.labels.oil_on_label import cst_words

_BOTTLES: Final = """
SELECT bo.*, f.label, f.medium, f.viscosity_cst AS fluid_cst, f.viscosity_source
FROM bottles bo JOIN fluids f ON f.id = bo.fluid WHERE bo.id = ?
"""
_AT_HAND: Final = """
SELECT bo.id FROM bottles bo JOIN fluids f ON f.id = bo.fluid
WHERE coalesce(bo.empty, 'no') <> 'yes' AND (?1 IS NULL OR bo.fluid = ?1) ORDER BY f.label, bo.lot, bo.id
"""
_CHECKED: Final = (BY_SCALE, BY_LOOK)
_LEAST: Final = ("left", "what is in it", "shake", "opened on", "masses")


def bottles_at_hand(connection: sqlite3.Connection, fluid: str | None = None) -> list[str]:
    """The ids of all bottles that are not used up, or of those of one fluid."""
    return [str(row[0]) for row in connection.execute(_AT_HAND, (fluid,))]


def bottle_labels(connection: sqlite3.Connection, bottles: Iterable[str]) -> Iterator[PaperLabel]:
    """The label of each bottle, by their ids."""
    left = left_in(connection)
    for bottle in bottles:
        for row in rows(connection, _BOTTLES, (bottle,)):
            asked_as = f"{row['label']} {row['lot']}" if row["lot"] else str(row["label"])
            yield PaperLabel("bottle", row["label"], asked_as, tuple(_rows(row, left.get(bottle))), _LEAST)


def _rows(row: Row, left: BottleLeft | None) -> Iterator[LabelRow]:
    yield Words("lot", f"lot {row['lot']}") if row["lot"] else ToWrite("lot", ("lot",), (1.0,))
    yield Words("cSt", _viscosity(row))
    if row["opened_on"]:
        yield Words("opened on", f"opened {row['opened_on']}")
    else:
        yield ToWrite("opened on", ("opened on",), (1.0,))
    yield _masses(row["full_mass_g"], row["empty_mass_g"])
    if left is not None and left.rests_on in _CHECKED:
        yield Words("left", f"when printed: {left.short}")
    yield Boxes("shake", "shake it before use:", 2, ("yes", "no"))
    yield ToWrite("what is in it", ("weighed", "g on"), (1.0, 1.2))


def _viscosity(row: Row) -> str:
    if row["medium"] not in (None, "oil"):
        return f"{row['medium']}, not an oil"
    if row["viscosity_cst"] is None:
        return cst_words(row["fluid_cst"], row["viscosity_source"])
    how = f" ({row['method']})" if row["method"] else ""
    day = f", {row['measured_on']}" if row["measured_on"] else ""
    return f"{cst_words(row['viscosity_cst'], OWN_MEASUREMENT)}{how}{day}"


def _masses(full_g: float | None, empty_g: float | None) -> LabelRow:
    """What it weighs with its cap on; where nobody weighed it, a blank to write it on."""
    full, empty = (None if one is None else f"{format_figure(one, 'g')} g" for one in (full_g, empty_g))
    if full and empty:
        return Words("masses", f"with its cap: full {full}, empty {empty}")
    if full:
        return ToWrite("masses", (f"with its cap: full {full}, empty",), (1.0,), "g")
    if empty:
        return ToWrite("masses", (f"with its cap: empty {empty}, full",), (1.0,), "g")
    return ToWrite("masses", ("with its cap: full", "g, empty"), (1.0, 1.0), "g")
