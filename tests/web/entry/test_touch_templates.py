"""What the templates and the style sheet of entry keep to, in every page that there is."""

from __future__ import annotations

import re
from importlib.resources import files

import pytest
from web.entry.conftest import PairedSite

WEB = files("bevelbook.web")
TEMPLATES = {
    one.name: one.read_text(encoding="utf-8")
    for one in WEB.joinpath("templates").iterdir()
    if one.name.startswith(("bevelbook_enter_", "bevelbook_step", "bevelbook_entry"))
}


@pytest.mark.parametrize("name", sorted(TEMPLATES))
def test_a_choice_is_not_put_back_by_the_browser_in_the_place_of_another(name: str) -> None:
    inputs = re.findall(r"<input\b[^>]*type=\"(?:radio|checkbox)\"[^>]*>", TEMPLATES[name])
    assert [one for one in inputs if 'autocomplete="off"' not in one] == []


@pytest.mark.parametrize("name", sorted(TEMPLATES))
def test_no_page_holds_a_script_of_its_own(name: str) -> None:
    assert not re.search(r"<script(?![^>]*\bsrc=)|\son[a-z]+=|javascript:", TEMPLATES[name])


def test_nothing_is_pinned_to_an_edge_of_the_screen() -> None:
    style = WEB.joinpath("static/bevelbook.css").read_text(encoding="utf-8")
    start = style.index("/* Entry:")
    entry = style[start : style.index("/* On paper */", start)]
    assert not re.search(r"position:\s*(fixed|sticky|absolute)", entry)


def test_a_choice_that_is_needed_is_marked_so_that_a_second_touch_keeps_it(paired_site: PairedSite) -> None:
    page = paired_site.page("/team/-/enter/weigh")
    assert re.search(r'<fieldset [^>]*id="field-build"[^>]* data-needed', page)
    page = paired_site.page("/team/-/enter/bench?diff=rear-a")
    assert re.search(r'<fieldset [^>]*id="field-kind"[^>]* data-needed', page)
