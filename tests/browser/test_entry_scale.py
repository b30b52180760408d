"""A scale that speaks, at a fill from the dry mass to the last reading: what a phone shows of it, takes and stores.

One book and one phone for all of it: 8 s of a browser.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from entry_phone import TouchPhone, entered
from entry_team import make_entry_team
from printing_scale import PrintingScale, listened_to

from bevelbook.plugin.registry import Registry

pytestmark = pytest.mark.browser

FILL = "SELECT dry_mass_g, filled_mass_g FROM builds WHERE label = 'front-a/3'"


@pytest.fixture
def scale(tmp_path: Path) -> PrintingScale:
    return PrintingScale(tmp_path / "scale")


@pytest.fixture
def phone(browser: Any, tmp_path: Path, registry: Registry, scale: PrintingScale) -> Iterator[TouchPhone]:
    with (
        listened_to(scale, retry_s=0.05) as listening,
        entered(make_entry_team(tmp_path / "blue.db"), tmp_path / "settings", registry, scale=listening) as book,
    ):
        made = TouchPhone(browser, book).paired()
        yield made
        made.close()
        assert made.faults == []


def _seen(phone: TouchPhone, selector: str, words: str) -> None:
    phone.page.locator(selector, has_text=words).first.wait_for()


def test_a_fill_is_weighed_without_a_number_typed(phone: TouchPhone, scale: PrintingScale) -> None:
    phone.tap("to the bench").tap("oil change").tap("Same again as front-a/2")
    phone.page.goto(phone.page.url.replace("weigh-closed-before", "weigh-dry"))
    dry = phone.page.get_by_label("Dry, before oil", exact=True)
    scale.prints("US,GS,+00012.08  g")
    _seen(phone, ".from-scale", "Not steady.")
    assert phone.page.locator(".take").first.is_disabled()
    scale.prints("ST,GS,+00012.10  g")
    _seen(phone, ".take:enabled", "Take 12.10 g")
    assert dry.input_value() == ""
    phone.tap("Take 12.10 g")
    assert dry.input_value() == "12.10"
    assert "12.10 g from the scale at" in phone.words()
    phone.tap("Next")

    # While oil runs in the reading is live, and goes into the field once it is steady.
    reading = phone.page.get_by_label("On the scale", exact=True)
    _seen(phone, ".live", "12.10")
    scale.prints("US,GS,+00013.54  g")
    _seen(phone, ".live.not-steady", "13.54")
    _seen(phone, ".to-go.not-steady", "0.42 g to go")
    assert reading.input_value() != "13.54"
    scale.prints("noise 12 g 13 g")
    _seen(phone, ".from-scale", "“noise 12 g 13 g”")
    scale.prints("ST,GS,+00013.96  g")
    _seen(phone, ".to-go", "full")
    assert reading.input_value() == "13.96"
    # The diff is lifted off before the button is touched.
    scale.prints("ST,GS,+00000.00  g")
    _seen(phone, ".live", "0.00")
    assert reading.input_value() == "13.96"
    phone.tap("That is the last reading")
    assert phone.book.rows(FILL) == [(12.10, 13.96)]

    # What was typed is left alone, and pouring on empties what came from the scale.
    phone.page.go_back()
    scale.prints("ST,GS,+00014.00  g")
    _seen(phone, ".live", "14.00")
    reading.fill("")
    phone.page.keyboard.type("13.97")
    scale.prints("ST,GS,+00014.02  g")
    _seen(phone, ".live", "14.02")
    assert reading.input_value() == "13.97"
    phone.tap("Take 14.02 g")
    assert reading.input_value() == "14.02"
    scale.prints("US,GS,+00014.05  g")
    phone.page.wait_for_function("() => document.querySelector('input[name=reading]').value === ''")

    scale.pull_out()
    _seen(phone, ".from-scale", "not plugged in")
    assert not phone.page.locator(".take").first.is_visible()
    scale.plug_in()
    _seen(phone, ".from-scale", "Nothing came from the scale yet.")
