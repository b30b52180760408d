"""A finger in an oily glove: what a touch counts for, what is stored of it, and what a lost network leaves."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from entry_phone import TouchPhone

pytestmark = pytest.mark.browser

WEIGHINGS = "SELECT mass_g FROM weighings ORDER BY id"


@pytest.fixture
def phone(phones: Callable[..., TouchPhone]) -> TouchPhone:
    """A phone whose pages have a clock that stands at 0 until a test moves it, so that a finger is as fast as said."""
    one = phones(slow=False)
    one.context.add_init_script("{ let at = 0; performance.now = () => at; window.moveClock = ms => { at = ms; }; }")
    return one.paired()


def _at(phone: TouchPhone, milliseconds: int) -> None:
    """It is so long after the page was opened."""
    phone.page.evaluate("ms => moveClock(ms)", milliseconds)


@pytest.fixture
def slow_phone(phones: Callable[..., TouchPhone]) -> TouchPhone:
    """A phone whose finger is never too fast."""
    return phones().paired()


def _middle(control: Any) -> tuple[float, float]:
    control.scroll_into_view_if_needed()
    box = control.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def test_a_finger_that_bounces_stores_once_and_presses_nothing_on_the_page_that_follows(phone: TouchPhone) -> None:
    phone.to("-/enter/weigh?build=rear-a").number("Mass", "22.31")
    _at(phone, 1000)
    place = _middle(phone.control("Store it"))
    with phone.page.expect_navigation(wait_until="commit"):
        phone.page.touchscreen.tap(*place)
    following = phone.page.url
    for _ in range(3):
        phone.page.touchscreen.tap(*place)
    phone.page.wait_for_load_state("load")
    assert phone.page.url == following
    assert phone.book.rows(WEIGHINGS) == [(22.31,)]


def test_a_finger_that_bounces_on_the_first_page_chooses_nothing_on_the_next(phone: TouchPhone) -> None:
    _at(phone, 1000)
    place = _middle(phone.control("Oil for the afternoon"))
    with phone.page.expect_navigation(wait_until="commit"):
        phone.page.touchscreen.tap(*place)
    for _ in range(3):
        phone.page.touchscreen.tap(*place)
    phone.page.wait_for_load_state("load")
    assert phone.page.url.endswith("/-/afternoon")


def test_a_choice_leads_to_its_number_and_a_second_touch_takes_back_what_may_be_empty(
    phone: TouchPhone,
) -> None:
    phone.to("-/enter/weigh")
    _at(phone, 1000)
    phone.choose("Diff", "rear-a")
    mass = phone.page.get_by_label("Mass", exact=True)
    phone.page.wait_for_function("document.activeElement.name === 'mass_g'")
    chosen = phone.page.get_by_role("radio", name="rear-a", exact=True)
    assert chosen.is_checked()
    place = _middle(phone.page.locator("label.way", has_text="rear-a"))
    _at(phone, 1499)
    phone.page.touchscreen.tap(*place)
    assert chosen.is_checked(), "a bounce is not a second touch"
    _at(phone, 2000)
    phone.page.touchscreen.tap(*place)
    assert chosen.is_checked(), "a diff is needed"
    mass.fill("22.31")
    phone.to("-/enter/opening")
    _at(phone, 1000)
    reason = phone.page.get_by_role("radio", name="leak", exact=True)
    place = _middle(phone.choose("Reason", "leak").page.locator("label.way", has_text="leak").first)
    assert reason.is_checked()
    _at(phone, 1499)
    phone.page.touchscreen.tap(*place)
    assert reason.is_checked(), "a bounce"
    _at(phone, 1500)
    phone.page.touchscreen.tap(*place)
    assert not reason.is_checked(), "a reason may be left empty"


def test_a_network_cut_in_the_middle_of_a_form_that_does_not_wait_loses_nothing_and_stores_it_once(
    slow_phone: TouchPhone,
) -> None:
    slow_phone.to("-/enter/record/venue").text("Name", "Harbour Hall")
    slow_phone.context.set_offline(True)
    slow_phone.control("Store it").tap()
    slow_phone.page.locator(".not-sent", has_text="What you typed is still here").wait_for()
    assert slow_phone.page.get_by_label("Name", exact=True).input_value() == "Harbour Hall"
    assert slow_phone.book.count("venues") == 1
    slow_phone.context.set_offline(False)
    slow_phone.tap("Store it")
    assert slow_phone.book.rows("SELECT name FROM venues ORDER BY rowid") == [("Lantern Hall",), ("Harbour Hall",)]


def test_a_form_that_arrives_twice_at_once_is_stored_once(phone: TouchPhone) -> None:
    phone.to("-/enter/weigh?build=rear-a").number("Mass", "22.31")
    answers = phone.page.evaluate(
        """async () => {
            const form = document.querySelector("form.entry-form");
            const body = new URLSearchParams(new FormData(form));
            const send = () => fetch(form.action, {method: "POST", body}).then((one) => one.url);
            return await Promise.all([send(), send(), send()]);
        }"""
    )
    assert phone.book.rows(WEIGHINGS) == [(22.31,)]
    assert len({answer.partition("?")[0] for answer in answers}) == 1, answers


def test_the_back_button_after_a_save_adds_nothing_unasked(slow_phone: TouchPhone) -> None:
    slow_phone.to("-/enter/weigh?build=rear-a").number("Mass", "22.31")
    slow_phone.tap("Store it")
    slow_phone.page.go_back()
    slow_phone.page.get_by_label("Mass", exact=True).fill("22.31")
    slow_phone.tap("Store it")
    assert slow_phone.book.rows(WEIGHINGS) == [(22.31,)]
    assert "stored" in slow_phone.page.inner_text("main"), slow_phone.words()
