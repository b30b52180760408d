"""The card in a browser: two sheets of paper at most, readable letters, ticks, and no sideways scroll on a phone."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from browser.printing import printed
from card_team import HOSTILE, make_bare_build, make_full_build
from conftest import FIXED_NOW, WriterWithFacts

from bevelbook.card.build_card import card_of
from bevelbook.card.contents import CalculatorResult, CardSection
from bevelbook.card.fit import paper_of
from bevelbook.card.html import card_page, whole_page
from bevelbook.card.procedure import Procedure, ProcedureStep
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.store.invented_mark import mark_invented
from bevelbook.store.opening import new_database, transaction
from bevelbook.store.writing import Writer

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser
PHONE = {"width": 390, "height": 844}


def full(writer: Writer) -> str:
    return make_full_build(writer)


def full_of_doubts(writer: Writer) -> str:
    """Too much oil, a torque without a source, a swollen seal, a long note, and 32 screws."""
    build = make_full_build(writer, screw_count=32)
    changes = {"oil_mass_g": 1.75, "squeeze_out": "runs out", "screw_torque_nm": 0.35, "note": "a long note " * 40}
    writer.update(BY_NAME["build"], build, changes)
    for (fitting,) in writer.connection.execute("SELECT id FROM seal_fittings").fetchall():
        writer.update(BY_NAME["seal_fitting"], fitting, {"measured_outside_diameter_mm": 9.9, "condition": "used"})
    return build


def hostile(writer: Writer) -> str:
    build = make_full_build(writer)
    writer.update(BY_NAME["build"], build, {"note": HOSTILE, "degassing": HOSTILE, "label": "rear-a/2 " + "x" * 300})
    return build


CASES: dict[str, Callable[[Writer], str]] = {
    "full": full,
    "bare": make_bare_build,
    "doubts": full_of_doubts,
    "hostile": hostile,
}


@pytest.fixture(scope="module", params=[*CASES])
def page(request: pytest.FixtureRequest, registry: Registry, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A card as the file that the command writes: of invented data, which is a line more."""
    folder = tmp_path_factory.mktemp("card")
    connection = new_database(folder / "team.db")
    with transaction(connection, folder / "team.db"):
        build = CASES[request.param](Writer(connection, "ana", lambda: FIXED_NOW))
    mark_invented(connection)
    fragment = card_page(card_of(connection, registry, build))
    connection.close()
    path = folder / "page.html"
    path.write_text(whole_page("Card", fragment), encoding="utf-8")
    return path


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_prints_on_two_sheets_that_say_which_they_are_in_readable_letters(
    browser: Browser, page: Path, paper: str
) -> None:
    """Nine points at the least: this project's choice. All letters of the sheets, those of the picture too."""
    found = printed(browser, page, paper)
    assert len(found.sheets) == 2
    assert all(wide < high for wide, high in found.sheets)
    assert found.smallest_pt >= 8.99
    first, second = found.texts
    assert "sheet 1 of 2" in first
    assert "sheet 2 of 2" in second
    assert "Stop pouring at" in first
    assert "stop pouring at" in second


def test_a_tick_is_made_by_hand_or_key_and_is_on_paper(browser: Browser, page: Path) -> None:
    opened = browser.new_page(viewport=PHONE)
    opened.goto(page.as_uri())
    ticks = opened.locator("label.to-tick:visible")
    sizes = ticks.evaluate_all("all => all.map(one => one.getBoundingClientRect()).map(at => [at.width, at.height])")
    first = ticks.first.locator("input")
    first.focus()
    opened.keyboard.press("Space")
    ticks.nth(1).click()
    made = opened.locator(".to-tick input:checked").count()
    opened.emulate_media(media="print")
    look = "box => [getComputedStyle(box).borderTopWidth, getComputedStyle(box, '::before').content]"
    drawn = opened.locator(".to-tick input:checked").first.evaluate(look)
    opened.reload()
    kept = opened.locator(".to-tick input:checked").count()
    opened.close()
    assert min(min(size) for size in sizes) >= 24
    assert (made, kept) == (2, 0)
    assert drawn == ["1px", '""']


def test_a_phone_shows_the_answer_first_without_sideways_scroll_and_asks_the_network_for_nothing(
    browser: Browser, page: Path
) -> None:
    """The stop mass, the oil, and what is different from the build before; the page of the site has 230 px above it."""
    asked: list[str] = []
    said: list[str] = []
    opened = browser.new_page(viewport=PHONE)
    opened.on("request", lambda request: asked.append(request.url))
    opened.on("console", lambda message: said.append(message.text))
    opened.on("dialog", lambda dialog: said.append(dialog.message))
    opened.goto(page.as_uri())
    lowest, wide, room = opened.evaluate(
        "[Math.max(...[...document.querySelectorAll('.big, .at-once > p:first-child, .different')]"
        ".map(one => one.getBoundingClientRect().bottom)),"
        " document.documentElement.scrollWidth, document.documentElement.clientWidth]"
    )
    opened.close()
    assert lowest <= PHONE["height"] - 230
    assert wide <= room == PHONE["width"]
    assert asked == [page.as_uri()]
    assert said == []


def test_calculators_for_which_there_is_no_room_are_counted_on_paper_and_seen_on_the_page(
    browser: Browser, registry: Registry, connection: sqlite3.Connection, tmp_path: Path
) -> None:
    build = make_full_build(WriterWithFacts(connection, "ana", lambda: FIXED_NOW))
    card = card_of(connection, registry, build)
    said = CalculatorResult("Wear", "ok", ("a sentence that fills about a line and a half of one column of the card",))
    more = tuple(CardSection("more", f"Wear of piece {number}", results=(said,)) for number in range(40))
    many = card._replace(parts=(*card.parts, *more))
    left_out = paper_of(many).left_out
    assert paper_of(card).left_out == 0 < left_out < len(more)
    path = tmp_path / "page.html"
    path.write_text(whole_page("Card", card_page(many)), encoding="utf-8")
    found = printed(browser, path, "Letter")
    assert len(found.sheets) == 2
    assert f"And {left_out} more results, on the page of the card" in found.texts[0]
    assert f"Wear of piece {39 - left_out} " in found.texts[0] and "Wear of piece 39" not in found.texts[0]
    assert "Wear of piece 39" in path.read_text(encoding="utf-8")


def test_a_short_procedure_is_printed_in_full(registry: Registry, connection: sqlite3.Connection) -> None:
    build = make_full_build(WriterWithFacts(connection, "ana", lambda: FIXED_NOW))
    steps = (ProcedureStep("pour", "Pour", "Slowly, until the scale shows the stop mass."),)
    short = paper_of(card_of(connection, registry, build, Procedure("Ours", steps)))
    assert short.with_do
    bundled = paper_of(card_of(connection, registry, build))
    assert (bundled.sheets, bundled.points, bundled.with_do) == (2, 9.0, False)


def test_a_card_with_little_on_it_is_one_sheet(
    browser: Browser, registry: Registry, connection: sqlite3.Connection, tmp_path: Path
) -> None:
    build = make_bare_build(WriterWithFacts(connection, "ana", lambda: FIXED_NOW))
    steps = (ProcedureStep("pour", "Pour", "Slowly, until the scale shows the stop mass."),)
    card = card_of(connection, registry, build, Procedure("Ours", steps))
    path = tmp_path / "page.html"
    path.write_text(whole_page("Card", card_page(card)), encoding="utf-8")
    assert paper_of(card).sheets == 1
    assert paper_of(card).points > 9.0
    assert [len(printed(browser, path, paper).sheets) for paper in ("A4", "Letter")] == [1, 1]
