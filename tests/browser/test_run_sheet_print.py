"""The run sheets in a browser: on the sheets of paper that they say, large enough to read and to write on."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from browser.printing import printed
from conftest import FIXED_NOW
from constructed import Add, adding

from bevelbook.card.all_fields_sheet import all_fields_sheet
from bevelbook.card.html import all_fields_page, run_sheet_page, whole_page
from bevelbook.card.run_sheet import RunSheet, blank_run_sheet, run_sheet_of
from bevelbook.store.opening import new_database, transaction
from bevelbook.store.writing import Writer

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser
PAPERS = ("A4", "Letter")
MM_PER_PX = 25.4 / 96.0
HIGH_ENOUGH_MM = 8.0
"""A box to write in with a cold hand; this project's choice."""
READABLE_PT = 9.0
"""This project's choice."""


def two_cars(folder: Path) -> RunSheet:
    """Long names everywhere, a diff at each place of one car, a spool in the other."""
    connection = new_database(folder / "team.db")
    with transaction(connection, folder / "team.db"):
        _two_cars(adding(Writer(connection, "ana", lambda: FIXED_NOW)))
    sheet = run_sheet_of(connection, invented=True)
    connection.close()
    return sheet


def _two_cars(add: Add) -> None:
    oil = add("fluid", label="quince and medlar " * 4, viscosity_cst=7000.0)
    for car in ("the blue one that was lent " * 3, "red"):
        car_id = add("car", name=car)
        for position in ("front", "centre", "rear") if car != "red" else ("front",):
            diff = add("diff", label=f"{position} {car}", usual_position=position, mark="two yellow dots " * 3)
            add("build", label=f"{position} {car}/1", diff=diff, built_on="2026-05-01", fluid=oil)
            add("car_diff", car=car_id, position=position, diff=diff, from_on="2026-05-01")
    add("car_diff", car=car_id, position="rear", instead="spool", from_on="2026-05-01")


@pytest.fixture(scope="module")
def lines(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, int]:
    """The sheets of two cars as the command writes them, and how many there are."""
    folder = tmp_path_factory.mktemp("sheets")
    sheet = two_cars(folder)
    path = folder / "sheet.html"
    path.write_text(whole_page("Run sheet", run_sheet_page(sheet)), encoding="utf-8")
    return path, len(sheet.sheets)


@pytest.mark.parametrize("paper", PAPERS)
def test_a_car_has_one_sheet_printed_across(browser: Browser, lines: tuple[Path, int], paper: str) -> None:
    path, count = lines
    found = printed(browser, path, paper)
    assert len(found.sheets) == count == 2
    assert all(wide > high for wide, high in found.sheets)
    assert found.smallest_pt >= READABLE_PT - 0.01


def test_the_blank_sheet_is_one_sheet(browser: Browser, tmp_path: Path) -> None:
    path = tmp_path / "sheet.html"
    path.write_text(whole_page("Run sheet", run_sheet_page(blank_run_sheet())), encoding="utf-8")
    assert [len(printed(browser, path, paper).sheets) for paper in PAPERS] == [1, 1]


@pytest.mark.parametrize("paper", PAPERS)
def test_the_sheet_with_all_fields_is_two_sheets(browser: Browser, tmp_path: Path, paper: str) -> None:
    path = tmp_path / "sheet.html"
    path.write_text(whole_page("Run sheet", all_fields_page(all_fields_sheet(invented=True))), encoding="utf-8")
    found = printed(browser, path, paper)
    assert len(found.sheets) == 2
    assert all(wide < high for wide, high in found.sheets)
    assert found.smallest_pt >= READABLE_PT - 0.01


def test_what_is_written_by_hand_has_a_high_box(browser: Browser, lines: tuple[Path, int]) -> None:
    opened = browser.new_page(viewport={"width": 1003, "height": 760})
    opened.emulate_media(media="print")
    opened.goto(lines[0].as_uri())
    boxes = opened.evaluate(
        "[...document.querySelectorAll('.run-lines td')].map(cell => {"
        "  const lines = [...cell.querySelectorAll('li.ruled-line')];"
        "  return Math.min(...(lines.length ? lines : [cell]).map(box => box.getBoundingClientRect().height)); })"
    )
    cut = opened.evaluate(
        "[...document.querySelectorAll('.run-lines th, .run-lines td')]"
        ".filter(cell => cell.scrollWidth > cell.clientWidth + 1).map(cell => cell.innerText)"
    )
    right = opened.evaluate(
        "Math.max(...[...document.querySelectorAll('.run-lines table')].map(one => one.getBoundingClientRect().right))"
    )
    opened.close()
    assert right < 1003, "its last line is on the paper"
    assert len(boxes) == 2 * 6 * 9
    assert min(boxes) * MM_PER_PX >= HIGH_ENOUGH_MM - 0.01
    assert cut == []
