"""Whether the cells of a column could be values of a field, to find out what its heading means."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import Final

from bevelbook.declare.fields import Field
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.notes.cells import SheetNumber
from bevelbook.notes.note_columns import BY_NAME
from bevelbook.reading import ReadingError, read
from bevelbook.reading.faults import NUMBER_MISSING, trimmed
from bevelbook.reading.numbers import is_sane, parts_of
from bevelbook.reading.units import UnitError, converted, looks_like_unit, names_unit, scale_of

FITTING_SHARE: Final = 0.8
"""The share of its cells that a field has to take: notes have slips, and those are judged row by row."""
_FEWEST_COUNTED: Final = 3
_GRAMS: Final = late_pattern(r"[-+]?\d+(?:[.,]\d+)?\s*(?:g|mg|grams?)?", re.IGNORECASE)
_LARGEST_WHOLE_GRAMS: Final = 10.0
_READ_IN: Final = {"°C": ("°C", "°F")}
"""Units that a number without one may be in, besides the canonical one of its field."""
_NO_NUMBER: Final = "number_unparseable"
_NO_DAY: Final = ("date_unparseable", "date_incomplete", "spreadsheet_error")
_GROUPED: Final = late_pattern(r"\d{1,3}[.,]\d00")
"""Thousands, or grams to three decimals: it says nothing of what is meant."""


def sampled(cells: Iterable[str]) -> list[str]:
    """The cells that say something: no blanks, no marks of a missing value, no names of units; each spelling once."""
    kept = dict.fromkeys(cell for cell in cells if trimmed(cell).lower() not in NUMBER_MISSING)
    return [cell for cell in kept if isinstance(cell, SheetNumber) or not looks_like_unit(trimmed(cell).strip("()[]"))]


def fits(name: str, unit: str | None, cells: Sequence[str]) -> bool:
    """Whether at least four in five of these cells could be values of the note column, in its range of sane values.

    ``cells`` are those of :func:`sampled`, ``unit`` is the one in the heading. Without cells nothing fits.
    """
    if not cells:
        return False
    if name == "oil_mass_g" and unit is None and not any(map(_has_decimals_or_unit, cells)):
        return False
    if name == "fluid":
        return _are_labels(cells)
    field = BY_NAME[name]
    if name == "diff" and counts_on(cells):
        return False
    taken = sum(1 for cell in cells if _takes(field, unit, cell))
    return taken >= FITTING_SHARE * len(cells)


def could_be(field: Field, cells: Sequence[str]) -> bool:
    """Whether any cell could be meant as a value of a field that is not text, be it a wrong one."""
    if field.kind in ("quantity", "whole"):
        return any(_is_like_a_number(field, cell) for cell in cells)
    if field.kind in ("date", "time", "choice"):
        return any(_takes(field, None, cell) or _has_digit(cell) for cell in cells)
    return True


def has_unit_of(field: Field, cell: str) -> bool:
    """Whether a cell is a number with a unit of the field behind it."""
    try:
        parts = parts_of(field, str(cell))
    except ReadingError:
        return False
    return parts is not None and bool(parts.unit) and names_unit(field.read_in, parts.unit)


def counts_on(cells: Sequence[str]) -> bool:
    """Whether the cells are numbers that go up by one from row to row, as the numbers of rows do."""
    if len(cells) < _FEWEST_COUNTED or not all(cell.isascii() and cell.isdecimal() for cell in cells):
        return False
    numbers = [int(cell) for cell in cells]
    return all(after - before == 1 for before, after in pairwise(numbers))


def is_oil_like(cells: Sequence[str]) -> bool:
    """Whether the cells look like what nothing but an oil is called, ``7k``, ``30wt``, ``5000 cSt``, or like grams."""
    viscosity = BY_NAME["viscosity_cst"]
    labels = sum(1 for cell in cells if re.search(r"\d\s*(?:k|wt|w|weight)\b", cell, re.IGNORECASE))
    labels += sum(1 for cell in cells if has_unit_of(viscosity, cell))
    grams = sum(1 for cell in cells if _GRAMS.fullmatch(trimmed(cell)) and _has_decimals_or_unit(cell))
    return bool(cells) and max(labels, grams) >= FITTING_SHARE * len(cells)


def _takes(field: Field, unit: str | None, cell: str) -> bool:
    try:
        if field.kind in ("quantity", "whole"):
            return _is_sane_number(field, unit, cell)
        if field.kind in ("date", "time", "choice"):
            return read(field, str(cell)) is not None
    except ReadingError as error:
        return field.kind == "date" and error.code not in _NO_DAY
    return field.name in ("diff", "result_note") or not _is_number(cell)


def _is_sane_number(field: Field, unit: str | None, cell: str) -> bool:
    """Whether a cell is a number of the field under one of the decimal marks, in a unit that it may be in."""
    if isinstance(cell, SheetNumber):
        readings, said = {float(cell)}, cell.unit
    else:
        parts = parts_of(field, cell)
        if parts is None:
            return False
        readings, said = {one for one in (parts.under("."), parts.under(",")) if one is not None}, parts.unit
    canonical = field.read_in
    units = [said or unit or ""] if said or unit else _READ_IN.get(canonical, ("",))
    for one in units:
        try:
            scale = scale_of(canonical, one)
        except UnitError:
            continue
        if any(is_sane(field, converted(value, scale)) for value in readings):
            return True
    return False


def _is_like_a_number(field: Field, cell: str) -> bool:
    if isinstance(cell, SheetNumber):
        return True
    try:
        return parts_of(field, cell) is not None
    except ReadingError as error:
        return error.code != _NO_NUMBER


def _is_number(cell: str) -> bool:
    """Whether a cell is a number, with or without a unit: no name of a person or a place."""
    if isinstance(cell, SheetNumber):
        return True
    try:
        parts = parts_of(BY_NAME["track_temp_c"], cell)
    except ReadingError:
        return False
    return parts is not None and (not parts.unit or looks_like_unit(parts.unit))


def _are_labels(cells: Sequence[str]) -> bool:
    """Whether the cells are what an oil is called, not what it weighs. A whole number up to 10 may be either, and
    follows the others."""
    labels = sum(1 for cell in cells if not _GRAMS.fullmatch(trimmed(cell)) or _beyond_grams(cell))
    either = sum(1 for cell in cells if _GRAMS.fullmatch(trimmed(cell)) and not _has_decimals_or_unit(cell))
    return labels > 0 and labels + (0 if labels == len(cells) else either) >= FITTING_SHARE * len(cells)


def _beyond_grams(cell: str) -> bool:
    plain = trimmed(cell).replace(",", ".")
    try:
        return float(plain) > _LARGEST_WHOLE_GRAMS
    except ValueError:
        return False


def _has_decimals_or_unit(cell: str) -> bool:
    return not _GROUPED.fullmatch(trimmed(cell)) and bool(re.search(r"\d[.,]\d|[a-z]", cell, re.IGNORECASE))


def _has_digit(cell: str) -> bool:
    return any(character.isdigit() for character in cell)
