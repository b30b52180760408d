"""Printing a page to PDF, and what is on the sheets of paper."""

from __future__ import annotations

import io
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser


class Printed(NamedTuple):
    """The sheets of paper: width and height of each in points, and the size of the smallest letters in points."""

    sheets: tuple[tuple[float, float], ...]
    smallest_pt: float


def chromium() -> Iterator[Browser]:
    """A headless Chromium: the system's, else the one that playwright brings."""
    from playwright.sync_api import Error, sync_playwright

    found = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    with sync_playwright() as playwright:
        try:
            opened = playwright.chromium.launch(executable_path=found, args=["--no-sandbox"])
        except Error as fault:
            pytest.skip(f"no Chromium starts here: {fault}")
        yield opened
        opened.close()


def printed(browser: Browser, page: Path, paper: str) -> Printed:
    """What a browser prints of a page on A4 or Letter, as its own style sheet lays it."""
    from pypdf import PdfReader

    opened = browser.new_page()
    opened.goto(page.as_uri())
    reader = PdfReader(io.BytesIO(opened.pdf(format=paper, prefer_css_page_size=True)))
    opened.close()
    sizes: list[float] = []

    def look(text: str, outer: Any, matrix: Any, _font: Any, size: float) -> None:
        if text.strip():
            sizes.append(size * _scale(outer) * _scale(matrix))

    for sheet in reader.pages:
        sheet.extract_text(visitor_text=look)
    return Printed(
        tuple((float(sheet.mediabox.width), float(sheet.mediabox.height)) for sheet in reader.pages), min(sizes)
    )


def _scale(matrix: Any) -> float:
    """How much taller a matrix of PDF makes a letter."""
    return float((matrix[2] ** 2 + matrix[3] ** 2) ** 0.5)
