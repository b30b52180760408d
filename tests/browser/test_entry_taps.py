"""The commonest acts on a paired phone, from its first page: how many taps and numbers each takes at most.

A tap is a touch on a control; what is typed on the keypad is not counted, but a touch to get into a field is.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing

import pytest
from entry_phone import Book, TouchPhone

from bevelbook.records import BY_NAME
from bevelbook.store.ids import now_utc
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

pytestmark = pytest.mark.browser

Phones = Callable[..., TouchPhone]
BOUNCES_MS = 250
"""Longer than the time in which a second touch on a button that counts is taken for a bounce of the first."""


@pytest.fixture
def phone(phones: Phones) -> TouchPhone:
    return phones().paired()


def test_a_weighing_takes_three_taps_and_its_number(book: Book, phone: TouchPhone) -> None:
    phone.tap("Weigh a diff").choose("Diff", "rear-a").number("Mass", "22.31").tap("Store it")
    assert book.rows("SELECT mass_g, mass_basis FROM weighings") == [(22.31, "closed")]
    assert "rear-a/2" in phone.stored()
    assert (phone.taps, phone.numbers) == (3, 1)


def test_a_weighing_of_a_diff_on_the_shelf_takes_two_taps_and_its_number(book: Book, phone: TouchPhone) -> None:
    phone.tap("weigh it").number("Mass", "21,95").tap("Store it")
    assert book.rows("SELECT mass_g FROM weighings") == [(21.95,)]
    assert (phone.taps, phone.numbers) == (2, 1)


def test_an_entry_is_taken_back_with_one_tap(book: Book, phone: TouchPhone) -> None:
    phone.tap("weigh it").number("Mass", "21.95").tap("Store it")
    taps = phone.taps
    phone.tap("Take it back")
    assert phone.taps - taps == 1
    assert book.rows("SELECT mass_g FROM weighings") == []
    assert phone.stored() == ""


def test_a_piece_is_counted_with_one_tap_and_a_count_begins_with_what_is_left(book: Book, phone: TouchPhone) -> None:
    """One more than none is 1, then 2; then, with 2 left, one less is 1."""
    with closing(open_for_writing(book.path, while_served=True)) as connection, transaction(connection, book.path):
        Writer(connection, "ana", now_utc).insert(BY_NAME["stock_part"], {"label": "pins", "part": "cross pin"})
    phone.to("-/enter/stock").tap("One more: pins")
    phone.page.wait_for_timeout(BOUNCES_MS)
    phone.tap("One more: pins").tap("Store it").tap("One less: pins").tap("Store it")
    assert book.rows("SELECT what, pieces FROM stock_changes ORDER BY id") == [("counted", 2), ("counted", 1)]


def test_the_oil_for_the_afternoon_takes_three_taps_and_one_number(phone: TouchPhone) -> None:
    phone.tap("Oil for the afternoon").tap("rear-a").number("It will be", "12").tap("hotter")
    assert (phone.taps, phone.numbers) == (3, 1)
    assert "cSt" in phone.page.inner_text("main .result")
