"""Sheets of labels as a PDF, in which a millimetre is a millimetre."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from importlib.util import find_spec
from io import BytesIO
from typing import Final

from bevelbook.declare.errors import InputError
from bevelbook.drawing.pdf import has_shape, page_of_svg
from bevelbook.labels.code import INSTALL
from bevelbook.labels.layout import LabelLaidOut, TextAt
from bevelbook.labels.letter_widths import FACES, is_exact
from bevelbook.labels.pages import LabelsOnSheet
from bevelbook.labels.svg import sheet_svg

CREATOR: Final = "bevelbook labels"


def needs_pdf_library() -> InputError | None:
    """The error where no PDF can be written here; None where one can."""
    missing = next((name for name in ("pypdf", "vl_convert") if find_spec(name) is None), None)
    if missing is None:
        return None
    if missing == "vl_convert":
        return InputError(
            "this machine has no library that draws a PDF",
            code="no_pdf",
            remedy="Print the page that 'bevelbook labels --html FILE' writes, from a browser, at 100 %.",
        )
    return InputError("a PDF needs one more library", code="no_pdf", remedy=INSTALL)


def labels_pdf(pages: Sequence[LabelsOnSheet], *, title: str, with_ruler: bool = False) -> bytes:
    """A PDF with a page for every sheet, each as large as its paper."""
    from pypdf import PdfReader, PdfWriter

    writer = PdfWriter()
    for page in pages:
        drawn = page_of_svg(sheet_svg(page, in_points=True, with_ruler=with_ruler))
        writer.add_page(PdfReader(BytesIO(drawn)).pages[0])
    writer.add_metadata({"/Title": title, "/Creator": CREATOR})
    out = BytesIO()
    writer.write(out)
    return out.getvalue()


def without_shape(labels: Iterable[LabelLaidOut]) -> Iterator[str]:
    """What a PDF made on this machine lacks: letters that none of its faces has, by label."""
    for one in labels:
        text = "".join(item.text for item in one.placed if isinstance(item, TextAt))
        missing = dict.fromkeys(letter for letter in text if not is_exact(letter) and not has_shape(letter, FACES))
        if missing:
            yield (
                f"{one.label.name}: no face on this machine has {' '.join(missing)}, so the PDF shows a box there. "
                "Print the page that 'bevelbook labels --html FILE' writes from a browser that shows it."
            )
