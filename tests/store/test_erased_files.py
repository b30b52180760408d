"""Whether a kept file holds what was erased: what cannot be read may hold it."""

from __future__ import annotations

import zlib
from io import BytesIO
from zipfile import ZIP_DEFLATED, ZipFile

import pytest

from bevelbook.store.blanking import holds_erased
from bevelbook.store.blanking_rules import Blanking
from bevelbook.store.erased_marks import marks_of_name


def _workbook(words: str) -> bytes:
    out = BytesIO()
    with ZipFile(out, "w", ZIP_DEFLATED) as made:
        made.writestr("xl/sharedStrings.xml", f"<t>{words}</t>" * 50)
    return out.getvalue()


@pytest.mark.parametrize(
    ("file", "holds"),
    [
        (b"day,who\n2026-05-03,Zoltan\n", True),
        (b"day,who\n2026-05-03,bo\n", False),
        (_workbook("Zoltan"), True),
        (_workbook("bo"), False),
        (_workbook("bo")[:60], True),
        (_workbook("bo").replace(b"\x78\x9c", b"\0\0")[:55] + b"\xff" * 20 + _workbook("bo")[75:], True),
    ],
    ids=["text with it", "text", "workbook with it", "workbook", "cut workbook", "packed bytes overwritten"],
)
def test_a_file_that_cannot_be_read_counts_as_if_it_held_the_name(file: bytes, holds: bool) -> None:
    blank = Blanking(marks_of_name("Zoltan", "erased 1", in_texts=True))
    assert holds_erased(zlib.compress(file), blank) is holds
    assert not holds_erased(zlib.compress(file), Blanking(set()))
