"""The pages of the bench screens: each draws, and takes whatever text is typed in any of its fields."""

from __future__ import annotations

import re

import pytest
from browser_team import HOSTILE
from web.entry.conftest import PairedSite, words

from bevelbook.store.ids import new_id

KEYS = (
    "weigh-closed-before",
    "look-where-wet",
    "open",
    "note-what-is-found",
    "lay-out-and-count",
    "seals",
    "shims",
    "weigh-dry",
    "weigh-closed-after",
)
TEXT = f"{HOSTILE[:160]}\x00"


@pytest.fixture
def screens(paired_site: PairedSite) -> str:
    """The address of the job of a rebuild of rear-a."""
    typed = {"key": new_id(), "diff": "rear-a", "kind": "rebuild", "way": "step by step"}
    answer = paired_site.post("/team/-/enter/bench", typed)
    assert answer.status_code == 303, words(answer.text)
    return str(answer.headers["location"]).partition("?")[0].rpartition("/")[0]


def test_every_screen_draws_and_hostile_text_in_any_field_comes_back_as_text(
    paired_site: PairedSite, screens: str
) -> None:
    for key in KEYS:
        page = paired_site.page(f"{screens}/{key}")
        assert page.count("<h1") == 1, key
        form = page[page.index('class="entry-form"') :].partition("</form>")[0]
        unseen = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', form))
        names = set(re.findall(r'<(?:input|textarea|select|button)[^>]* name="([^"]+)"', form)) - unseen.keys()
        answer = paired_site.post(f"{screens}/{key}", {**unseen, **dict.fromkeys(names, TEXT)})
        assert answer.status_code == 400, (key, answer.status_code, words(answer.text)[:500])
        assert "&lt;script&gt;document" in answer.text, key
        assert "<script>document" not in answer.text, key
        assert "<img src=x" not in answer.text, key
    assert paired_site.rows("SELECT count(*) FROM builds") == [(5,)]


_BUTTON = re.compile(r'<button class="(?:next|other)" name="([^"]+)" value="([^"]*)"')
_CHOICE = re.compile(r'<input type="radio"[^>]* name="([^"]+)" value="([^"]+)"( checked)?')


def test_no_button_overrides_what_was_chosen_beside_it(paired_site: PairedSite, screens: str) -> None:
    """Of each choice of each screen something that is not drawn as chosen is chosen, and each button touched with it:
    it is kept, or the button is asked about with it still chosen."""
    walked = 0
    for key in ("look-where-wet", "note-what-is-found", "lay-out-and-count", "seals", "draw-bubbles", "rest-on-paper"):
        for name, value in set(_BUTTON.findall(paired_site.page(f"{screens}/{key}"))):
            page = paired_site.page(f"{screens}/{key}")
            given: dict[str, str] = {}
            drawn: set[str] = set()
            for field, choice, checked in _CHOICE.findall(page):
                drawn |= {field} if checked else set()
                # How the seal was that comes out is kept with the opening, for all places together.
                given |= {} if checked or field.endswith(".judged") else {field: choice}
            typed = {"key": new_id(), **given, name: value}
            answer = paired_site.post(f"{screens}/{key}", typed)
            assert answer.status_code in (303, 400), (key, name, answer.status_code)
            shown = answer.text if answer.status_code == 400 else paired_site.page(f"{screens}/{key}")
            kept = {(field, choice) for field, choice, checked in _CHOICE.findall(shown) if checked}
            assert set(given.items()) <= kept, (key, name, set(given.items()) - kept, words(shown)[:400])
            walked += 1
    assert walked >= 8


def test_a_mass_without_its_point_is_asked_about_and_kept(paired_site: PairedSite, screens: str) -> None:
    answer = paired_site.post(f"{screens}/weigh-closed-before", {"key": new_id(), "mass_g": "2238"})
    assert answer.status_code == 400
    assert 'value="2238"' in answer.text
    assert "Is that right?" in words(answer.text)
    assert paired_site.rows("SELECT count(*) FROM weighings WHERE mass_g > 1000") == [(0,)]
