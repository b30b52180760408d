"""Sheets of labels: their measures add up on their paper, whose size is that of the standards."""

from __future__ import annotations

import pytest

from bevelbook.declare.errors import InputError
from bevelbook.labels.letter_widths import width_mm
from bevelbook.labels.sheets import PAPERS, SHEETS, LabelSheet, sheet_of


def test_paper_is_as_in_the_standards() -> None:
    """A4 is 210 x 297 mm (ISO 216), Letter 8.5 x 11 inches (ANSI/ASME Y14.1), an inch 25.4 mm."""
    assert [(one.width_mm, one.height_mm) for one in PAPERS.values()] == [(210, 297), (pytest.approx(215.9), 279.4)]


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: f"{sheet.paper.name} {sheet.size}")
def test_labels_and_margins_are_the_whole_paper(sheet: LabelSheet) -> None:
    places = list(sheet.places)
    assert len(places) == sheet.columns * sheet.rows == len(set(places))
    last = places[-1]
    assert places[0] == (pytest.approx(sheet.left_mm), pytest.approx(sheet.top_mm))
    assert last.x_mm + sheet.width_mm + sheet.left_mm == pytest.approx(sheet.paper.width_mm)
    assert last.y_mm + sheet.height_mm + sheet.top_mm == pytest.approx(sheet.paper.height_mm)
    assert min(sheet.left_mm, sheet.top_mm) >= 0
    for one in places:
        for other in places:
            apart_x, apart_y = abs(one.x_mm - other.x_mm), abs(one.y_mm - other.y_mm)
            assert one is other or apart_x >= sheet.width_mm - 1e-9 or apart_y >= sheet.height_mm - 1e-9
    assert sheet_of(sheet.size, sheet.paper.name) == sheet


@pytest.mark.parametrize(
    ("size", "paper", "code"),
    [
        ("12x12", None, "unknown_sheet"),
        ("a brand", None, "unknown_sheet"),
        ("66.7x25.4", "a4", "unknown_sheet"),
        ("4x7:63.5x38.1", None, "sheet_too_large"),
        ("0x7:63.5x38.1", None, "sheet_too_large"),
        ("5x13:38.1x15", None, "label_too_small"),
    ],
)
def test_measures_that_cannot_be_are_refused(size: str, paper: str | None, code: str) -> None:
    with pytest.raises(InputError) as fault:
        sheet_of(size, paper)
    assert (fault.value.code, fault.value.found) == (code, size)


def test_a_size_names_its_paper_and_own_measures_take_gaps() -> None:
    assert sheet_of("66,7 x 25,4", None).paper.name == "letter"
    own = sheet_of("3x7:63.5x38.1:2.5x0", None)
    assert own == sheet_of("63.5x38.1", None)
    assert own.left_mm == pytest.approx(7.25), "210 less three labels of 63.5 and two gaps of 2.5, halved"


@pytest.mark.parametrize(("face", "is_bold"), [("Helvetica", False), ("Helvetica-Bold", True)])
def test_widths_are_those_of_the_standard_sans_face_of_pdf(face: str, is_bold: bool) -> None:
    """The font metrics of the standard 14 fonts, as the library that reads PDFs has them."""
    metrics = pytest.importorskip("pypdf._codecs.core_font_metrics").CORE_FONT_METRICS[face].character_widths
    for letter in (*map(chr, range(32, 127)), *"°±×–—“”‘’ÆØæßÖéñ"):
        assert width_mm(letter, 1000.0, is_bold=is_bold) == metrics[letter], letter
