"""A phone paired by the address that it scans, and known again by its own code: where its cookie is lost, and where the
laptop has a new address."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from browsing import ENTRY_HOST
from entry_phone import PHONE, Book

pytestmark = pytest.mark.browser

AGAIN_SECONDS = 30
COOKIE = re.compile("bevelbook_phone_.*")


@pytest.fixture
def page(browser: Any) -> Iterator[Any]:
    """A page of a phone that has never been here; two taps of it are never one."""
    context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True)
    context.add_init_script("performance.now = () => Date.now() * 1000;")
    made = context.new_page()
    faults: list[str] = []
    made.on("pageerror", lambda fault: faults.append(str(fault)))
    made.set_default_timeout(AGAIN_SECONDS * 1000)
    yield made
    context.close()
    assert faults == []


def tap(page: Any, words: str | re.Pattern[str]) -> None:
    with page.expect_navigation(wait_until="load"):
        page.get_by_role("button", name=words).tap()


def test_a_scanned_code_pairs_and_the_phone_stays_known(page: Any, book: Book) -> None:
    pair = f"{book.address}/-/enter/pair"
    shown = book.code()
    page.goto(pair)
    page.goto(f"{pair}#{shown.replace(' ', '')}")
    assert page.input_value("[name=code]") == shown
    assert page.url == pair, "the code is taken out of the address"
    page.locator("label.way", has_text="ana").tap()
    page.get_by_label("Call this phone").fill("blue <b>phone</b>")
    tap(page, "Pair this phone")
    assert "blue <b>phone</b> writes as ana" in page.inner_text("main")
    assert book.code() != shown

    page.context.clear_cookies(name=COOKIE)
    page.goto(f"{book.address}/-/enter/phone")
    assert "not paired" in page.inner_text("main")
    page.get_by_role("link", name="Pair this phone").tap()
    page.wait_for_url(book.home)
    assert page.inner_text(".actor") == "ana"

    page.goto(f"{book.address}/builds")
    page.get_by_text("The laptop has a new address").tap()
    page.get_by_label("Its new address").fill("book.example.com")
    page.get_by_role("button", name="Open it there").tap()
    assert "Type the address as the laptop shows it" in page.inner_text("#moved")
    new = book.home.replace(ENTRY_HOST, "127.0.0.1")
    page.get_by_label("Its new address").fill(new)
    page.get_by_role("button", name="Open it there").tap()
    page.wait_for_url(new)
    assert page.inner_text(".actor") == "ana"
    assert page.evaluate("Object.keys(localStorage).length") == 1

    page.goto(f"{new}{book.path.stem}/-/enter/phone")
    tap(page, re.compile("End it"))
    assert page.evaluate("Object.keys(localStorage).length") == 0
    page.goto(pair)
    page.wait_for_selector("text=This phone was paired once and is not any more")
    assert page.evaluate("Object.keys(localStorage).length") == 0
