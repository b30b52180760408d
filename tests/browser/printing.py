"""Printing a page to PDF, and what is on the sheets of paper."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from playwright.sync_api import Browser


class Printed(NamedTuple):
    """The sheets of paper: width and height of each in points, their text, and the smallest letters in points."""

    sheets: tuple[tuple[float, float], ...]
    texts: tuple[str, ...]
    smallest_pt: float


def printed(browser: Browser, page: Path | str, paper: str) -> Printed:
    """What a browser prints of a page on A4 or Letter, as its own style sheet lays it."""
    from pypdf import PdfReader

    opened = browser.new_page()
    opened.goto(page.as_uri() if isinstance(page, Path) else page)
    reader = PdfReader(io.BytesIO(opened.pdf(format=paper, prefer_css_page_size=True)))
    opened.close()
    sizes: list[float] = []

    def look(text: str, outer: Any, matrix: Any, _font: Any, size: float) -> None:
        if text.strip():
            sizes.append(size * _scale(outer) * _scale(matrix))

    texts = tuple(" ".join(sheet.extract_text(visitor_text=look).split()) for sheet in reader.pages)
    sheets = tuple((float(sheet.mediabox.width), float(sheet.mediabox.height)) for sheet in reader.pages)
    return Printed(sheets, texts, min(sizes))


def _scale(matrix: Any) -> float:
    """How much taller a matrix of PDF makes a letter."""
    return float((matrix[2] ** 2 + matrix[3] ** 2) ** 0.5)
