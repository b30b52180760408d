"""A file of notes brought in by touch, and one that is dropped; all else of that page is tested below the browser.

All cells are invented.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import pytest
from browser.test_entry_looks import PINNED, SMALL, TO_THE_MIDDLE
from entry_phone import TouchPhone

pytestmark = pytest.mark.browser

TEMPERATURES: Final = (
    "date,diff,dry mass,track temp,air temp\n2026-04-03,K-01,12.5,40,20\n2026-04-04,K-02,heavy,41,21\n"
)
DROPPED: Final = """([name, text]) => {
    const carried = new DataTransfer();
    carried.items.add(new File([text], name));
    const target = document.querySelector("main h1");
    for (const type of ["dragenter", "dragover", "drop"]) {
        target.dispatchEvent(new DragEvent(type, { bubbles: true, cancelable: true, dataTransfer: carried }));
    }
}"""
"""A drop as a browser tells a page of it, beside the field."""


def test_a_file_is_brought_in_by_touch_with_two_questions_answered(
    phones: Callable[..., TouchPhone], tmp_path: Path
) -> None:
    phone = phones().paired()
    notes = tmp_path / "season.csv"
    notes.write_text(TEMPERATURES, encoding="utf-8")
    phone.tap("More to write").tap("A file of notes")
    lacking = {"choose": _lacking(phone.page)}
    phone.page.get_by_label("The file").set_input_files(notes)
    phone.tap("Read it")
    assert "Is the track temp in °C or in °F? For example 40, 41" in phone.words()
    lacking["question"] = _lacking(phone.page)
    phone.tap("°F").tap("°C")
    assert "2 lines read: 1 to bring in, 1 rejected, 0 skipped." in phone.words()
    lacking["ready"] = _lacking(phone.page)
    assert phone.book.count("note_files") == 0
    phone.page.go_back()
    assert "Is the air temp in °C or in °F?" in phone.words()
    phone.page.go_forward()
    phone.tap("Bring them in")
    assert "Brought in" in phone.words()
    lacking["stored"] = _lacking(phone.page)
    temperatures = "SELECT round(track_temp_c, 2), air_temp_c FROM runs WHERE note_file IS NOT NULL"
    assert phone.book.rows(temperatures) == [(4.44, 20.0)]
    assert phone.stored().startswith("Stored: imported season.csv: 1 row taken, 1 rejected")
    phone.page.locator("form.stored button").tap()
    phone.page.wait_for_url("**/take-back")
    assert phone.book.rows(temperatures) == []
    assert [f"{screen}: {one}" for screen, found in lacking.items() for one in found] == []


def test_a_file_that_is_dropped_is_read(phones: Callable[..., TouchPhone]) -> None:
    phone = phones(width=1280).paired().to("-/enter/import")
    with phone.page.expect_navigation(url="**/import?so_far=*"):
        phone.page.evaluate(DROPPED, ["dropped.csv", TEMPERATURES])
    assert "Bring in dropped.csv" in phone.words()
    assert phone.page.url.startswith(f"{phone.book.address}/-/enter/import?so_far=")


def _lacking(page: Any) -> list[str]:
    """What a page lacks for a screen reader and for a finger."""
    from axe_playwright_python.sync_playwright import Axe

    found = [f"small: {one}" for one in page.evaluate(SMALL)] + [f"pinned: {one}" for one in page.evaluate(PINNED)]
    if page.evaluate(TO_THE_MIDDLE) < 0:
        found.append("the lowest control stays below the middle")
    if page.evaluate("document.documentElement.scrollWidth") > page.viewport_size["width"]:
        found.append("wider than the screen")
    return found + [f"{one['id']}: {one['nodes'][0]['html']}" for one in Axe().run(page).response["violations"]]
