"""Cells as a table gives them: text, or a number that a sheet holds as a number."""

from __future__ import annotations

import json
from collections.abc import Collection, Sequence
from decimal import Decimal
from typing import Final, cast

from bevelbook.declare.late_pattern import late_pattern

_OLD_MARK: Final = "\ue000"
"""What stood before a number of a workbook in rows kept by version 0.1.0."""


_LIKE_A_GROUP: Final = late_pattern(r"-?\d{1,3}\.\d{3}")
"""A number with a decimal point that reads, typed, as if the point might mark thousands."""


class SheetNumber(str):
    """A number that a sheet holds as a number: its decimal mark needs no guessing and proves nothing about typed text.

    The text is its digits with a decimal point. ``unit`` is what the number format of the cell shows behind it, as
    written there; empty if it shows none. Equal only to another number of a sheet with the same unit, so that a typed
    text with the same digits is read for itself.

    >>> SheetNumber("12.5") == "12.5", SheetNumber("59", "°F") == SheetNumber("59"), str(SheetNumber("7", "g"))
    (False, False, '7')
    """

    __slots__ = ("unit",)
    unit: str

    def __new__(cls, digits: str, unit: str = "") -> SheetNumber:
        made = super().__new__(cls, digits)
        made.unit = unit
        return made

    def __eq__(self, other: object) -> bool:
        return isinstance(other, SheetNumber) and str.__eq__(self, other) and self.unit == other.unit

    def __ne__(self, other: object) -> bool:
        return not self == other

    def __hash__(self) -> int:
        return hash((SheetNumber, str.__hash__(self), self.unit))


class SheetDay(str):
    """A day that a sheet holds as a day, in ISO 8601, with its time of day if it has one.

    Equal only to another such cell, so that a typed text with the same signs is read for itself.
    """

    __slots__ = ()

    def __eq__(self, other: object) -> bool:
        return isinstance(other, SheetDay) and str.__eq__(self, other)

    def __ne__(self, other: object) -> bool:
        return not self == other

    def __hash__(self) -> int:
        return hash((SheetDay, str.__hash__(self)))


class SheetFormula(str):
    """A formula, from its equals sign on, of which a sheet holds no value; equal only to another such cell."""

    __slots__ = ()

    def __eq__(self, other: object) -> bool:
        return isinstance(other, SheetFormula) and str.__eq__(self, other)

    def __ne__(self, other: object) -> bool:
        return not self == other

    def __hash__(self) -> int:
        return hash((SheetFormula, str.__hash__(self)))


class UnsplitCell(str):
    """A cell without one value for each place, in a column that a profile splits: ``what`` says so, ``remedy`` what to
    do. Equal only to another such cell.
    """

    __slots__ = ("remedy", "what")
    what: str
    remedy: str

    def __new__(cls, cell: str, what: str, remedy: str) -> UnsplitCell:
        made = super().__new__(cls, str(cell))
        made.what, made.remedy = what, remedy
        return made

    def __eq__(self, other: object) -> bool:
        return isinstance(other, UnsplitCell) and str.__eq__(self, other)

    def __ne__(self, other: object) -> bool:
        return not self == other

    def __hash__(self) -> int:
        return hash((UnsplitCell, str.__hash__(self)))


class CellBesideUnit(str):
    """A cell with the unit that a column beside it says: ``cell`` is the cell as the table gives it.

    >>> beside = CellBesideUnit("59", "F")
    >>> str(beside), beside.cell, beside.unit, beside == CellBesideUnit("59", "C")
    ('59', '59', 'F', False)
    """

    __slots__ = ("cell", "unit")
    cell: str
    unit: str

    def __new__(cls, cell: str, unit: str) -> CellBesideUnit:
        made = super().__new__(cls, str(cell))
        made.cell, made.unit = cell, unit
        return made

    def __eq__(self, other: object) -> bool:
        return isinstance(other, CellBesideUnit) and self.cell == other.cell and self.unit == other.unit

    def __ne__(self, other: object) -> bool:
        return not self == other

    def __hash__(self) -> int:
        return hash((CellBesideUnit, self.cell, self.unit))


def parts_of_cell(cell: str) -> tuple[str, str, str]:
    """A cell, the unit that its number format shows, and the unit that a column beside it says; empty for none."""
    beside = ""
    if isinstance(cell, CellBesideUnit):
        beside, cell = cell.unit, cell.cell
    return cell, cell.unit if isinstance(cell, SheetNumber) else "", beside


def typed_cells(row: Sequence[str], numbers: Collection[int]) -> Sequence[str]:
    """The cells of a row as texts that read the same where they are typed; ``numbers`` are the places of the columns of
    numbers.

    >>> typed_cells([SheetNumber("59", "°F"), SheetNumber("1.125"), SheetNumber("1.125"), "1.125"], {0, 1, 3})
    ['59 °F', '1.1250', '1.125', '1.125']
    """
    if all(cell.__class__ is str for cell in row):
        return row
    return [_typed_number(cell) if place in numbers else str(cell) for place, cell in enumerate(row)]


def _typed_number(cell: str) -> str:
    number, unit, _ = parts_of_cell(cell)
    if not isinstance(number, SheetNumber):
        return str(cell)
    digits = format(Decimal(str(number)), "f")
    if _LIKE_A_GROUP.fullmatch(digits):
        digits += "0"
    return f"{digits} {unit}".rstrip()


def kept_cells(raw: str) -> list[str]:
    """The cells of a row as they were kept in JSON."""
    return [str(cell).removeprefix(_OLD_MARK) for cell in cast("list[object]", json.loads(raw))]
