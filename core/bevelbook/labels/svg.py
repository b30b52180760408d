"""A sheet as a picture: the same for the page and for the PDF, in millimetres of the paper."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape
from typing import Final

from bevelbook.declare.printable import printable
from bevelbook.labels.code import QUIET_MODULES
from bevelbook.labels.layout import BoxAt, CodeAt, Placed, RuleAt, TextAt
from bevelbook.labels.letter_widths import FACES, is_exact, width_mm
from bevelbook.labels.pages import LabelsOnSheet

POINTS_PER_MM: Final = 72.0 / 25.4
RULER_MM: Final = 100


def sheet_svg(page: LabelsOnSheet, *, in_points: bool = False, with_ruler: bool = False) -> str:
    """The picture of a sheet, as wide and high as its paper: in mm for a page, in points for a PDF."""
    paper = page.sheet.paper
    if in_points:
        size = f'width="{paper.width_mm * POINTS_PER_MM:.4f}" height="{paper.height_mm * POINTS_PER_MM:.4f}"'
    else:
        size = f'width="{paper.width_mm:g}mm" height="{paper.height_mm:g}mm"'
    parts = [*_outlines(page), *(_item(one) for one in page.words), *(_ruler(page) if with_ruler else ())]
    for here in page.labels:
        inside = "".join(_item(one) for one in here.laid_out.placed)
        title = f"<title>{_text(printable(here.laid_out.label.name))}</title>"
        parts.append(f'<g transform="translate({here.place.x_mm:g} {here.place.y_mm:g})">{title}{inside}</g>')
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="0 0 {paper.width_mm:g} {paper.height_mm:g}" '
        f'font-family="{FACES}" fill="#000">{"".join(parts)}</svg>'
    )


def _outlines(page: LabelsOnSheet) -> Iterator[str]:
    sheet = page.sheet
    for one in page.outlines:
        yield (
            f'<rect x="{one.x_mm:g}" y="{one.y_mm:g}" width="{sheet.width_mm:g}" height="{sheet.height_mm:g}" '
            'fill="none" stroke="#888" stroke-width="0.15"/>'
        )


def _ruler(page: LabelsOnSheet) -> Iterator[str]:
    """A line of 100 mm, to measure what the printer made of it."""
    x, y = (page.sheet.paper.width_mm - RULER_MM) / 2.0, page.sheet.paper.height_mm / 2.0
    ends = f"M{x:g} {y - 2:g}v4M{x:g} {y:g}h{RULER_MM}M{x + RULER_MM:g} {y - 2:g}v4"
    yield f'<path d="{ends}" fill="none" stroke="#000" stroke-width="0.2"/>'
    yield _item(TextAt(x + 2.0, y - 1.0, 3.0, f"{RULER_MM} mm from stroke to stroke, if printed at 100 %"))


def _item(one: Placed) -> str:
    match one:
        case TextAt():
            exact = (
                f' textLength="{width_mm(one.text, one.size_mm, is_bold=one.is_bold):.3f}" '
                'lengthAdjust="spacingAndGlyphs"'
                if is_exact(one.text) and len(one.text) > 1
                else ""
            )
            bold = ' font-weight="700"' if one.is_bold else ""
            return f'<text x="{one.x_mm:.3f}" y="{one.y_mm:.3f}" font-size="{one.size_mm:g}"{bold}{exact}>' + (
                f"{_text(one.text)}</text>"
            )
        case RuleAt():
            return f'<path d="M{one.x_mm:.3f} {one.y_mm:.3f}h{one.wide_mm:.3f}" stroke="#000" stroke-width="0.2"/>'
        case BoxAt():
            return (
                f'<rect x="{one.x_mm:.3f}" y="{one.y_mm:.3f}" width="{one.side_mm:.3f}" height="{one.side_mm:.3f}" '
                'fill="none" stroke="#000" stroke-width="0.2"/>'
            )
        case CodeAt():
            return _code(one)


def _code(at: CodeAt) -> str:
    runs = "".join(f"M{x} {y}h{long}v1h-{long}z" for y, row in enumerate(at.code.modules) for x, long in _runs(row))
    quiet = QUIET_MODULES * at.module_mm
    place = f"translate({at.x_mm + quiet:.3f} {at.y_mm + quiet:.3f}) scale({at.module_mm:g})"
    return f'<path transform="{place}" d="{runs}"/>'


def _runs(row: tuple[bool, ...]) -> Iterator[tuple[int, int]]:
    """Where dark modules begin that lie side by side, and how many."""
    begin = None
    for x, is_dark in enumerate((*row, False)):
        if is_dark and begin is None:
            begin = x
        elif not is_dark and begin is not None:
            yield begin, x - begin
            begin = None


def _text(text: str) -> str:
    return escape(text, quote=False)
