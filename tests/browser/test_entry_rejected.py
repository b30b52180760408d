"""Rejected rows mended with a finger: by a button, by the keypad of its field, and one that was still wrong."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from io import BytesIO

import pytest
from entry_phone import Book, TouchPhone

from bevelbook.notes.importing_parts import import_all
from bevelbook.notes.settings import Settings
from bevelbook.store.opening import open_for_writing

pytestmark = pytest.mark.browser

Phones = Callable[..., TouchPhone]
SEASON = """Date,Who,Diff,Dry [g],Oil [g],Total [g],Oil visc,Grip,Notes
2024-02-13,ana,rear-a,12.42,1.86,14.28,7000,high,fine
03/04/2024,ana,rear-a,12.42,1.86,14.28,7000,high,which day
2024-04-16,ana,rear-a,12.42,ca. 1.9,14.32,7000,high,about
2024-04-17,ana,rear-a,12.42,1.86,15.28,7000,hihg,two slips
"""
"""Invented."""


def test_rows_are_mended_by_button_and_keypad(book: Book, phones: Phones) -> None:
    with closing(open_for_writing(book.path)) as connection:
        import_all(BytesIO(SEASON.encode()), "season.csv", connection, book.path, Settings(), by="ana")
    phone = phones().paired().tap("3 rows")
    phone.tap("season.csv")
    oil = phone.page.get_by_label("Oil [g]", exact=True).locator("visible=true").first
    assert oil.get_attribute("inputmode") == "decimal"
    phone.choose("Date", "3 Apr 2024, the day first").text("Oil [g]", "1.90").choose("Grip", "high")
    phone.tap("Bring in what is mended")
    assert "2 rows brought in." in phone.words()
    assert "Not brought in: line 5" in phone.words()
    assert "12.42 g dry and 1.86 g of oil make 14.28 g, not 15.28 g" in phone.words()
    phone.text("Total [g]", "14.28").tap("Bring it in")
    assert "All rows of this file are in." in phone.words()
    assert book.rows("SELECT built_on, oil_mass_g FROM builds WHERE note_file IS NOT NULL ORDER BY built_on, id") == [
        ("2024-02-13", 1.86),
        ("2024-04-03", 1.86),
        ("2024-04-16", 1.9),
        ("2024-04-17", 1.86),
    ]
    assert phone.taps <= 12
