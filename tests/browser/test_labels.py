"""A sheet of labels in a browser: its codes are read from the screen, and its print has the measures of the PDF."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
import zxingcpp
from PIL import Image
from pypdf import PdfReader

from bevelbook.labels.contents import PaperLabel, ToWrite, Words
from bevelbook.labels.html import labels_page
from bevelbook.labels.pages import label_pages
from bevelbook.labels.sheets import sheet_of

MM = 25.4 / 72.0
NAMES = ("rear-a/11", "rear-b/2", "Öl 7k", "front-a/3")


@pytest.mark.browser
@pytest.mark.parametrize(("size", "paper_mm"), [("63.5x38.1", (210.0, 297.0)), ("101.6x50.8", (215.9, 279.4))])
def test_a_printed_page_has_the_size_of_its_paper_and_codes_that_are_read(
    browser: Any, tmp_path: Path, size: str, paper_mm: tuple[float, float]
) -> None:
    rows = (Words("oil", "house 7k: 7,000 cSt at 25 °C, its label"), ToWrite("weighing", ("weighed", "g"), (1.0, 1.0)))
    labels = [PaperLabel("bag", name, name, rows) for name in NAMES]
    made = label_pages(labels, sheet_of(size, None), "http://team.local:8002", skip=sheet_of(size, None).labels - 2)
    file = tmp_path / "labels.html"
    file.write_text(labels_page(made.pages, title="labels"), encoding="utf-8")
    page = browser.new_page(viewport={"width": 1280, "height": 900}, device_scale_factor=2)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    try:
        page.goto(file.as_uri())
        seen = Image.open(BytesIO(page.screenshot(full_page=True)))
        printed = PdfReader(BytesIO(page.pdf(prefer_css_page_size=True)))
        wide = page.evaluate("[...document.querySelectorAll('text')].map(t => t.getComputedTextLength())")
        meant = page.evaluate("[...document.querySelectorAll('text')].map(t => t.textLength.baseVal.value)")
    finally:
        page.close()
    assert asked == [file.as_uri()], "it fetches nothing"
    read = {code.text for code in zxingcpp.read_barcodes(seen, formats=zxingcpp.BarcodeFormat.QRCode)}
    assert read == {one.code.text for one in made.labels}
    assert len(printed.pages) == len(made.pages) == 2
    for one in printed.pages:
        size_mm = (float(one.mediabox.width) * MM, float(one.mediabox.height) * MM)
        assert size_mm == pytest.approx(paper_mm, abs=0.2), "a browser rounds to whole pixels"
    assert wide == pytest.approx(meant, abs=0.05), "in whatever face the browser has"
    _as_laid_out(printed, made)


def _as_laid_out(printed: PdfReader, made: Any) -> None:
    """Every name begins where it was laid out, in letters of its size, to a tenth of a millimetre."""
    for page, drawn in zip(made.pages, printed.pages, strict=True):
        found: list[tuple[str, float, float]] = []

        def visit(text: str, cm: Any, tm: Any, font: Any, size: float, found: Any = found) -> None:
            if text.strip():
                x, y = cm[0] * tm[4] + cm[2] * tm[5] + cm[4], cm[1] * tm[4] + cm[3] * tm[5] + cm[5]
                found.append((text.strip(), x * MM, y * MM))

        drawn.extract_text(visitor_text=visit)
        high = float(drawn.mediabox.height) * MM
        for here in page.labels:
            name = here.laid_out.placed[1]
            x, y = here.place.x_mm + name.x_mm, high - here.place.y_mm - name.y_mm
            near = [one for one in found if abs(one[1] - x) < 0.2 and abs(one[2] - y) < 0.2]
            assert any(name.text.startswith(one[0][:1]) for one in near), (name, sorted(found)[:20])
