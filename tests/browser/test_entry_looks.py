"""Every page that takes entries: for screen readers, at arm's length, in gloves, in light, dark and sun."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from datetime import date
from io import BytesIO
from typing import Any, Final

import pytest
from entry_phone import Book, TouchPhone

from bevelbook.notes.importing_parts import import_all
from bevelbook.notes.settings import Settings
from bevelbook.records import BY_NAME
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

pytestmark = pytest.mark.browser

Phones = Callable[..., TouchPhone]
PAGES: Final = (
    "-/enter/run",
    "-/enter/weigh",
    "-/enter/opening",
    "-/enter/idea",
    "-/enter/swap",
    "-/enter/comparison",
    "-/enter/record/build",
    "-/enter/record/build/rear-a~2F2",
    "-/enter/sheet",
    "-/enter/to-finish",
    "-/enter/rejected",
    "-/enter/photo",
    "-/enter/photo?build=rear-a",
    "-/enter/give",
    "-/enter/gather",
    "-/enter/phone",
    "-/enter/pair",
    "-/enter/bench",
    "-/enter/bench?diff=rear-a",
    "-/enter/plan",
    "-/afternoon",
)
STEPS: Final = (
    "",
    "/weigh-closed-before",
    "/look-where-wet",
    "/open",
    "/note-what-is-found",
    "/lay-out-and-count",
    "/seals",
    "/shims",
    "/weigh-dry",
    "/fill",
    "/draw-bubbles",
    "/weigh-again",
    "/screws",
    "/turn-by-hand",
    "/rest-on-paper",
)
IN_EVERY_LIGHT: Final = (
    "-/enter/run",
    "-/enter/record/build/rear-a~2F2",
    "-/enter/sheet",
    "-/enter/import",
    "/fill",
    "/screws",
    "/seals",
)
"""The pages, by how their address ends, that between them show everything that has a colour."""
OF_COLOUR: Final = {"runOnly": {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}}
"""What a scheme of colours can change; the other rules are asked once."""
NOT_OF_COLOUR: Final = {"rules": {"color-contrast": {"enabled": False}}}
SMALL: Final = """() => {
    const seen = (one) => one.checkVisibility() && one.getClientRects().length;
    const lacking = [...document.querySelectorAll("main :is(button, label.way, summary, .ways-on a, .touch-list a)")]
        .filter((one) => seen(one) && one.getBoundingClientRect().height < 63.5)
        .map((one) => `${one.innerText.trim().slice(0, 40)}: ${one.getBoundingClientRect().height}`);
    const next = [...document.querySelectorAll("main .next")].filter(seen)
        .filter((one) => one.getBoundingClientRect().height < 95.5
            || one.getBoundingClientRect().width < document.querySelector("main").getBoundingClientRect().width - 40)
        .map((one) => `next ${one.innerText}`);
    return [...lacking, ...next];
}"""
PINNED: Final = """() => [...document.querySelectorAll("body *")]
    .filter((one) => ["fixed", "sticky"].includes(getComputedStyle(one).position))
    .map((one) => one.outerHTML.slice(0, 80))"""
TO_THE_MIDDLE: Final = """() => {
    const lowest = [...document.querySelectorAll("main :is(button, a, input, label, summary)")]
        .filter((one) => one.checkVisibility())
        .reduce((low, one) => Math.max(low, one.getBoundingClientRect().bottom + scrollY), 0);
    return document.documentElement.scrollHeight - innerHeight - (lowest - innerHeight / 2);
}"""
"""How far below the middle of the screen the lowest control can be scrolled up; below 0 where it cannot."""


def test_every_page_is_for_screen_readers_in_every_light_and_for_gloves(phones: Phones) -> None:
    phone = phones().paired()
    _import_with_rejects(phone.book)
    lacking = {address: found for address in _addresses(phone) if (found := _lacking(phone, address))}
    assert lacking == {}


CUT: Final = """() => [...document.querySelectorAll(".top *")].filter((one) =>
    getComputedStyle(one).overflowX !== "visible" && one.scrollWidth > one.clientWidth).map((one) => one.innerText)"""
"""What the head of a page cuts off."""
GAPS_ON_SHELF: Final = """() => [...document.querySelectorAll(".shelf > li")].map((one) =>
    one.querySelector(".to-write").getBoundingClientRect().top
    - one.querySelector(".more").getBoundingClientRect().bottom)"""
"""How far what may be written of each diff is below the line of its build; below 0 where it is above that."""


@pytest.mark.parametrize("width", [600, 768, 900, 1280])
def test_what_may_be_written_of_a_diff_follows_its_build_with_a_reason_beside_it_or_none(
    phones: Phones, width: int
) -> None:
    phone = phones(width=width).paired()
    opened = {"opened_on": date.today().isoformat(), "reason": "leak"}
    with closing(open_for_writing(phone.book.path)) as connection, transaction(connection, phone.book.path):
        build = connection.execute("SELECT id FROM builds WHERE label = 'rear-a/2'").fetchone()[0]
        Writer(connection, "ana").insert(BY_NAME["opening"], {**opened, "build": build})
    page = phone.to("-/home").page
    assert 0 < page.locator(".shelf .why").count() < page.locator(".shelf > li").count()
    gaps = page.evaluate(GAPS_ON_SHELF)
    assert all(-1 <= gap < 8 for gap in gaps), gaps


@pytest.mark.parametrize("width", [390, 800, 1280])
@pytest.mark.parametrize("between", ["-", " "])
def test_a_long_name_of_a_diff_takes_two_lines_of_the_shelf_and_pushes_nothing_aside(
    phones: Phones, width: int, between: str
) -> None:
    name = "rear-a of the blue car with hard gears and the thick gaskets".replace(" ", between)
    phone = phones(width=width).paired()
    with closing(open_for_writing(phone.book.path)) as connection, transaction(connection, phone.book.path):
        diff = connection.execute("SELECT id FROM diffs WHERE label = 'rear-a'").fetchone()[0]
        Writer(connection, "ana").update(BY_NAME["diff"], diff, {"label": name})
    page = phone.to("-/home").page
    line = page.locator(".shelf > li", has_text=name)
    label, word = (line.locator(one).bounding_box() for one in (".label", ".word"))
    one_line = page.locator(".shelf .label").evaluate_all("(all) => Math.min(...all.map((one) => one.offsetHeight))")
    assert len(name) == 60
    assert label["height"] <= 2 * one_line + 2
    assert word["x"] >= label["x"] + label["width"] or word["y"] >= label["y"] + label["height"]
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    gaps = page.evaluate(GAPS_ON_SHELF) if width > 390 else []
    assert all(-1 <= gap < 8 for gap in gaps), gaps


def test_the_top_of_a_form_is_no_higher_on_a_wide_screen_than_two_lines(phones: Phones) -> None:
    """A form is narrow there too: what is as wide as the screen elsewhere has to fit above it."""
    for width in (1280, 768):
        page = phones(width=width).paired().to("-/enter/weigh").page
        lines = page.evaluate("[...document.querySelectorAll('.top li')].map((one) => one.offsetTop)")
        sun, name = (page.locator(f".top .{one}").bounding_box() for one in ("sun-switch", "name"))
        assert (width, len(set(lines))) == (width, 1)
        assert sun["y"] < name["y"] + name["height"] <= min(lines), width


def test_on_a_phone_the_head_says_the_whole_name_and_a_unit_stands_beside_its_figure(phones: Phones) -> None:
    page = phones(width=390).paired().to("-/enter/weigh").page
    page.evaluate("document.querySelector('.top .actor').lastChild.textContent += ' and the others of the second car'")
    assert page.evaluate(CUT) == []
    name, sun = (page.locator(f".top .{one}").bounding_box() for one in ("name", "sun-switch"))
    assert sun["y"] < name["y"] + name["height"]
    field, unit = (page.locator(f".figure .typed {one}").bounding_box() for one in ("input", ".other-unit"))
    assert unit["x"] >= field["x"] + field["width"]
    assert field["y"] < unit["y"] < field["y"] + field["height"]
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_no_name_in_a_heading_is_broken_at_its_hyphen(phones: Phones) -> None:
    page = phones(width=500).paired().to("-/compare?a=rear-a/1&b=rear-a/2").page
    for width in range(200, 360, 10):
        page.set_viewport_size({"width": width, "height": 800})
        heights = page.evaluate("[...document.querySelectorAll('h1 a')].map((one) => one.offsetHeight)")
        assert len(heights) == 2
        assert max(heights) < 40, width


def _import_with_rejects(book: Book) -> None:
    """A file of notes with a row that is rejected for each kind of field."""
    rows = ("03/04/2024,rear-a,1.86,high", "2024-04-05,rear-a,ca. 1.9,high", "2024-04-06,rear-a,1.86,hihg", "x,")
    text = "\n".join(("date,diff,oil_mass_g,grip", *rows, ""))
    with closing(open_for_writing(book.path)) as connection:
        import_all(BytesIO(text.encode()), "season.csv", connection, book.path, Settings(), by="ana")


def _addresses(phone: TouchPhone) -> tuple[str, ...]:
    """The pages, with those of a rebuild at the bench that has been begun, and of rejected rows."""
    ((file,),) = phone.book.rows("SELECT id FROM note_files")
    phone.to("-/enter/bench?diff=rear-a").tap("rebuild").tap("Step by step")
    job = phone.page.url.rpartition("/")[0].partition("/-/")[2]
    return (*PAGES, f"-/enter/rejected/{file}", *(f"-/{job}{step}" for step in STEPS))


def _lacking(phone: TouchPhone, address: str) -> list[str]:
    """What a page lacks: for axe in light, dark and sun, and for a finger."""
    page = phone.to(address).page
    page.emulate_media(color_scheme="light")
    found = [f"small: {one}" for one in page.evaluate(SMALL)] + [f"pinned: {one}" for one in page.evaluate(PINNED)]
    if page.evaluate(TO_THE_MIDDLE) < 0:
        found.append("the lowest control stays below the middle")
    if page.evaluate("document.documentElement.scrollWidth") > page.viewport_size["width"]:
        found.append("wider than the screen")
    if page.locator("h1").count() != 1:
        found.append("not one heading")
    is_of_every_light = address.endswith(IN_EVERY_LIGHT)
    found += _faults_for_axe(page, {} if is_of_every_light else NOT_OF_COLOUR)
    if is_of_every_light:
        page.emulate_media(color_scheme="dark")
        found += _faults_for_axe(page, OF_COLOUR)
        page.evaluate("document.documentElement.classList.add('sun')")
        found += _faults_for_axe(page, OF_COLOUR)
    return found


def _faults_for_axe(page: Any, options: dict[str, Any]) -> list[str]:
    """What axe finds; what is around every page is looked at with the first one alone."""
    from axe_playwright_python.sync_playwright import Axe

    where = None if page.url.endswith(PAGES[0]) else "main"
    found = Axe().run(page, context=where, options={"resultTypes": ["violations"], **options}).response["violations"]
    return [f"{one['id']} ({len(one['nodes'])}): {one['nodes'][0]['html'][:160]}" for one in found]
