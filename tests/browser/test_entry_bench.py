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
    phone.tap("Dry all round").tap("Next").tap("All sound, oil grey").tap("All as front-a/2")
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


def test_a_rebuild_step_by_step_is_left_on_one_phone_and_ends_on_its_card_on_another(
    book: Book, phones: Phones
) -> None:
    ana = phones().paired("ana")
    ana.tap("Bench").tap("rear-a").tap("rebuild").tap("Step by step")
    ana.number("Closed, outside wiped", "22.35").tap("Next")
    ana.choose("Where it was wet", "joint").choose("How wet", "damp").tap("Next")
    ana.tap("Next").tap("All sound, oil grey")
    assert _heading(ana) == "Clean it"
    found = "SELECT oil, shafts, leak_place, leak_amount FROM openings ORDER BY id DESC LIMIT 1"
    assert book.rows(found) == [("grey", "ok", "joint", "damp")]
    job = ana.page.url.rpartition("/")[0]

    ben = phones().paired("ben")
    ben.tap("Bench").tap("rear-a")
    assert job in ben.page.url
    assert _heading(ben) == "Clean it"
    ben.tap("Next").tap("Next").tap("All used again as they were").tap("All as new ones: back in, oiled")
    while _heading(ben) != "Weigh it dry":
        ben.tap("Next")
    ben.number("Dry, before oil", "12.42").tap("Next")
    assert "Stop at 14.28 g" in ben.words()
    ben.number("On the scale", "14.28").tap("That is the last reading")
    ben.tap("standing open: 3 minutes").tap("Begin")
    assert "min left" in ben.words()
    ben.tap("No bubbles rise any more").tap("Next: 14.28 g, or as typed").tap("Next").tap("Next")
    for _ in range(3):
        ben.tap("Next")
    ben.tap("All passes done").choose("Hand feel", "smooth").tap("Next").tap("Next")
    ben.number("Closed, outside wiped", "22.37").tap("Next").tap("Dry, done with it")
    assert "/-/card/" in ben.page.url
    assert "rear-a/3" in ben.words()
    assert book.rows(FILL, "rear-a/3") == [(12.42, 14.28, 22.37)]
    assert book.rows("SELECT kind, hand_feel, fluid IS NOT NULL FROM builds WHERE label = 'rear-a/3'") == [
        ("rebuild", "smooth", 1)
    ]

    ana.page.goto(f"{job}/weigh-dry")
    assert ana.page.get_by_label("Dry, before oil", exact=True).input_value() == "12.42"


def _heading(phone: TouchPhone) -> str:
    return str(phone.page.locator("main h1").inner_text())
