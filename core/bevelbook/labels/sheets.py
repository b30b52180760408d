"""Sheets of labels by their measures, and the places of the labels on them, in mm.

A sheet is the same to the left and the right and above and below, so that its margins follow from its paper. The sizes
of label paper are common practice, from memory: whoever has other ones says its measures.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final, NamedTuple

from bevelbook.declare.errors import InputError
from bevelbook.declare.late_pattern import late_pattern

MM_PER_INCH: Final = 25.4
LEAST_WIDTH_MM: Final = 35.0
LEAST_HEIGHT_MM: Final = 20.0
"""A smaller label has no room for a name in letters of 5 mm and its code."""


class PaperSize(NamedTuple):
    """A sheet of paper. A4: ISO 216; Letter: ANSI/ASME Y14.1."""

    name: str
    shown: str
    width_mm: float
    height_mm: float


A4: Final = PaperSize("a4", "A4", 210.0, 297.0)
LETTER: Final = PaperSize("letter", "Letter", 8.5 * MM_PER_INCH, 11.0 * MM_PER_INCH)
PAPERS: Final = {one.name: one for one in (A4, LETTER)}


class LabelPlace(NamedTuple):
    """Where one label is on its sheet: its upper left corner, from that of the paper."""

    x_mm: float
    y_mm: float


class LabelSheet(NamedTuple):
    """A sheet of labels. ``is_cut`` is plain paper, cut along lines that are printed."""

    paper: PaperSize
    columns: int
    rows: int
    width_mm: float
    height_mm: float
    gap_x_mm: float = 0.0
    gap_y_mm: float = 0.0
    is_cut: bool = False

    @property
    def size(self) -> str:
        """Width and height of a label, by which a sheet is asked for."""
        return f"{self.width_mm:g}x{self.height_mm:g}"

    @property
    def labels(self) -> int:
        return self.columns * self.rows

    @property
    def left_mm(self) -> float:
        """The margin to the left and to the right."""
        return (self.paper.width_mm - self.columns * self.width_mm - (self.columns - 1) * self.gap_x_mm) / 2.0

    @property
    def top_mm(self) -> float:
        """The margin above and below."""
        return (self.paper.height_mm - self.rows * self.height_mm - (self.rows - 1) * self.gap_y_mm) / 2.0

    @property
    def places(self) -> Iterator[LabelPlace]:
        """The places of its labels, line by line from above."""
        for row in range(self.rows):
            for column in range(self.columns):
                yield LabelPlace(
                    self.left_mm + column * (self.width_mm + self.gap_x_mm),
                    self.top_mm + row * (self.height_mm + self.gap_y_mm),
                )

    @property
    def words(self) -> str:
        """Its measures in a line."""
        gap = f", {self.gap_x_mm:g} mm between columns" if self.gap_x_mm and self.columns > 1 else ""
        gap += f", {self.gap_y_mm:g} mm between rows" if self.gap_y_mm and self.rows > 1 else ""
        margins = f"{self.left_mm:.1f} mm at the sides, {self.top_mm:.1f} mm above and below"
        plain = ", plain paper to cut" if self.is_cut else ""
        return f"{self.columns} x {self.rows} of {self.size} mm on {self.paper.shown}{gap}; {margins}{plain}"


PLAIN: Final = "90x50"
"""The sheet that is taken where none is named: plain paper, cut by hand."""
SHEETS: Final = (
    LabelSheet(A4, 2, 5, 90.0, 50.0, is_cut=True),
    LabelSheet(A4, 2, 4, 99.1, 67.7, 2.5),
    LabelSheet(A4, 2, 5, 99.1, 57.0, 2.5),
    LabelSheet(A4, 2, 6, 99.1, 42.3, 2.5),
    LabelSheet(A4, 2, 7, 99.1, 38.1, 2.5),
    LabelSheet(A4, 3, 6, 63.5, 46.6, 2.5),
    LabelSheet(A4, 3, 7, 63.5, 38.1, 2.5),
    LabelSheet(A4, 3, 8, 63.5, 33.9, 2.5),
    LabelSheet(A4, 3, 8, 70.0, 36.0),
    LabelSheet(LETTER, 2, 5, 90.0, 50.0, is_cut=True),
    LabelSheet(LETTER, 2, 3, 101.6, 84.7, 4.8),
    LabelSheet(LETTER, 2, 5, 101.6, 50.8, 4.8),
    LabelSheet(LETTER, 2, 7, 101.6, 33.9, 4.8),
    LabelSheet(LETTER, 3, 10, 66.7, 25.4, 3.2),
)
"""Common sheets, the largest labels of a paper first after the plain one."""

_NUMBER: Final = r"(\d{1,3}(?:[.,]\d{1,2})?)"
_SIZE: Final = late_pattern(rf"{_NUMBER}\s?[x×]\s?{_NUMBER}", re.IGNORECASE)
_OWN: Final = late_pattern(
    rf"(\d{{1,2}})\s?[x×]\s?(\d{{1,2}}):{_NUMBER}[x×]{_NUMBER}(?::{_NUMBER}[x×]{_NUMBER})?", re.IGNORECASE
)
OWN_FORM: Final = "COLUMNSxROWS:WIDTHxHEIGHT or COLUMNSxROWS:WIDTHxHEIGHT:GAPxGAP, in mm"


def sheet_of(size: str | None, paper: str | None) -> LabelSheet:
    """The sheet whose labels have a size, such as ``63.5x38.1``, or with measures of its own: ``3x7:63.5x38.1:2.5x0``.

    Without a size plain paper; without a paper the one that has labels of that size, else A4. Raises InputError.

    >>> sheet_of("63,5 x 38,1", None).words
    '3 x 7 of 63.5x38.1 mm on A4, 2.5 mm between columns; 7.3 mm at the sides, 15.2 mm above and below'
    >>> sheet_of("2x8:105x35", "a4").words
    '2 x 8 of 105x35 mm on A4; 0.0 mm at the sides, 8.5 mm above and below'
    """
    if paper is not None and paper not in PAPERS:
        raise InputError(
            "there are sheets of two papers here",
            code="unknown_sheet",
            found=paper,
            remedy=f"Take {' or '.join(PAPERS)}.",
        )
    typed = (size or PLAIN).strip()
    found = _SIZE.fullmatch(typed)
    if found is not None:
        measures = tuple(_number(one) for one in found.groups())
        for sheet in SHEETS:
            if (sheet.width_mm, sheet.height_mm) == measures and paper in (None, sheet.paper.name):
                return sheet
    own = _OWN.fullmatch(typed)
    if own is None:
        known = ", ".join(one.size for one in SHEETS if paper in (None, one.paper.name))
        on = f" on {PAPERS[paper].shown}" if paper else ""
        raise InputError(
            f"there is no sheet with labels of that size{on}",
            code="unknown_sheet",
            found=size,
            remedy=f"Take {known}, or give your own measures: {OWN_FORM}. 'bevelbook help labels' has all measures.",
        )
    columns, rows = int(own[1]), int(own[2])
    width, height, gap_x, gap_y = (_number(one) if one else 0.0 for one in own.groups()[2:])
    return _fitting(LabelSheet(PAPERS[paper or A4.name], columns, rows, width, height, gap_x, gap_y), typed)


def _fitting(sheet: LabelSheet, typed: str) -> LabelSheet:
    if not sheet.labels or sheet.left_mm < 0 or sheet.top_mm < 0:
        raise InputError(
            f"these labels are more than one sheet of {sheet.paper.shown} holds "
            f"({sheet.paper.width_mm:g} x {sheet.paper.height_mm:g} mm)",
            code="sheet_too_large",
            found=typed,
            wanted=OWN_FORM,
            remedy="Measure the sheet again: columns and rows, then width and height of one label.",
        )
    if sheet.width_mm < LEAST_WIDTH_MM or sheet.height_mm < LEAST_HEIGHT_MM:
        raise InputError(
            "labels of that size have no room for a name in letters of 5 mm and its code",
            code="label_too_small",
            found=typed,
            wanted=f"{LEAST_WIDTH_MM:g} x {LEAST_HEIGHT_MM:g} mm or more",
            remedy="Take a sheet with larger labels.",
        )
    return sheet


def _number(text: str) -> float:
    return float(text.replace(",", "."))
