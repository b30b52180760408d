"""The card and the run sheet in a browser: one sheet of paper, and no sideways scroll on a phone."""

from __future__ import annotations

import io
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from card_team import HOSTILE, make_bare_build, make_full_build
from conftest import FIXED_NOW

from bevelbook.card.build_card import card_of
from bevelbook.card.html import card_page, whole_page
from bevelbook.card.procedure import Procedure, ProcedureStep
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.store.invented_mark import mark_invented
from bevelbook.store.opening import new_database
from bevelbook.store.writing import Writer

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser
PHONE = {"width": 390, "height": 844}


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """A headless Chromium: the system's, else the one that playwright brings."""
    from playwright.sync_api import Error, sync_playwright

    found = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    with sync_playwright() as playwright:
        try:
            opened = playwright.chromium.launch(executable_path=found, args=["--no-sandbox"])
        except Error as fault:
            pytest.skip(f"no Chromium starts here: {fault}")
        yield opened
        opened.close()


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
    build = CASES[request.param](Writer(connection, "ana", lambda: FIXED_NOW))
    mark_invented(connection)
    fragment = card_page(card_of(connection, registry, build))
    connection.close()
    path = folder / "page.html"
    path.write_text(whole_page("Card", fragment), encoding="utf-8")
    return path


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_prints_on_one_sheet(browser: Browser, page: Path, paper: str) -> None:
    from pypdf import PdfReader

    opened = browser.new_page()
    opened.goto(page.as_uri())
    printed = PdfReader(io.BytesIO(opened.pdf(format=paper)))
    opened.close()
    assert len(printed.pages) == 1


def test_the_letters_on_paper_are_not_too_small(browser: Browser, page: Path) -> None:
    """Six points at the least: this project's choice."""
    opened = browser.new_page()
    opened.emulate_media(media="print")
    opened.goto(page.as_uri())
    points = opened.evaluate("parseFloat(getComputedStyle(document.querySelector('.build-card')).fontSize) * 0.75")
    opened.close()
    assert points >= 5.99


def test_a_phone_shows_it_without_sideways_scroll(browser: Browser, page: Path) -> None:
    opened = browser.new_page(viewport=PHONE)
    opened.goto(page.as_uri())
    wide, room = opened.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
    opened.close()
    assert wide <= room == PHONE["width"]


def test_it_asks_the_network_for_nothing_and_runs_nothing(browser: Browser, page: Path) -> None:
    asked: list[str] = []
    said: list[str] = []
    opened = browser.new_page()
    opened.on("request", lambda request: asked.append(request.url))
    opened.on("console", lambda message: said.append(message.text))
    opened.on("dialog", lambda dialog: said.append(dialog.message))
    opened.goto(page.as_uri())
    opened.close()
    assert asked == [page.as_uri()]
    assert said == []


def test_a_short_procedure_is_printed_larger_and_in_full(registry: Registry, connection: sqlite3.Connection) -> None:
    build = make_full_build(Writer(connection, "ana", lambda: FIXED_NOW))
    steps = (ProcedureStep("pour", "Pour", "Slowly, until the scale shows the stop mass."),)
    short = card_page(card_of(connection, registry, build, Procedure("Ours", steps)))
    assert "--print-size: 9.0pt" in short
    assert 'class="build-card"' in short
    assert 'class="build-card in-short"' in card_page(card_of(connection, registry, build))
