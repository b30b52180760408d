"""Work at the bench on a phone: a fill that is the same again, and a rebuild step by step, each to its card."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from entry_phone import Book, TouchPhone

pytestmark = pytest.mark.browser

Phones = Callable[..., TouchPhone]
FILL = "SELECT dry_mass_g, filled_mass_g, closed_mass_g FROM builds WHERE label = ?"


def test_an_oil_change_the_same_again_takes_fifteen_taps_and_four_numbers_to_its_card(
    book: Book, phones: Phones
) -> None:
    phone = phones().paired()
    phone.tap("to the bench").tap("oil change").tap("Same again as front-a/2")
    phone.number("Closed, outside wiped", "21.97").tap("Next")
    phone.tap("Dry all round").tap("Next").tap("All sound, oil grey").tap("All the same as new: oiled, in again")
    phone.tap("All as front-a/2")
    phone.number("Dry, before oil", "12.10").tap("Next")
    phone.number("On the scale", "13.96").tap("That is the last reading").tap("Next: 13.96 g, or as typed")
    phone.number("Closed, outside wiped", "21,96").tap("Next").tap("All done as usual")
    assert "/-/card/" in phone.page.url
    assert "Stop pouring at 13.96 g" in phone.words()
    assert book.rows(FILL, "front-a/3") == [(12.10, 13.96, 21.96)]
    assert phone.numbers == 4
    assert phone.taps <= 15


def test_a_reading_while_pouring_takes_its_number_alone_and_stores_nothing(book: Book, phones: Phones) -> None:
    phone = phones().paired()
    phone.tap("to the bench").tap("oil change").tap("Same again as front-a/2")
    phone.page.goto(phone.page.url.replace("weigh-closed-before", "weigh-dry"))
    phone.number("Dry, before oil", "12.10").tap("Next")
    assert phone.page.url.partition("?")[0].endswith("/fill")
    taps, entries = phone.taps, book.count("entries")
    for reading, said in (("13.54", "0.42 g to go"), ("13.81", "0.15 g to go"), ("13.96", "full")):
        phone.page.keyboard.type(reading)
        phone.page.locator(".to-go", has_text=said).wait_for()
    assert phone.taps == taps
    assert book.count("entries") == entries
    assert phone.page.locator(".shown strong").inner_text() == "13.96"
