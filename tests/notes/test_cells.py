"""Cells: a number that a sheet holds as a number is not the text with the same digits."""

from __future__ import annotations

import json

from bevelbook.notes.cells import SheetNumber, kept_cells


def test_a_number_of_a_sheet_is_found_beside_a_text_with_the_same_digits() -> None:
    held = {SheetNumber("59"): "number", "59": "text", SheetNumber("59", "°F"): "with its unit"}
    assert [held[SheetNumber("59")], held["59"], held[SheetNumber("59", "°F")]] == ["number", "text", "with its unit"]
    assert SheetNumber("59") == SheetNumber("59")
    assert SheetNumber("59") != "59"
    assert SheetNumber("59") != "59"


def test_cells_are_kept_as_their_text_and_read_as_older_versions_kept_them() -> None:
    raw = json.dumps([SheetNumber("7"), "7", "\ue0009.52", "x\ue000"])
    assert raw.startswith('["7", "7",')
    assert kept_cells(raw) == ["7", "7", "9.52", "x\ue000"]
    assert {type(cell) for cell in kept_cells(raw)} == {str}
